import { spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { connectPlant, type Plant } from '../../src/plant.js';
import { StorageError } from '../../src/store/errors.js';
import { Store } from '../../src/store/store.js';
import { TestPlant } from '../support/plant.js';
import { Program } from '../support/program.js';
import { exchange, posting } from '../support/wire.js';

/**
 * How large a file this process may write: with none, the kernel refuses every write of it
 * (setrlimit, RLIMIT_FSIZE), whoever runs the tests, while file modes do not stop root.
 */
function limitFiles(bytes: '0' | 'unlimited'): void {
  const done = spawnSync('prlimit', ['--pid', String(process.pid), `--fsize=${bytes}:`]);
  if (done.status !== 0) throw new Error(`prlimit: ${done.stderr}`);
}

const classes = (plant: TestPlant) => exchange(plant, { path: '/v1/part-classes', as: 'read' });
const ready = async (plant: TestPlant) => (await exchange(plant, { path: '/health/ready' })).status;
const adding = (code: string) =>
  posting('configuration', '/v1/part-classes', { code, name: code }, { 'Idempotency-Key': code });

/** Waits until something holds, which a sweep of the service's housekeeping brings about. */
async function until(holds: () => Promise<boolean>): Promise<void> {
  while (!(await holds())) await new Promise((resolve) => setTimeout(resolve, 100));
}

describe.runIf(process.platform === 'linux')('a disk that takes no more writes', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterEach(() => {
    limitFiles('unlimited');
    vi.useRealTimers();
  });
  afterAll(() => plant.stop());

  it('refuses commands with 503, answers questions, and is over without a restart', async () => {
    expect((await exchange(plant, adding('before'))).status).toBe(201);
    const events = plant.eventCount();
    limitFiles('0');

    const refused = await exchange(plant, adding('during'));
    expect([refused.status, refused.body.type]).toEqual([503, '/problems/storage-unavailable']);
    expect(refused.headers['content-type']).toBe('application/problem+json');
    expect(refused.headers['retry-after']).toBe('1');
    expect(refused.text).not.toMatch(/sqlite|i\/o/i);
    expect(await ready(plant)).toBe(503);
    expect((await exchange(plant, { path: '/health/live' })).status).toBe(200);
    expect((await classes(plant)).text).toContain('"before"');
    expect((await classes(plant)).text).not.toContain('"during"');
    const asked = { path: '/v1/yield/rework-loops', as: 'read' };
    expect((await exchange(plant, asked)).status).toBe(200);
    expect(plant.eventCount()).toBe(events);

    limitFiles('unlimited');
    const again = await exchange(plant, adding('during'));
    expect([again.status, again.headers['idempotency-replayed']]).toEqual([201, undefined]);
    expect(await ready(plant)).toBe(200);
    expect(plant.eventCount()).toBe(events + 1);
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });

  it('stays not ready until something could be written, whatever succeeds without', async () => {
    limitFiles('0');
    expect((await exchange(plant, adding('lost'))).status).toBe(503);
    // Neither an old answer nor a sweep of housekeeping that finds nothing to do writes anything.
    expect((await exchange(plant, adding('before'))).status).toBe(503);
    await plant.service.store.command(() => undefined).catch(() => undefined);
    expect(await ready(plant)).toBe(503);
    limitFiles('unlimited');
    await until(async () => (await ready(plant)) === 200);
    expect((await exchange(plant, adding('before'))).headers['idempotency-replayed']).toBe('true');
  });

  it('shows within half a minute, although nobody sends a command', async () => {
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval', 'performance'] });
    const idle = await TestPlant.start();
    const pass = async (ms: number) => {
      vi.advanceTimersByTime(ms);
      // What a sweep does is done when a command that came after it is; twice, since it proves
      // the file in a second one.
      for (let i = 0; i < 2; i += 1) {
        await idle.service.store.command(() => undefined).catch(() => undefined);
      }
    };
    limitFiles('0');
    await pass(4_000);
    expect(await ready(idle)).toBe(200);
    await pass(30_000);
    expect(await ready(idle)).toBe(503);
    limitFiles('unlimited');
    await pass(4_000);
    expect(await ready(idle)).toBe(200);
    await idle.stop();
  });
});

describe('a file that became read-only', () => {
  it('is trouble of the storage, and over once it may be written', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'skeg-read-only-'));
    const connections: Database[] = [];
    const store = new Store<Plant>({
      path: join(folder, 'skeg.db'),
      migrationsFolder: packageFile('migrations'),
      connect: (db) => {
        connections.push(db);
        return connectPlant(db);
      },
    });
    const writer = connections.find((db) => !db.readonly);
    const add = (code: string) => store.command((plant) => plant.catalogue.addClass(code, code));
    writer?.pragma('query_only = ON');
    for (const code of ['a', 'b']) {
      const error: unknown = await add(code).catch((thrown: unknown) => thrown);
      expect(error).toBeInstanceOf(StorageError);
      expect((error as Error).cause).toMatchObject({ code: 'SQLITE_READONLY' });
      expect(store.writable).toBe(false);
    }
    writer?.pragma('query_only = OFF');
    await add('c');
    expect(store.writable).toBe(true);
    const kept = store.reading.catalogue.classes().map((one) => one.code);
    expect(['a', 'b', 'c'].filter((code) => kept.includes(code))).toEqual(['c']);
    store.close();
    rmSync(folder, { recursive: true, force: true });
  });
});

describe('at its start the program', () => {
  const isRoot = process.getuid?.() === 0;
  let data: string;
  const programs: Program[] = [];
  beforeAll(() => {
    data = mkdtempSync(join(tmpdir(), 'skeg-start-'));
  });
  afterAll(async () => {
    for (const program of programs) await program.kill();
    rmSync(data, { recursive: true, force: true });
  });

  function start(folder: string, within: string[] = []): Program {
    const program = Program.start(['--data', folder, '--port', '0'], {}, within);
    programs.push(program);
    return program;
  }

  async function expectRefused(program: Program, words: RegExp): Promise<void> {
    expect((await program.ended).code).toBe(1);
    expect(program.output).toMatch(words);
    expect(program.output).not.toMatch(/\n\s+at |skeg_1_|listens/);
  }

  it.runIf(process.platform === 'linux')(
    'refuses a folder in which nobody can make a file, in words',
    async () => {
      await expectRefused(
        start('/proc'),
        /\/proc\/skeg\.db\.lock cannot be opened: look whether its folder is there and may be written/,
      );
    },
  );

  it.skipIf(isRoot)('refuses a folder that may not be written, in words', async () => {
    const folder = mkdtempSync(join(data, 'closed-'));
    chmodSync(folder, 0o555);
    await expectRefused(
      start(folder),
      /skeg\.db\.lock cannot be opened: look whether its folder .+ may be written/,
    );
  });

  it('refuses a folder that is a file, and leaves the file', async () => {
    const file = join(data, 'file');
    writeFileSync(file, 'mine');
    await expectRefused(start(file), /file already exists/);
    expect(existsSync(file)).toBe(true);
  });

  it.runIf(process.platform === 'linux')(
    'refuses a disk that takes no writes, and starts on it once it does',
    async () => {
      const folder = join(data, 'later');
      const first = start(folder);
      await first.address();
      first.child.kill('SIGTERM');
      expect((await first.ended).code).toBe(0);
      await expectRefused(
        start(folder, ['prlimit', '--fsize=0:']),
        /skeg\.db\.lock cannot be opened: look at its disk/,
      );
      const last = start(folder);
      await last.address();
      expect(last.output).not.toContain('skeg_1_');
    },
  );
});
