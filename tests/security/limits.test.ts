import { brotliCompressSync, constants, deflateSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { computing } from '../fuzz/support/bytes.js';
import { type Operation, operations } from '../fuzz/support/operations.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, openRun, setMotor } from '../support/scenario.js';
import {
  commandHeaders,
  exchange,
  exchangeText,
  portOf,
  posting,
  refused,
  type WireAnswer,
} from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

const keyOf = ({ roles }: Operation) => (roles === 'any' ? 'read' : (roles[0] ?? 'read'));
const pathOf = ({ path }: Operation) => path.replaceAll(/\{\w+\}/g, '1');
const named = (some: readonly Operation[]) =>
  some.map((one): [string, Operation] => [one.name, one]);

const paged = operations.filter((one) => one.parameters.some(({ name }) => name === 'limit'));
const withBody = operations.filter((one) => one.body);

function send(operation: Operation, body: Buffer | string, more: Record<string, string> = {}) {
  const type = { 'Content-Type': operation.body?.media ?? '' };
  const headers = commandHeaders({ 'If-Match': '"v1"', ...type, ...more });
  const method = operation.method.toUpperCase();
  return exchange(plant, { method, path: pathOf(operation), as: keyOf(operation), headers, body });
}

describe('how much may be asked for at once (API4)', () => {
  it.each(named(paged))('%s gives a thousand rows at the most', async (_name, operation) => {
    const as = keyOf(operation);
    for (const limit of ['1001', '999999999', '0', '-1', '1e3', '0x10', ' 1', '']) {
      const path = `${pathOf(operation)}?limit=${encodeURIComponent(limit)}`;
      const { body } = await refused(plant, { path, as }, 400, 'request-invalid');
      const told = (body.errors as { parameter: string }[]).map((one) => one.parameter);
      expect(told).toContain('limit');
    }
  });

  it('every answer that is a list of rows without an end is paged', () => {
    // Lists that are bounded by what they are about: seventeen figures, not a history.
    const unpaged = operations.filter((one) => one.method === 'get' && !paged.includes(one));
    for (const { path } of unpaged) expect(path).not.toMatch(/units$|events$|runs$|orders$|holds$/);
  });
});

describe('how much may be sent at once (API4)', () => {
  it.each(named(withBody))('%s takes no byte more than it says', async (_name, operation) => {
    expect(operation.bodyLimit).toBeGreaterThan(0);
    expect(operation.bodyLimit).toBeLessThanOrEqual(2 * 1024 * 1024);
    const most = Buffer.alloc(operation.bodyLimit + 1, ' ');
    expect((await send(operation, most)).status).toBe(413);
    // Blanks alone are no JSON, and no file: within the limit they are read, and refused for that.
    expect([400, 422]).toContain((await send(operation, most.subarray(1))).status);
  });

  it('a body that says it is immense is refused before it comes', async () => {
    const headers = commandHeaders({ 'Content-Length': '99999999999' });
    const sent = { method: 'POST', path: '/v1/holds', as: 'set', headers, body: '{}' };
    const answer = await Promise.race([
      exchange(plant, sent).then(
        (one) => one.status,
        () => 'closed',
      ),
      new Promise((resolve) => setTimeout(resolve, 5000, 'waits')),
    ]);
    expect([413, 'closed']).toContain(answer);
  });

  const bombs: [string, () => Buffer][] = [
    ['gzip', () => gzipSync(Buffer.alloc(200 * 1024 * 1024), { level: 9 })],
    ['deflate', () => deflateSync(Buffer.alloc(200 * 1024 * 1024), { level: 9 })],
    [
      'br',
      () =>
        brotliCompressSync(Buffer.alloc(200 * 1024 * 1024), {
          params: { [constants.BROTLI_PARAM_QUALITY]: 5 },
        }),
    ],
  ];
  it.each(bombs)('what unpacks to 200 MiB by %s is not unpacked', async (coding, make) => {
    const bomb = make();
    const operation = withBody.find((one) => one.path === '/v1/where-used') as Operation;
    expect(bomb.length).toBeLessThan(operation.bodyLimit);
    let answer: WireAnswer | undefined;
    const memory = process.memoryUsage().rss;
    const spent = await computing(async () => {
      answer = await send(operation, bomb, { 'Content-Encoding': coding });
    });
    expect(answer?.status).toBe(413);
    // Unpacking it whole takes several times as much of either.
    expect(process.memoryUsage().rss - memory).toBeLessThan(80 * 1024 * 1024);
    expect(spent).toBeLessThan(400);
  });

  it('codings inside codings are not taken at all', async () => {
    const twice = gzipSync(gzipSync('{}'));
    const headers = { 'Content-Encoding': 'gzip, gzip' };
    await refused(
      plant,
      posting('set', '/v1/holds', twice, headers),
      415,
      'media-type-unsupported',
    );
  });
});

describe('how deep and how long a body may be (API4)', () => {
  const nest = (depth: number, open: string, inner: string, close: string) =>
    `{"where":${open.repeat(depth)}${inner}${close.repeat(depth)}}`;
  const leaf = '{"model":"F100L"}';

  it.each([
    ['a condition inside a hundred', nest(100, '{"not":', leaf, '}')],
    ['a condition inside a hundred thousand', nest(100_000, '{"not":', leaf, '}')],
    ['a condition in lists inside each other', nest(50_000, '{"all":[', leaf, ']}')],
    [
      'a hundred thousand conditions side by side',
      `{"where":{"any":[${`${leaf},`.repeat(50_000)}${leaf}]}}`,
    ],
    ['lists alone', nest(400_000, '[', '', ']')],
    ['a list of a hundred thousand numbers', `{"where":{"any":[${'1,'.repeat(100_000)}1]}}`],
    ['a number of a hundred thousand digits', `{"where":${'9'.repeat(100_000)}}`],
    ['a hundred thousand members', `{${Array.from({ length: 60_000 }, (_, i) => `"m${i}":0`)}}`],
    ['the same member again and again', `{${'"where":1,'.repeat(90_000)}"where":1}`],
  ])('%s is refused in good time', async (_name, text) => {
    expect(text.length).toBeLessThan(1024 * 1024);
    let answer: WireAnswer | undefined;
    const spent = await computing(async () => {
      answer = await exchange(plant, posting('read', '/v1/where-used', text));
    });
    expect(answer?.status, answer?.text.slice(0, 300)).toBe(400);
    expect(answer?.text.length).toBeLessThan(20_000);
    expect(spent).toBeLessThan(3000);
  });

  it('a run holds ten thousand readings, over however many batches', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor);
    const reading = { code: 'idle-speed', value: 650 };
    const batch = (sequence: number, count: number) =>
      posting('cell', `/v1/runs/${run}/batches`, {
        sequence,
        readings: Array.from({ length: count }, () => reading),
      });
    expect((await exchange(plant, batch(1, 6000))).status).toBe(200);
    await refused(plant, batch(2, 6000), 422, 'too-many-readings');
    await refused(plant, batch(2, 10_001), 400, 'request-invalid');
    expect((await exchange(plant, batch(2, 4000))).status).toBe(200);
    await refused(plant, batch(3, 1), 422, 'too-many-readings');
  });
});

