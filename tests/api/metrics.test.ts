import { randomUUID } from 'node:crypto';
import { statSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { expressPath } from '../../src/http/mount.js';
import { screens } from '../../src/pages/routes.js';
import { routes } from '../../src/routes.js';
import { backupDatabase } from '../../src/store/backup.js';
import { StorageError } from '../../src/store/errors.js';
import { openReader } from '../../src/store/open.js';
import { TestPlant } from '../support/plant.js';
import { enter, failedMotor, furnish, hold, runMotor, setMotor } from '../support/scenario.js';
import { exchange, exchangeText, portOf, posting, secretOf } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  // No sweep of housekeeping, whose commits would be counted beside those of the tests.
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  plant = await TestPlant.start();
  vi.useRealTimers();
  await furnish(plant);
});
afterAll(() => plant.stop());

const scrape = async () => (await exchange(plant, { path: '/metrics' })).text;

/** Every sample of an exposition (Prometheus text format 0.0.4), by its name and labels. */
function samplesOf(text: string): ReadonlyMap<string, number> {
  const lines = text.split('\n').filter((line) => line !== '' && !line.startsWith('#'));
  return new Map(
    lines.map((line) => {
      const space = line.lastIndexOf(' ');
      return [line.slice(0, space), Number(line.slice(space + 1))];
    }),
  );
}
const samples = async () => samplesOf(await scrape());

/** By how much each of some samples grew while something was done. */
async function growth(names: readonly string[], work: () => Promise<unknown>): Promise<number[]> {
  const before = await samples();
  await work();
  const after = await samples();
  return names.map((name) => (after.get(name) ?? 0) - (before.get(name) ?? 0));
}

/** Whatever the store is asked to do meanwhile fails of this. */
async function failingWith(error: Error, work: () => Promise<unknown>): Promise<void> {
  const { store } = plant.service;
  const original = store.command;
  store.command = () => Promise.reject(error);
  await work();
  store.command = original;
}

const CLASSES = '/v1/part-classes';
const adding = (code: string, key: string = randomUUID()) =>
  posting('configuration', CLASSES, { code, name: code }, { 'Idempotency-Key': key });
const add = (code: string, key?: string) => exchange(plant, adding(code, key));

