import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Operation, operations } from '../fuzz/support/operations.js';
import { TestPlant } from '../support/plant.js';
import { furnish } from '../support/scenario.js';
import { exchange, exchangeText, portOf } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

/** Other spellings of an address, under which a guard and what it guards might disagree. */
function spellings(path: string): string[] {
  const steps = path.split('/').slice(1);
  const last = steps.at(-1) ?? '';
  const before = `/${steps.slice(0, -1).join('/')}`;
  const escaped = [...last].map((c) => `%${c.charCodeAt(0).toString(16)}`).join('');
  return [
    `${path}/`,
    `/${path}`,
    path.replaceAll('/', '//'),
    path.toUpperCase(),
    path.replace('/v1', '/V1'),
    path.replace('/v1', '/%76%31'),
    path.replace('/v1', '/v1/.'),
    path.replace('/v1', '/x/../v1'),
    path.replace('/v1', '/health/%2e%2e/v1'),
    path.replace('/v1', '/problems/..%2fv1'),
    path.replace('/v1', '/assets/..%2f..%2fv1'),
    path.replace('/v1', '/v1;x=1'),
    path.replaceAll('/', '%2f').replace('%2f', '/'),
    path.replaceAll('/', '%252f').replace('%252f', '/'),
    path.replaceAll('/', '\\').replace('\\', '/'),
    `${before}/${escaped}`,
    `${before}/%2e/${last}`,
    `${path}%00`,
    `${path}%20`,
    `${path}.json`,
    `${path};jsessionid=1`,
    `${path}%3f`,
    `${path}%23`,
  ];
}

const simple = operations.filter((one) => one.method === 'get' && !one.path.includes('{'));
const named = simple.map((one): [string, Operation] => [one.path, one]);

describe('another spelling of an address (API5, API8)', () => {
  it.each(named)('of %s gives nothing away without a key', async (path) => {
    for (const spelling of spellings(path)) {
      const { status, text } = await exchange(plant, { path: spelling });
      expect([400, 401, 404, 429], `${spelling}: ${status} ${text}`).toContain(status);
    }
  });

  it.each(named)('of %s is not that address, also with a key', async (path, { roles }) => {
    const as = roles === 'any' ? 'read' : (roles[0] ?? '');
    const own = await exchange(plant, { path, as });
    for (const spelling of spellings(path)) {
      const { status, text } = await exchange(plant, { path: spelling, as });
      // An address that ends in a parameter may take the odd step as its value, and find nothing.
      expect([400, 404], `${spelling}: ${status} ${text}`).toContain(status);
    }
    expect([200, 400]).toContain(own.status);
  });

  it('leads out of no folder of what browsers load', async () => {
    const outside = [
      '/assets/../package.json',
      '/assets/..%2fpackage.json',
      '/assets/%2e%2e/%2e%2e/package.json',
      '/assets/..%5c..%5cpackage.json',
      '/assets/....//package.json',
      '/assets/%252e%252e%252fpackage.json',
      '/assets//etc/passwd',
      '/assets/C:/x',
      '/assets/%00',
      '/problems/..%2f..%2fpackage.json',
      '/../skeg.db',
    ];
    for (const path of outside) {
      const { status, text } = await exchange(plant, { path });
      expect([400, 404], path).toContain(status);
      expect(text).not.toContain('devDependencies');
    }
  });
});

describe('request targets that are no path', () => {
  const send = (line: string, key?: string) => {
    const authorization = key ? `Authorization: Bearer ${plant.tokens.get(key)}\r\n` : '';
    return exchangeText(
      portOf(plant),
      `${line} HTTP/1.1\r\nHost: x\r\n${authorization}Connection: close\r\n\r\n`,
    );
  };

  it('an absolute one is guarded like its path (RFC 9112, 3.2.2)', async () => {
    const target = 'http://elsewhere.example/v1/part-classes';
    expect(await send(`GET ${target}`)).toMatch(/^HTTP\/1\.1 (401|429) /);
    expect(await send(`GET ${target}`, 'read')).toMatch(/^HTTP\/1\.1 (200|404) /);
  });

  it.each(['OPTIONS *', 'GET *', 'GET ?x', 'GET http://', 'GET //', 'GET /..', 'GET %', 'GET #'])(
    '%s is refused and harms nobody',
    async (line) => {
      expect(await send(line)).toMatch(/^HTTP\/1\.1 4\d\d /);
      expect((await exchange(plant, { path: '/health/live' })).status).toBe(200);
    },
  );

  it('CONNECT makes no tunnel (RFC 9110, 9.3.6)', async () => {
    expect(await send('CONNECT 127.0.0.1:22')).not.toMatch(/^HTTP\/1\.1 2/);
    expect((await exchange(plant, { path: '/health/live' })).status).toBe(200);
  });

  it('an address of megabytes is refused before it is read', async () => {
    const { status } = await exchange(plant, { path: `/v1/units?class=${'x'.repeat(15_000)}` });
    expect([401, 429]).toContain(status);
    const answer = await send(`GET /${'x'.repeat(1_000_000)}`).catch(
      (error: Error) => error.message,
    );
    // Whoever goes on writing after the answer may see the connection break before it.
    expect(answer).toMatch(/^HTTP\/1\.1 431 |ECONNRESET|EPIPE/);
  });
});