describe('how much may wait (API4)', () => {
  it('long questions past the queue are turned away, and scans do not wait for the rest', async () => {
    // All at once in one connection, so that none is answered before the last has come.
    const line = 'GET /v1/rework/loops-per-motor HTTP/1.1\r\nHost: x\r\n';
    const ask = `${line}Authorization: Bearer ${plant.tokens.get('read')}\r\n`;
    const crowd = exchangeText(
      portOf(plant),
      `${`${ask}\r\n`.repeat(79)}${ask}Connection: close\r\n\r\n`,
    );
    const unit = await enter(plant, 'powerhead');
    const hold = { class: 'powerhead', unit, cause: 'quality', reason: 'x' };
    const began = performance.now();
    expect((await exchange(plant, posting('set', '/v1/holds', hold))).status).toBe(201);
    expect(performance.now() - began).toBeLessThan(3000);
    const text = await crowd;
    const statuses = [...text.matchAll(/HTTP\/1\.1 (\d{3})/g)].map(([, status]) => Number(status));
    expect(statuses).toHaveLength(80);
    expect(new Set(statuses)).toEqual(new Set([200, 503]));
    expect(statuses.filter((one) => one === 200).length).toBeGreaterThan(10);
    expect(text.match(/^Retry-After: \d+/gm)?.length).toBe(
      statuses.filter((one) => one === 503).length,
    );
    expect(text).toContain('/problems/overloaded');
  });
});
