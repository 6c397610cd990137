import { createServer } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { operations } from '../fuzz/support/operations.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish } from '../support/scenario.js';
import { commandHeaders, exchange, posting } from '../support/wire.js';
import { sourceFiles } from './support/patterns.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

const answersOfEveryKind = () => [
  { path: '/v1/units', as: 'read' },
  { path: '/v1/units', as: 'read', headers: { Accept: 'text/csv' } },
  { path: '/v1/units' },
  { path: '/v1/units?colour=red', as: 'read' },
  { path: '/v1/keys', as: 'read' },
  { path: '/v1/nothing', as: 'read' },
  { method: 'DELETE', path: '/v1/units', as: 'read' },
  posting('set', '/v1/holds', '{'),
  posting('set', '/v1/holds', 'x'.repeat(100_000)),
  { path: '/health/live' },
  { path: '/openapi.json' },
  { path: '/problems' },
  { path: '/sign-in' },
  { path: '/' },
];

describe('what every answer has and has not (API8)', () => {
  it('tells no browser to guess, load or frame, and nobody which software answers', async () => {
    for (const sent of answersOfEveryKind()) {
      const { headers } = await exchange(plant, sent);
      const told = JSON.stringify([sent.path, headers]);
      expect(headers['x-content-type-options'], told).toBe('nosniff');
      expect(headers['content-security-policy'], told).toContain("default-src 'none'");
      expect(headers['content-security-policy'], told).toContain("frame-ancestors 'none'");
      expect(headers['referrer-policy'], told).toBeDefined();
      for (const name of ['x-powered-by', 'server', 'access-control-allow-origin', 'x-aspnet']) {
        expect(headers[name], told).toBeUndefined();
      }
    }
  });

  it('keeps what is behind a key out of every cache', async () => {
    for (const sent of answersOfEveryKind().filter(({ path }) => path.startsWith('/v1'))) {
      const { headers } = await exchange(plant, sent);
      expect(headers['cache-control'], sent.path).toBe('no-store');
    }
  });

  it('gives no page of another origin leave to read it', async () => {
    const headers = {
      Origin: 'https://elsewhere.example',
      'Access-Control-Request-Method': 'POST',
      'Access-Control-Request-Headers': 'authorization',
    };
    for (const method of ['OPTIONS', 'GET']) {
      const answer = await exchange(plant, { method, path: '/v1/units', as: 'read', headers });
      const allowed = Object.keys(answer.headers).filter((one) => one.startsWith('access-control'));
      expect(allowed).toEqual([]);
    }
  });

  it('echoes no request: TRACE is refused (RFC 9110, 9.3.8)', async () => {
    const headers = { 'X-Secret': 'mine' };
    const answer = await exchange(plant, {
      method: 'TRACE',
      path: '/v1/units',
      as: 'read',
      headers,
    });
    expect(answer.status).toBe(405);
    expect(answer.text).not.toContain('mine');
  });

  it('a fault of its own tells nothing of its inside', async () => {
    const { store } = plant.service;
    const command = store.command;
    store.command = () =>
      Promise.reject(new Error('secret at /srv/skeg/store.ts: SELECT * FROM x'));
    const answer = await exchange(
      plant,
      posting('configuration', '/v1/part-classes', {
        code: 'a',
        name: 'A',
      }),
    );
    store.command = command;
    expect(answer.status).toBe(500);
    expect(answer.body).toEqual({
      type: '/problems/internal-error',
      title: 'Something went wrong here',
      status: 500,
      detail: 'Something went wrong here; it is logged.',
    });
    const logged = plant.logLines.find((line) => line.includes('secret at'));
    expect(JSON.parse(logged ?? '{}')).toMatchObject({ requestId: answer.headers['x-request-id'] });
  });
});

