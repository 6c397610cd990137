import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';
import { connectPlant } from '../../src/plant.js';
import { StorageError } from '../../src/store/errors.js';
import { openReader, openWriter } from '../../src/store/open.js';
import { Store } from '../../src/store/store.js';

const migrationsFolder = packageFile('migrations');
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'skeg-store-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const open = (name: string) =>
  new Store({ path: join(folder, name), migrationsFolder, connect: connectPlant });

describe('the writing connection', () => {
  it('keeps what it was told: a durable log, foreign keys, no trust in the schema', () => {
    const db = openWriter(join(folder, 'writer.db'), migrationsFolder);
    const found = (name: string) => db.pragma(name, { simple: true });
    expect(found('journal_mode')).toBe('wal');
    // 2 is FULL (SQLite, PRAGMA synchronous): each commit is on the disk before its answer.
    expect(found('synchronous')).toBe(2);
    expect(found('foreign_keys')).toBe(1);
    expect(found('trusted_schema')).toBe(0);
    expect(found('recursive_triggers')).toBe(1);
    expect(found('busy_timeout')).toBe(1000);
    expect(found('journal_size_limit')).toBe(64 * 1024 * 1024);
    db.prepare(
      'INSERT INTO models (id, code, name, rated_power_kw, attributes) VALUES (?, ?, ?, ?, ?)',
    ).run(1, 'M', 'M', 1, '{}');
    expect(found('synchronous')).toBe(2);
    db.close();
  });

  it('is refused where a setting does not take, as in memory, which has no log', () => {
    expect(() => openWriter(':memory:', migrationsFolder)).toThrow(StorageError);
    expect(() => openWriter(':memory:', migrationsFolder)).toThrow('journal_mode');
  });

  it('is refused on a file that is no database, which it leaves as it was', () => {
    const path = join(folder, 'letter.db');
    writeFileSync(path, 'Dear reader, this is no database at all. '.repeat(100));
    expect(() => openWriter(path, migrationsFolder)).toThrow('file is not a database');
    expect(() => open('letter.db')).toThrow('file is not a database');
    rmSync(path);
    const store = open('letter.db');
    store.close();
  });

  it('minds foreign keys, strict types and its own checks', () => {
    const db = openWriter(join(folder, 'strict.db'), migrationsFolder);
    const add = (values: string) => () =>
      db.prepare(`INSERT INTO idempotency VALUES (${values})`).run();
    const good = "x'00', 'k', zeroblob(32), 200, NULL, '{}', 1";
    expect(add(good.replace("x'00'", '1'))).toThrow('FOREIGN KEY');
    expect(add(good.replace("x'00'", "'one'"))).toThrow('cannot store TEXT value in INTEGER');
    expect(add(good.replace("x'00'", '1').replace('200', '500'))).toThrow('CHECK');
    db.close();
  });
});

describe('the events table', () => {
  it('lets no row be changed, removed or replaced', () => {
    const db = openWriter(join(folder, 'events.db'), migrationsFolder);
    db.exec(`
      INSERT INTO api_keys VALUES (1, 'k', zeroblob(32), '["admin"]', 1, NULL, NULL);
      INSERT INTO events VALUES (1, 1, 1, 1, NULL, 'kind', '[]', '{}', zeroblob(32))`);
    for (const sql of [
      "UPDATE events SET content = '[]'",
      'UPDATE events SET seq = 2',
      'DELETE FROM events',
      `REPLACE INTO events VALUES (1, 2, 2, 1, NULL, 'other', '[]', '{}', zeroblob(32))`,
    ]) {
      expect(() => db.exec(sql)).toThrow('events are append-only');
    }
    expect(db.prepare('SELECT kind FROM events').all()).toEqual([{ kind: 'kind' }]);
    db.close();
  });
});

describe('a reading connection', () => {
  it('cannot write', () => {
    const path = join(folder, 'reader.db');
    openWriter(path, migrationsFolder).close();
    const db = openReader(path);
    expect(() => db.prepare('DELETE FROM models').run()).toThrow('readonly');
    expect(db.pragma('query_only', { simple: true })).toBe(1);
    db.close();
  });

  it('does not make a file that is not there', () => {
    expect(() => openReader(join(folder, 'none.db'))).toThrow();
    expect(existsSync(join(folder, 'none.db'))).toBe(false);
  });

  it('sees what is committed, and only that', async () => {
    const store = open('committed.db');
    await store.command((plant) => {
      plant.catalogue.addClass('pump', 'Pump');
      expect(store.reading.catalogue.classes().some((one) => one.code === 'pump')).toBe(false);
    });
    expect(store.reading.catalogue.classes().some((one) => one.code === 'pump')).toBe(true);
    store.close();
  });
});

describe('a second store on the same file', () => {
  it('is refused in words while the first is open, and may open after it', () => {
    const first = open('twice.db');
    expect(() => open('twice.db')).toThrow(/another Skeg already runs on .+: stop it first/);
    expect(() => open('twice.db')).toThrow(StorageError);
    first.close();
    open('twice.db').close();
  });

  it('is not kept off by a first that could not open', () => {
    const path = join(folder, 'failed.db');
    const connect = () => {
      throw new Error('a statement does not fit');
    };
    expect(() => new Store({ path, migrationsFolder, connect })).toThrow('does not fit');
    expect(existsSync(`${path}-wal`)).toBe(false);
    open('failed.db').close();
  });
});

describe('a store that was closed', () => {
  it('has committed what waited, and leaves no log', async () => {
    const path = join(folder, 'closed.db');
    const store = open('closed.db');
    const waiting = store.command((plant) => plant.catalogue.addClass('late', 'L'));
    expect(store.waiting).toBe(1);
    store.close();
    await waiting;
    expect(existsSync(`${path}-wal`)).toBe(false);
    const again = open('closed.db');
    expect(again.reading.catalogue.classes().some((one) => one.code === 'late')).toBe(true);
    again.close();
  });

  it('rejects a command that comes too late', async () => {
    const store = open('late.db');
    store.close();
    await expect(store.command(() => 1)).rejects.toThrow(StorageError);
  });
});

describe('the write-ahead log', () => {
  it('is moved into the file by a checkpoint, which a reader does not stop for good', async () => {
    const store = open('log.db');
    await store.command((plant) => plant.catalogue.addClass('pump', 'Pump'));
    expect(store.logBytes()).toBeGreaterThan(0);
    expect(store.checkpoint()).toBe(true);
    const reader = openReader(store.path);
    reader.exec('BEGIN');
    reader.prepare('SELECT COUNT(*) FROM models').get();
    await store.command((plant) => plant.catalogue.addClass('rotor', 'Rotor'));
    store.checkpoint();
    reader.exec('COMMIT');
    expect(store.checkpoint()).toBe(true);
    reader.close();
    store.optimize();
    store.close();
  });
});
