import { connect, type Socket } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish } from '../support/scenario.js';
import { exchange, portOf, posting } from '../support/wire.js';

const token = () => plant.tokens.get('set') ?? '';

let plant: TestPlant;
const open: Socket[] = [];
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
  // Half a second in place of the half minute, so that the tests need not wait for it.
  Object.assign(plant.service.server, { headersTimeout: 300, requestTimeout: 600 });
});
afterAll(async () => {
  for (const socket of open) socket.destroy();
  await plant.stop();
});

interface Cut {
  answer: string;
  afterMs: number;
}

/** Sends a beginning, and then a byte now and again, until the server hangs up. */
function dribble(beginning: string, more: string, everyMs = 50): Promise<Cut> {
  const began = performance.now();
  return new Promise((resolve) => {
    const socket = connect(portOf(plant), '127.0.0.1', () => socket.write(beginning));
    open.push(socket);
    let answer = '';
    let at = 0;
    const timer = setInterval(() => {
      socket.write(more[at % more.length] ?? '');
      at += 1;
    }, everyMs);
    socket.setEncoding('latin1');
    socket.on('data', (part: string) => {
      answer += part;
    });
    // Writing to a connection that is closed fails, which is what is waited for.
    socket.on('error', () => {});
    socket.on('close', () => {
      clearInterval(timer);
      resolve({ answer, afterMs: performance.now() - began });
    });
  });
}

const head = (more: string) =>
  `POST /v1/holds HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer ${token()}\r\n` +
  `Idempotency-Key: slow\r\nContent-Type: application/json\r\n${more}`;

describe('a slow client (API4)', () => {
  it('has half a minute for a request and ten seconds for its head, unless a test says less', async () => {
    const own = await TestPlant.start();
    const { headersTimeout, requestTimeout, keepAliveTimeout } = own.service.server;
    expect(headersTimeout).toBeLessThanOrEqual(10_000);
    expect(requestTimeout).toBeLessThanOrEqual(30_000);
    expect(keepAliveTimeout).toBeLessThanOrEqual(90_000);
    await own.stop();
  });

  it.concurrent.each([
    ['nothing at all', '', ''],
    ['a head that never ends', 'GET /v1/units HTTP/1.1\r\n', 'X-A: b\r\n'],
    ['one header that never ends', 'GET /v1/units HTTP/1.1\r\nX-A: ', 'x'],
    ['a body that never comes', () => head('Content-Length: 100\r\n\r\n'), ''],
    ['a body that dribbles', () => head('Content-Length: 50000\r\n\r\n{"'), ' '],
    ['chunks that dribble', () => head('Transfer-Encoding: chunked\r\n\r\n'), '1\r\nx\r\n'],
  ] as [string, string | (() => string), string][])(
    'is cut off that sends %s',
    async (_name, beginning, more) => {
      const before = plant.eventCount();
      const text = typeof beginning === 'string' ? beginning : beginning();
      const { answer, afterMs } = await dribble(text, more);
      expect(afterMs).toBeLessThan(8000);
      if (answer !== '') expect(answer).toMatch(/^HTTP\/1\.1 (408|400) /);
      expect(plant.eventCount()).toBe(before);
    },
  );

  it('does not keep others waiting, nor do three hundred of them', async () => {
    const crowd = Array.from({ length: 300 }, (_, i) =>
      dribble(
        i % 2 === 0 ? 'GET / HTTP/1.1\r\nX-A: ' : head('Content-Length: 9999\r\n\r\n'),
        'x',
        100,
      ),
    );
    let slowest = 0;
    for (let i = 0; i < 20; i += 1) {
      const began = performance.now();
      const hold = { class: 'powerhead', unit: 'NOBODY', cause: 'quality', reason: 'x' };
      const { status } = await exchange(plant, posting('set', '/v1/holds', hold));
      expect(status).toBe(404);
      slowest = Math.max(slowest, performance.now() - began);
    }
    expect(slowest).toBeLessThan(3000);
    for (const { afterMs } of await Promise.all(crowd)) expect(afterMs).toBeLessThan(10_000);
  });

  it('that breaks off in the middle leaves nothing behind', async () => {
    const before = plant.eventCount();
    const hold = JSON.stringify({ class: 'powerhead', unit: 'P1', cause: 'x', reason: 'y' });
    for (let length = 0; length < hold.length; length += 7) {
      await new Promise<void>((resolve) => {
        const text = head(`Content-Length: ${hold.length}\r\n\r\n`) + hold.slice(0, length);
        const socket = connect(portOf(plant), '127.0.0.1', () =>
          socket.end(text, () => socket.destroy()),
        );
        socket.on('error', () => {});
        socket.on('close', () => resolve());
      });
    }
    expect((await exchange(plant, { path: '/v1/holds', as: 'read' })).body.items).toEqual([]);
    expect(plant.eventCount()).toBe(before);
    expect(plant.logLines.filter((line) => line.includes('"level":50'))).toEqual([]);
  });
});
