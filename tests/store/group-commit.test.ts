import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { OverloadedError, StorageError } from '../../src/store/errors.js';
import {
  BATCH_LIMIT,
  GroupCommit,
  QUEUE_LIMIT,
  TURNS_LIMIT,
} from '../../src/store/group-commit.js';

let folder: string;
let db: Database;
let other: Database;
let sizes: number[];
let losses: number;
let commits: GroupCommit;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'skeg-commit-'));
  const path = join(folder, 'file.db');
  db = new BetterSqlite3(path, { timeout: 0 });
  db.pragma('journal_mode = WAL');
  // A parent that is missing at COMMIT makes the commit itself fail.
  db.exec(`
    CREATE TABLE parents (id INTEGER PRIMARY KEY) STRICT;
    CREATE TABLE notes (
      id INTEGER PRIMARY KEY,
      parent INTEGER REFERENCES parents (id) DEFERRABLE INITIALLY DEFERRED
    ) STRICT`);
  other = new BetterSqlite3(path, { timeout: 0 });
  sizes = [];
  losses = 0;
  commits = new GroupCommit(
    db,
    () => {
      losses += 1;
    },
    { committed: (size) => void sizes.push(size) },
  );
});
afterEach(() => {
  db.close();
  other.close();
  rmSync(folder, { recursive: true, force: true });
});

const add =
  (id: number, parent: number | null = null) =>
  () => {
    db.prepare('INSERT INTO notes (id, parent) VALUES (?, ?)').run(id, parent);
    return id;
  };
/** What another connection sees: committed rows alone. */
const committed = () =>
  other
    .prepare<[], { id: number }>('SELECT id FROM notes ORDER BY id')
    .all()
    .map((row) => row.id);
const outcomes = async (all: Promise<unknown>[]) =>
  (await Promise.allSettled(all)).map((one) =>
    one.status === 'fulfilled' ? one.value : (one.reason as Error),
  );

describe('commands of one turn', () => {
  it('share a commit, in their order, and are answered after it', async () => {
    const seen: number[][] = [];
    const all = [1, 2, 3].map((id) =>
      commits.run(add(id)).then((value) => {
        seen.push(committed());
        return value;
      }),
    );
    expect(commits.waiting).toBe(3);
    expect(committed()).toEqual([]);
    expect(await Promise.all(all)).toEqual([1, 2, 3]);
    expect(seen).toEqual([
      [1, 2, 3],
      [1, 2, 3],
      [1, 2, 3],
    ]);
    expect(sizes).toEqual([3]);
    expect(commits.waiting).toBe(0);
  });

  it('commit a lone command at the end of its turn, without a timer', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'setInterval'] });
    await commits.run(add(1));
    vi.useRealTimers();
    expect(sizes).toEqual([1]);
  });

  it('that come in turns after each other share a commit, up to so many turns', async () => {
    const answers: Promise<unknown>[] = [];
    const addInTurns = (id: number, last: number): void => {
      answers.push(commits.run(add(id)));
      if (id < last) setImmediate(() => addInTurns(id + 1, last));
    };
    addInTurns(1, TURNS_LIMIT + 4);
    await vi.waitFor(() => expect(answers).toHaveLength(TURNS_LIMIT + 4));
    await Promise.all(answers);
    expect(sizes).toEqual([TURNS_LIMIT, 4]);
    sizes.length = 0;
    // Two turns without anything new lie between these.
    for (const id of [100, 101]) {
      await commits.run(add(id));
      await new Promise(setImmediate);
    }
    expect(sizes).toEqual([1, 1]);
  });

  it('are cut to batches, so that a commit stays short', async () => {
    const count = 2 * BATCH_LIMIT + 1;
    await Promise.all(Array.from({ length: count }, (_, i) => commits.run(add(i + 1))));
    expect(sizes).toEqual([BATCH_LIMIT, BATCH_LIMIT, 1]);
    expect(committed()).toHaveLength(count);
  });

  it('see what those before them did', async () => {
    const count = () => db.prepare('SELECT COUNT(*) FROM notes').pluck().get();
    expect(await Promise.all([commits.run(add(1)), commits.run(count)])).toEqual([1, 1]);
  });
});

