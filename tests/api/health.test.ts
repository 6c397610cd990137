import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { makeDocument } from '../../src/http/document.js';
import { routes } from '../../src/routes.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish } from '../support/scenario.js';
import { exchange, posting } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

/** The value of a sample in the exposition format, 0 where it is not there. */
async function sample(name: string): Promise<number> {
  const { text } = await exchange(plant, { path: '/metrics' });
  const line = text.split('\n').find((one) => one.startsWith(`${name} `));
  return Number(line?.split(' ').at(-1) ?? 0);
}

describe('health', () => {
  it('is told without a key', async () => {
    const live = await exchange(plant, { path: '/health/live' });
    expect([live.status, live.body]).toEqual([200, { live: true }]);
    const ready = await exchange(plant, { path: '/health/ready' });
    expect([ready.status, ready.body]).toEqual([200, { ready: true }]);
  });
});

describe('a request and its answer', () => {
  it('are born as what Express makes of them, so that nothing is left to make', async () => {
    const seen: { born: object; message: object }[] = [];
    const look = (...messages: object[]) => {
      for (const message of messages) seen.push({ born: Object.getPrototypeOf(message), message });
    };
    plant.service.server.prependListener('request', look);
    await exchange(plant, { path: '/health/live' });
    plant.service.server.removeListener('request', look);
    expect(seen.map(({ message }) => 'app' in message)).toEqual([true, true]);
    for (const { born, message } of seen) expect(Object.getPrototypeOf(message)).toBe(born);
  });
});

describe('metrics', () => {
  it('are in the exposition format', async () => {
    const answer = await exchange(plant, { path: '/metrics' });
    expect(answer.headers['content-type']).toMatch(/^text\/plain; version=0\.0\.4/);
    for (const name of [
      'skeg_http_request_seconds',
      'skeg_commit_commands',
      'skeg_problems_total',
    ]) {
      expect(answer.text).toContain(`# TYPE ${name} `);
    }
  });

  it('count a refusal of a command as well as one of its form, by its type', async () => {
    const name = (slug: string) => `skeg_problems_total{type="${slug}"}`;
    const before = [await sample(name('serial-unknown')), await sample(name('request-invalid'))];
    const body = { class: 'powerhead', unit: 'NOBODY', cause: 'quality', reason: 'x' };
    await exchange(plant, posting('set', '/v1/holds', body));
    await exchange(plant, posting('set', '/v1/holds', {}));
    const after = [await sample(name('serial-unknown')), await sample(name('request-invalid'))];
    expect(after).toEqual(before.map((one) => one + 1));
  });

  it('count commits, and requests by the route’s pattern: no serial is a label', async () => {
    const commits = await sample('skeg_commit_commands_count');
    const powerhead = await enter(plant, 'powerhead');
    expect(await sample('skeg_commit_commands_count')).toBe(commits + 1);
    await exchange(plant, { path: `/v1/history?serial=${powerhead}`, as: 'read' });
    await exchange(plant, { path: `/v1/orders/${powerhead}`, as: 'read' });
    await exchange(plant, { path: `/v1/${powerhead}`, as: 'read' });
    const { text } = await exchange(plant, { path: '/metrics' });
    expect(text).not.toContain(powerhead);
    expect(text).toContain('route="/v1/orders/:order",status="404"');
    expect(text).toContain('route="unmatched",status="404"');
  });

  it('tell the size of the write-ahead log and the waiting commands', async () => {
    expect(await sample('skeg_write_ahead_log_bytes')).toBeGreaterThan(0);
    expect(await sample('skeg_waiting_commands')).toBe(0);
  });
});

describe('the API document', () => {
  it('is served as JSON and YAML, the same', async () => {
    const json = await exchange(plant, { path: '/openapi.json' });
    const yaml = await exchange(plant, { path: '/openapi.yaml' });
    expect(yaml.headers['content-type']).toMatch(/^application\/yaml/);
    expect(parse(yaml.text)).toEqual(json.body);
    expect(json.body).toEqual(JSON.parse(JSON.stringify(makeDocument(routes))));
  });
});