describe('what is there to be found (API9)', () => {
  /** Open to everybody, and why stands in README.md. */
  const open = [
    '/health/live',
    '/health/ready',
    '/metrics',
    '/openapi.json',
    '/openapi.yaml',
    '/problems',
  ];

  it('is what the document lists, and a few addresses that everybody may read', async () => {
    for (const path of open) {
      const { status, text } = await exchange(plant, { path });
      expect(status).toBe(200);
      // Not which units, keys or people there are.
      expect(text).not.toMatch(/PH-100|read key|skeg_\d/);
    }
  });

  it.each([
    ...[
      '/v0/units',
      '/v2/units',
      '/api/v1/units',
      '/v1beta/units',
      '/internal',
      '/admin',
      '/debug',
    ],
    ...[
      '/.git/config',
      '/.env',
      '/skeg.db',
      '/data/skeg.db',
      '/backup',
      '/package.json',
      '/swagger',
    ],
    ...['/docs', '/graphql', '/actuator/env', '/server-status', '/node_modules/', '/src/app.ts'],
    ...['/dist/src/main.js', '/robots.txt', '/.well-known/security.txt', '/metrics/', '/health/'],
  ])('nothing is at %s', async (path) => {
    for (const as of [undefined, 'admin']) {
      const { status } = await exchange(plant, { path, ...(as ? { as } : {}) });
      expect(status).toBe(404);
    }
  });

  it('no operation of the document is a remnant: each is served', async () => {
    for (const { method, path } of operations) {
      const sent = { method: method.toUpperCase(), path: path.replaceAll(/\{\w+\}/g, '999999') };
      const headers = commandHeaders({ 'If-Match': '"v1"' });
      const { body } = await exchange(plant, { ...sent, as: 'admin', headers });
      expect(['/problems/route-unknown', '/problems/method-not-allowed']).not.toContain(body.type);
    }
  });
});

describe('what the service itself asks of others (API7, API10)', () => {
  it('is nothing: no source of it opens a connection', () => {
    const served = sourceFiles().filter(({ name }) => !name.includes('pages/scripts'));
    // A type is no connection.
    const code = served.map(({ name, text }) => ({
      name,
      text: text.replaceAll(/^import type .*$/gm, ''),
    }));
    const outbound = /\bfetch\(|'node:(https|net|tls|dgram|dns)'|undici|\bhttp\.(get|request)\b/;
    expect(code.filter(({ text }) => outbound.test(text)).map((one) => one.name)).toEqual([]);
    const http = served.filter(({ text }) => text.includes("from 'node:http'"));
    for (const { text } of http) {
      expect(text).toMatch(
        /import \{ (STATUS_CODES|createServer, type Server|IncomingMessage, ServerResponse) \} from 'node:http'/,
      );
    }
    const programs = served.filter(({ text }) =>
      /child_process|\beval\(|new Function\(/.test(text),
    );
    // The browser that prints, which is let resolve no name (see argumentsFor there).
    expect(programs.map((one) => one.name)).toEqual(['src/report/printer.ts']);
    expect(programs[0]?.text).toContain('--host-resolver-rules=MAP * ~NOTFOUND');
    expect(programs[0]?.text).not.toMatch(/\bexec\(|shell:/);
  });

  it('is nothing when a scan, a link or a header names an address', async () => {
    let connections = 0;
    const trap = createServer((socket) => {
      connections += 1;
      socket.destroy();
    });
    await new Promise<void>((resolve) => trap.listen(0, '127.0.0.1', resolve));
    const address = trap.address();
    const port = typeof address === 'object' ? address?.port : 0;
    // A GTIN of the prefix 952 that GS1 keeps for examples.
    const link = `http://127.0.0.1:${port}/01/09521234543213/21/P1`;
    const unit = await enter(plant, 'powerhead');
    const hold = { class: 'powerhead', unit, cause: 'quality', reason: link };
    await exchange(plant, posting('set', '/v1/holds', hold));
    await exchange(plant, posting('set', '/v1/holds', { ...hold, unit: link }));
    await exchange(plant, { path: `/v1/history?serial=${encodeURIComponent(link)}`, as: 'read' });
    await exchange(plant, { path: `/v1/units?after=${encodeURIComponent(link)}`, as: 'read' });
    const headers = {
      Host: `127.0.0.1:${port}`,
      Referer: link,
      Origin: link,
      'X-Forwarded-Host': link,
    };
    await exchange(plant, { path: '/v1/units', as: 'read', headers });
    await new Promise((resolve) => setTimeout(resolve, 50));
    expect(connections).toBe(0);
    trap.close();
  });
});
