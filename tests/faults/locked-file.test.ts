import { type ChildProcess, spawn } from 'node:child_process';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { TestPlant } from '../support/plant.js';
import { exchange, posting } from '../support/wire.js';

/** What another program does that has opened the file to write and forgets about it. */
const holder = `
  import Database from 'better-sqlite3';
  const db = new Database(process.argv[1]);
  db.exec('BEGIN IMMEDIATE');
  process.stdout.write('locked');
  process.stdin.resume().on('end', () => db.exec('ROLLBACK'));`;

/** A process of its own that keeps the write lock of a database until it is told or killed. */
class Holder {
  private constructor(private readonly child: ChildProcess) {}

  static async of(path: string): Promise<Holder> {
    const child = spawn(process.execPath, ['--input-type=module', '-e', holder, path], {
      cwd: packageFile(),
      stdio: ['pipe', 'pipe', 'inherit'],
    });
    await new Promise((resolve, reject) => {
      child.stdout?.once('data', resolve);
      child.once('exit', () => reject(new Error('the lock was not taken')));
    });
    return new Holder(child);
  }

  async letGo(how: 'in order' | 'killed'): Promise<void> {
    if (this.child.exitCode !== null || this.child.signalCode !== null) return;
    const ended = new Promise((resolve) => this.child.once('exit', resolve));
    if (how === 'killed') this.child.kill('SIGKILL');
    else this.child.stdin?.end();
    await ended;
  }
}

describe('a file that another process keeps locked', () => {
  let plant: TestPlant;
  let held: Holder | undefined;
  beforeAll(async () => {
    // No sweep of housekeeping, which might be the first to find the file locked.
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
    plant = await TestPlant.start();
    vi.useRealTimers();
  });
  afterEach(() => held?.letGo('killed'));
  afterAll(() => plant.stop());

  async function lock(): Promise<Holder> {
    held = await Holder.of(plant.service.store.path);
    return held;
  }
  const adding = (code: string) =>
    posting('configuration', '/v1/part-classes', { code, name: code }, { 'Idempotency-Key': code });
  const add = (code: string) => exchange(plant, adding(code));
  const ask = (path: string) => exchange(plant, { path, as: 'read' });
  const ready = async () => (await ask('/health/ready')).status;
  async function timed<T>(work: () => Promise<T>): Promise<{ value: T; ms: number }> {
    const begun = performance.now();
    const value = await work();
    return { value, ms: performance.now() - begun };
  }

  it.each(['in order', 'killed'] as const)(
    'refuses commands with 503, answers questions, and is over once the other is gone, %s',
    async (how) => {
      const code = how === 'killed' ? 'while-killed' : 'while-locked';
      const events = plant.eventCount();
      const other = await lock();

      const { value: refused, ms } = await timed(() => add(code));
      expect([refused.status, refused.body.type]).toEqual([503, '/problems/storage-unavailable']);
      expect(refused.headers['retry-after']).toBe('1');
      expect(refused.text).not.toMatch(/sqlite|lock|busy/i);
      // It waited for the lock as long as a commit may, one second; the second time too,
      // although the service had given up waiting in between.
      expect(ms).toBeGreaterThanOrEqual(990);
      expect(await ready()).toBe(503);
      expect((await ask('/health/live')).status).toBe(200);
      expect((await ask('/v1/part-classes')).text).not.toContain(code);
      // One from the connection that reads, one from a worker's own.
      expect((await ask('/v1/units')).status).toBe(200);
      expect((await ask('/v1/yield/rework-loops')).status).toBe(200);
      expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
      expect(plant.eventCount()).toBe(events);

      await other.letGo(how);
      const again = await add(code);
      expect([again.status, again.headers['idempotency-replayed']]).toEqual([201, undefined]);
      expect(await ready()).toBe(200);
      expect(plant.eventCount()).toBe(events + 1);
    },
  );

  it('does not make questions wait for one command after another', async () => {
    await lock();
    await add('first');
    // Each would stop the event loop for a second if it waited for the lock as the first did.
    const { value, ms } = await timed(async () => {
      const statuses: number[] = [];
      for (let i = 0; i < 6; i += 1) {
        statuses.push((await add(`next-${i}`)).status, (await ask('/v1/units')).status);
      }
      return statuses;
    });
    expect(value).toEqual(Array.from({ length: 6 }, () => [503, 200]).flat());
    expect(ms).toBeLessThan(6 * 990);
  });

  it('refuses to start, in words, and starts once the lock is gone', async () => {
    const own = await TestPlant.start();
    const path = own.service.store.path;
    await own.service.stop();
    const other = await Holder.of(path);
    await expect(TestPlant.start(own.folder)).rejects.toThrow(
      /skeg\.db cannot be opened: another program keeps it locked: stop that one first/,
    );
    await other.letGo('in order');
    const again = await TestPlant.start(own.folder);
    await again.stop();
  });
});