describe('a command that throws', () => {
  it('is undone alone, and its neighbours are committed', async () => {
    const failing = () => {
      add(2)();
      throw new Error('refused');
    };
    const [one, two, three] = await outcomes([
      commits.run(add(1)),
      commits.run(failing),
      commits.run(add(3)),
    ]);
    expect([one, (two as Error).message, three]).toEqual([1, 'refused', 3]);
    expect(committed()).toEqual([1, 3]);
    expect([losses, commits.healthy]).toEqual([0, true]);
  });

  it('by a constraint is undone alone', async () => {
    const [one, two, three] = await outcomes([1, 1, 3].map((id) => commits.run(add(id))));
    expect([one, (two as { code?: string }).code, three]).toEqual([
      1,
      'SQLITE_CONSTRAINT_PRIMARYKEY',
      3,
    ]);
    expect(committed()).toEqual([1, 3]);
  });

  it('is one that would wait for something, half in and half out of the transaction', async () => {
    const waiting = async () => {
      add(2)();
      await Promise.resolve();
    };
    const [one, two] = await outcomes([commits.run(add(1)), commits.run(waiting)]);
    expect(one).toBe(1);
    expect(two).toBeInstanceOf(TypeError);
    expect(committed()).toEqual([1]);
  });

  it('of whatever kind rejects with just that', async () => {
    const [first, second] = await outcomes(
      [undefined, 'text'].map((thrown) =>
        commits.run(() => {
          throw thrown;
        }),
      ),
    );
    expect([first, second]).toEqual([undefined, 'text']);
  });
});

describe('a batch that cannot be committed', () => {
  it('is rejected whole when COMMIT fails, and what was read in it is forgotten', async () => {
    const all = await outcomes([commits.run(add(1)), commits.run(add(2, 99)), commits.run(add(3))]);
    for (const error of all) expect(error).toBeInstanceOf(StorageError);
    expect((all[0] as Error).cause).toMatchObject({ message: 'FOREIGN KEY constraint failed' });
    expect([committed(), sizes, db.inTransaction]).toEqual([[], [], false]);
    expect(commits.healthy).toBe(false);
    expect(await commits.run(add(4))).toBe(4);
    expect([losses, commits.healthy, committed()]).toEqual([1, true, [4]]);
  });

  it('is rejected whole when BEGIN finds the file locked', async () => {
    other.exec('BEGIN IMMEDIATE');
    const [error] = await outcomes([commits.run(add(1))]);
    expect(error).toBeInstanceOf(StorageError);
    expect((error as Error).cause).toMatchObject({ code: 'SQLITE_BUSY' });
    other.exec('COMMIT');
    expect(await commits.run(add(2))).toBe(2);
  });

  it('is rejected whole when the disk is full amid it', async () => {
    const pages = db.pragma('page_count', { simple: true });
    db.pragma(`max_page_count = ${pages}`);
    db.exec('CREATE TEMP TABLE unused (a)');
    const fill = () =>
      db.exec(`INSERT INTO notes (id)
      WITH RECURSIVE n (i) AS (SELECT 100 UNION ALL SELECT i + 1 FROM n WHERE i < 9999) SELECT i FROM n`);
    const all = await outcomes([commits.run(add(1)), commits.run(fill), commits.run(add(2))]);
    for (const error of all) expect(error).toBeInstanceOf(StorageError);
    expect((all[0] as Error).cause).toMatchObject({ code: 'SQLITE_FULL' });
    expect(committed()).toEqual([]);
    db.pragma('max_page_count = 1000000');
    await commits.run(fill);
    expect(committed()).toHaveLength(9900);
  });

  it('leaves those behind it in the queue to the next', async () => {
    const first = Array.from({ length: BATCH_LIMIT }, (_, i) => commits.run(add(i + 1, 99)));
    const second = commits.run(add(1000));
    expect((await outcomes(first)).every((one) => one instanceof StorageError)).toBe(true);
    expect(await second).toBe(1000);
    expect(committed()).toEqual([1000]);
  });

  it('is rejected, not left hanging, when recovering fails too', async () => {
    let broken = true;
    const stubborn = new GroupCommit(db, () => {
      if (broken) throw new Error('still broken');
    });
    const lost = await outcomes([stubborn.run(add(1, 99)), stubborn.run(add(2))]);
    const again = await outcomes([stubborn.run(add(3))]);
    for (const error of [...lost, ...again]) expect(error).toBeInstanceOf(StorageError);
    expect((again[0] as Error).cause).toMatchObject({ message: 'still broken' });
    broken = false;
    expect(await stubborn.run(add(4))).toBe(4);
    expect(committed()).toEqual([4]);
  });
});

describe('the queue', () => {
  it('turns away one past its limit, and takes more once it has moved on', async () => {
    const all = Array.from({ length: QUEUE_LIMIT }, (_, i) => commits.run(add(i + 1)));
    await expect(commits.run(add(9999))).rejects.toBeInstanceOf(OverloadedError);
    await Promise.all(all);
    expect(committed()).toHaveLength(QUEUE_LIMIT);
    expect(await commits.run(add(9999))).toBe(9999);
  });

  it('is emptied by a flush, at once', async () => {
    const all = Array.from({ length: 300 }, (_, i) => commits.run(add(i + 1)));
    commits.flush();
    expect(committed()).toHaveLength(300);
    await Promise.all(all);
  });
});