describe('the metrics', () => {
  it('are these, each with its help', async () => {
    const text = await scrape();
    const told = [...text.matchAll(/^# HELP (skeg_\w+) (.+)$/gm)].map((line) => line[1]);
    const typed = [...text.matchAll(/^# TYPE (skeg_\w+) (\w+)$/gm)].map((line) => [
      line[1],
      line[2],
    ]);
    expect(Object.fromEntries(typed)).toEqual({
      skeg_http_request_seconds: 'histogram',
      skeg_commit_commands: 'histogram',
      skeg_commit_seconds: 'histogram',
      skeg_problems_total: 'counter',
      skeg_commands_total: 'counter',
      skeg_waiting_commands: 'gauge',
      skeg_waiting_questions: 'gauge',
      skeg_write_ahead_log_bytes: 'gauge',
      skeg_last_backup_timestamp_seconds: 'gauge',
    });
    expect(told).toEqual(typed.map(([name]) => name));
  });

  it('count commands by route and result', async () => {
    const results = ['done', 'replayed', 'refused', 'failed'];
    const counted = (route: string, work: () => Promise<unknown>) =>
      growth(
        results.map((result) => `skeg_commands_total{route="${route}",result="${result}"}`),
        work,
      );
    expect(await counted(CLASSES, () => add('a', 'key-a'))).toEqual([1, 0, 0, 0]);
    expect(await counted(CLASSES, () => add('a', 'key-a'))).toEqual([0, 1, 0, 0]);
    // Refused by the plant's state, by its form, by its role, by its address; a repeated refusal.
    expect(await counted(CLASSES, () => add('a', 'key-b'))).toEqual([0, 0, 1, 0]);
    expect(await counted(CLASSES, () => add('a', 'key-b'))).toEqual([0, 1, 0, 0]);
    expect(await counted(CLASSES, () => add('not a code'))).toEqual([0, 0, 1, 0]);
    const asReader = { ...adding('b'), as: 'read' };
    expect(await counted(CLASSES, () => exchange(plant, asReader))).toEqual([0, 0, 1, 0]);
    const unknown = posting('cell', '/v1/runs/999999/abort', { reason: 'None such' });
    const abort = '/v1/runs/:run/abort';
    expect(await counted(abort, () => exchange(plant, unknown))).toEqual([0, 0, 1, 0]);
    for (const error of [new Error('the inside'), new StorageError('the disk')]) {
      const failing = () => failingWith(error, () => add('b'));
      expect(await counted(CLASSES, failing)).toEqual([0, 0, 0, 1]);
    }
  });

  it('count as a command what is to change something, and nothing else', async () => {
    const total = (all: ReadonlyMap<string, number>) =>
      [...all].reduce(
        (sum, [name, value]) => sum + (name.startsWith('skeg_commands') ? value : 0),
        0,
      );
    const before = total(await samples());
    const question = { condition: { kind: 'lot', part: 'PRIMER', revision: '1', lot: 'none' } };
    await exchange(plant, posting('read', '/v1/where-used', question));
    await exchange(plant, { path: CLASSES, as: 'read' });
    await exchange(plant, posting('read', '/v1/nothing', {}));
    await exchange(plant, { ...adding('c'), as: 'nobody' });
    expect(total(await samples())).toBe(before);
    await add('c');
    expect(total(await samples())).toBe(before + 1);
  });

  it('time each request under its route, with a bucket for every one', async () => {
    const labels = `method="GET",route="${CLASSES}",status="200"`;
    const names = [
      `skeg_http_request_seconds_count{${labels}}`,
      `skeg_http_request_seconds_bucket{le="+Inf",${labels}}`,
      `skeg_http_request_seconds_bucket{le="0.001",${labels}}`,
      `skeg_http_request_seconds_sum{${labels}}`,
    ];
    const begun = performance.now();
    const [count, all, quickest, sum] = await growth(names, async () => {
      for (let i = 0; i < 3; i += 1) await exchange(plant, { path: CLASSES, as: 'read' });
    });
    const elapsed = (performance.now() - begun) / 1000;
    expect([count, all]).toEqual([3, 3]);
    expect(quickest).toBeLessThanOrEqual(3);
    expect(sum).toBeGreaterThan(0);
    expect(sum).toBeLessThan(elapsed);
  });

  it('bear no serial, whatever is asked: each route is a pattern that is known here', async () => {
    const { motor, powerhead, lowerUnit } = await failedMotor(plant);
    await hold(plant, 'powerhead', powerhead);
    for (const path of [
      `/v1/history?serial=${motor}`,
      `/v1/orders/${motor}`,
      `/v1/runs/${motor}`,
      `/v1/${powerhead}`,
      `/${lowerUnit}`,
      `/v1/units/${lowerUnit}/${motor}`,
      `/problems/${motor}`,
      `/assets/${motor}`,
      `//${motor}`,
      `/%${motor}`,
    ]) {
      await exchange(plant, { path, as: 'read' });
      await exchange(plant, { path, method: 'PUT', as: 'set' });
    }
    const text = await scrape();
    for (const serial of [motor, powerhead, lowerUnit]) expect(text).not.toContain(serial);
    const patterns = new Set([
      ...[...routes, ...screens].map((route) => expressPath(route.path)),
      ...['/health/live', '/health/ready', '/metrics', '/openapi.json', '/openapi.yaml'],
      ...['/problems/:slug', '/assets/*name', '/', '/sign-in', '/sign-out', 'unmatched'],
    ]);
    const told = [...text.matchAll(/route="([^"]*)"/g)].map((found) => found[1] ?? '');
    expect(told.length).toBeGreaterThan(20);
    expect([...new Set(told)].filter((route) => !patterns.has(route))).toEqual([]);
  });

  it('tell how many commands shared a commit, and how long it took', async () => {
    const { store } = plant.service;
    const names = ['commands', 'seconds'].flatMap((of) => [
      `skeg_commit_${of}_count`,
      `skeg_commit_${of}_sum`,
    ]);
    const buckets = [2, 4].map((le) => `skeg_commit_commands_bucket{le="${le}"}`);
    const begun = performance.now();
    const grown = await growth([...names, ...buckets], async () => {
      await Promise.all([1, 2, 3].map(() => store.command(() => undefined)));
    });
    const elapsed = (performance.now() - begun) / 1000;
    const [commits, commands, timed, seconds = 0, ofTwo, ofFour] = grown;
    // Three in one commit: more than two, no more than four.
    expect([commits, commands, timed, ofTwo, ofFour]).toEqual([1, 3, 1, 0, 1]);
    expect(seconds).toBeGreaterThan(0);
    expect(seconds).toBeLessThan(elapsed);
    expect(await growth(['skeg_commit_commands_count'], () => add('d'))).toEqual([1]);
  });

  it('count no commit that failed', async () => {
    const names = ['skeg_commit_commands_count', 'skeg_commit_seconds_count'];
    const lose = () =>
      plant.service.store
        .command(() => {
          throw new StorageError('the disk');
        })
        .catch(() => undefined);
    expect(await growth(names, lose)).toEqual([0, 0]);
    expect(await growth(names, () => add('e'))).toEqual([1, 1]);
  });

  it('tell how large the write-ahead log is, which a commit lets grow', async () => {
    const { path } = plant.service.store;
    const told = async () => (await samples()).get('skeg_write_ahead_log_bytes');
    const onDisk = () => statSync(`${path}-wal`).size;
    // While somebody reads a snapshot, no checkpoint lets the log begin anew: it grows past
    // the size that its file has from earlier.
    const reader = openReader(path);
    await enter(plant, 'powerhead');
    reader.exec('BEGIN');
    reader.prepare('SELECT COUNT(*) FROM units').get();
    const before = onDisk();
    expect(await told()).toBe(before);
    while (onDisk() <= before) await enter(plant, 'powerhead');
    const after = onDisk();
    expect(after).toBeGreaterThan(before);
    expect(await told()).toBe(after);
    reader.close();
  });

  it('tell how many commands wait for a commit', async () => {
    const name = 'skeg_waiting_commands';
    const work = () => {
      const until = performance.now() + 0.5;
      while (performance.now() < until);
    };
    const all = Array.from({ length: 1500 }, () => plant.service.store.command(work));
    const meanwhile = (await samples()).get(name);
    await Promise.all(all);
    expect(meanwhile).toBeGreaterThan(0);
    expect((await samples()).get(name)).toBe(0);
  });

  it('tell how many long questions wait for a thread', async () => {
    const name = 'skeg_waiting_questions';
    expect((await samples()).get(name)).toBe(0);
    const asking = Array.from({ length: 6 }, () =>
      exchange(plant, { path: '/v1/yield/rework-loops', as: 'read' }),
    );
    let most = 0;
    const done = Promise.all(asking).then((answers) => answers.map((one) => one.status));
    let over = false;
    void done.then(() => {
      over = true;
    });
    while (!over) most = Math.max(most, (await samples()).get(name) ?? 0);
    expect(await done).toEqual([200, 200, 200, 200, 200, 200]);
    expect(most).toBeGreaterThan(0);
    expect((await samples()).get(name)).toBe(0);
  });

  it('tell when the last backup was made, and only of one that was kept', async () => {
    const name = 'skeg_last_backup_timestamp_seconds';
    const { path } = plant.service.store;
    expect((await samples()).get(name)).toBe(0);
    const refuse = () => {
      throw new Error('not sound');
    };
    await backupDatabase(path, join(plant.folder, 'bad.db'), refuse).catch(() => undefined);
    expect((await samples()).get(name)).toBe(0);
    const begun = Date.now() / 1000;
    await backupDatabase(path, join(plant.folder, 'good.db'));
    const told = (await samples()).get(name) ?? 0;
    // The disk's clock may be coarser than the process's.
    expect(told).toBeGreaterThan(begun - 1);
    expect(told).toBeLessThan(Date.now() / 1000 + 1);
  });

  it('count problems by their type, also where no route was found', async () => {
    const names = ['route-unknown', 'unauthenticated', 'part-class-exists'].map(
      (slug) => `skeg_problems_total{type="${slug}"}`,
    );
    const work = async () => {
      await exchange(plant, { path: '/v1/nothing', as: 'read' });
      await exchange(plant, { path: CLASSES });
      await add('a');
    };
    expect(await growth(names, work)).toEqual([1, 1, 1]);
  });
});

interface Line {
  level: number;
  requestId: string;
  method: string;
  route: string;
  status: number;
  outcome: string;
  ms: number;
  keyId?: number;
  problem?: string;
  err?: { message: string; stack: string };
}

describe('the log of requests', () => {
  // pino's numbers of the levels.
  const [DEBUG, INFO, ERROR] = [20, 30, 50];
  const linesOf = (id: string) =>
    plant.logLines.map((line) => JSON.parse(line) as Line).filter((line) => line.requestId === id);

  /** Sends a request under an id of its own and returns the lines that it left. */
  async function logged(sent: Parameters<typeof exchange>[1]): Promise<Line[]> {
    const id = randomUUID();
    const headers = { ...sent.headers, 'X-Request-Id': id };
    const answer = await exchange(plant, { ...sent, headers });
    expect(answer.headers['x-request-id']).toBe(id);
    return linesOf(id);
  }

  it('has one line of JSON for each, with its id, route and outcome', async () => {
    const first = adding('logged', 'key-logged');
    const run = '/v1/runs/:run/abort';
    const abort = posting('cell', '/v1/runs/999999/abort', { reason: 'None such' });
    const expected = [
      [first, INFO, 'POST', CLASSES, 201, 'done', undefined],
      [first, INFO, 'POST', CLASSES, 201, 'replayed', undefined],
      [adding('logged'), INFO, 'POST', CLASSES, 409, 'refused', 'part-class-exists'],
      [abort, INFO, 'POST', run, 404, 'refused', 'run-unknown'],
      [{ path: CLASSES, as: 'read' }, INFO, 'GET', CLASSES, 200, 'done', undefined],
      [{ path: CLASSES }, INFO, 'GET', 'unmatched', 401, 'refused', 'unauthenticated'],
      [{ path: '/nothing' }, INFO, 'GET', 'unmatched', 404, 'refused', 'route-unknown'],
      [{ path: '/health/ready' }, DEBUG, 'GET', '/health/ready', 200, 'done', undefined],
      [{ path: '/metrics' }, DEBUG, 'GET', '/metrics', 200, 'done', undefined],
    ] as const;
    for (const [sent, level, method, route, status, outcome, problem] of expected) {
      const lines = await logged(sent);
      expect(lines).toHaveLength(1);
      const [line] = lines;
      const { ms, problem: told } = line ?? {};
      expect(line).toMatchObject({ level, method, route, status, outcome });
      expect(told).toBe(problem);
      expect(ms).toBeGreaterThanOrEqual(0);
    }
  });

  it('tells the caller by its key’s id, never by a name, a serial, a key or a secret', async () => {
    const before = plant.logLines.length;
    const { motor, powerhead } = await setMotor(plant);
    await runMotor(plant, motor);
    await exchange(plant, { path: `/v1/history?serial=${powerhead}`, as: 'read' });
    await exchange(plant, { path: `/v1/orders/${powerhead}`, as: 'read' });
    await exchange(plant, { path: '/v1/keys', as: 'set' });
    await exchange(plant, adding('secretive', 'idempotency-marker'));
    const text = plant.logLines.slice(before).join('');
    expect(plant.logLines.length).toBeGreaterThan(before + 5);
    expect(text).toContain('"keyId":');
    for (const told of [motor, powerhead, 'set key', 'read key', 'idempotency-marker']) {
      expect(text).not.toContain(told);
    }
    for (const token of plant.tokens.values()) expect(text).not.toContain(secretOf(token));
  });

  it('has the stack and the cause of an error in that same line', async () => {
    const cause = new Error('the cause within');
    const errors: [Error, number, string][] = [
      [new Error('the inside', { cause }), 500, 'internal-error'],
      [new StorageError('the disk', { cause }), 503, 'storage-unavailable'],
    ];
    for (const [error, status, problem] of errors) {
      let lines: Line[] = [];
      await failingWith(error, async () => {
        lines = await logged(adding('failing'));
      });
      expect(lines).toHaveLength(1);
      expect(lines[0]).toMatchObject({ level: ERROR, status, problem, route: CLASSES });
      expect(lines[0]?.outcome).toBe('failed');
      expect(lines[0]?.err?.stack).toContain(error.message);
      expect(lines[0]?.err?.stack).toContain('metrics.test');
      expect(lines[0]?.err?.stack).toContain('the cause within');
    }
  });

  it('tells of a caller that has gone before its answer', async () => {
    const id = randomUUID();
    const token = plant.tokens.get('configuration');
    const head = `POST ${CLASSES} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer ${token}\r\nX-Request-Id: ${id}\r\n`;
    const sent = `${head}Idempotency-Key: gone\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{`;
    const socket = connect(portOf(plant), '127.0.0.1', () => socket.write(sent));
    await new Promise((resolve) => setTimeout(resolve, 50));
    socket.destroy();
    while (linesOf(id).length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
    expect(linesOf(id)).toMatchObject([{ outcome: 'broken-off', route: CLASSES, method: 'POST' }]);
    // What is no HTTP at all has no request, and so no line.
    const before = plant.logLines.length;
    await exchangeText(portOf(plant), 'nonsense\r\n\r\n');
    expect(plant.logLines.length).toBe(before);
  });
});
