import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import BetterSqlite3 from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';
import { connectPlant, type Plant } from '../../src/plant.js';
import { backupDatabase } from '../../src/store/backup.js';
import { countInFile, numbered } from '../../src/store/commit-count.js';
import { readLog } from '../../src/store/log.js';
import { assertLogFits } from '../../src/store/log-fit.js';
import { closeWriter, openReader, openWriter } from '../../src/store/open.js';
import { Store } from '../../src/store/store.js';

const migrationsFolder = packageFile('migrations');
let folder: string;
let path: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'skeg-count-'));
  path = join(folder, 'skeg.db');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const open = () => new Store<Plant>({ path, migrationsFolder, connect: connectPlant });
const addClass = (store: Store<Plant>, code: string) =>
  store.command((plant) => plant.catalogue.addClass(code, code));

describe('the number of commits', () => {
  it('grows by one with each commit, and is below zero while the file is in use', async () => {
    const store = open();
    // Opening commits once: migrations, and the planner's statistics.
    for (const code of ['pump', 'rotor', 'starter']) await addClass(store, code);
    expect(readLog(`${path}-wal`)).toEqual({
      state: 'there',
      whole: { first: 1, last: 4 },
      leftOut: undefined,
    });
    expect(countInFile(path)).toBe(0);
    store.checkpoint();
    expect(countInFile(path)).toBe(-4);
    store.close();
    expect(countInFile(path)).toBe(4);
    expect(existsSync(`${path}-wal`)).toBe(false);
    open().close();
    expect(countInFile(path)).toBe(5);
  });

  it('counts those that share a commit once, and one that changes nothing not at all', async () => {
    const store = open();
    await Promise.all(['pump', 'rotor'].map((code) => addClass(store, code)));
    expect(readLog(`${path}-wal`).whole?.last).toBe(2);
    const { size } = statSync(`${path}-wal`);
    await store.command((plant) => plant.catalogue.classes());
    await store.command((plant) => plant.idempotency.expire(1, 1));
    expect(statSync(`${path}-wal`).size).toBe(size);
    store.close();
  });

  it('does not count a commit that was lost', async () => {
    const store = open();
    const lost = store.command(() => {
      throw Object.assign(new Error('disk I/O error'), { code: 'SQLITE_IOERR' });
    });
    await expect(lost).rejects.toThrow('could not be committed');
    await addClass(store, 'pump');
    expect(readLog(`${path}-wal`).whole?.last).toBe(2);
    store.close();
  });

  it('goes on in a log that is begun anew', async () => {
    const store = open();
    await addClass(store, 'pump');
    expect(store.checkpoint()).toBe(true);
    await addClass(store, 'rotor');
    expect(readLog(`${path}-wal`).whole).toEqual({ first: 3, last: 3 });
    expect(countInFile(path)).toBe(-2);
    store.close();
  });

  it('lets a copy of a file in use stand alone', async () => {
    const store = open();
    await addClass(store, 'pump');
    const copy = join(folder, 'copy.db');
    await backupDatabase(path, copy);
    expect(countInFile(copy)).toBe(2);
    store.close();
  });
});

describe('a file that cannot be marked as closed in order', () => {
  it('keeps its log, and the next start goes on with it', () => {
    const db = openWriter(path, migrationsFolder);
    numbered(db, () => db.exec("INSERT INTO part_classes VALUES ('pump', 'Pump')"));
    db.pragma('query_only = ON');
    closeWriter(db);
    expect(readLog(`${path}-wal`).whole).toEqual({ first: 1, last: 2 });
    const again = openWriter(path, migrationsFolder);
    expect(again.prepare("SELECT name FROM part_classes WHERE code = 'pump'").pluck().get()).toBe(
      'Pump',
    );
    closeWriter(again);
    expect(countInFile(path)).toBe(3);
  });
});

describe('a file and log from before commits were numbered', () => {
  it('are taken as SQLite takes them, wherever the log ends', () => {
    const old = join(folder, 'old.db');
    const db = new BetterSqlite3(old);
    db.pragma('journal_mode = WAL');
    db.pragma('wal_autocheckpoint = 0');
    for (let i = 0; i < 20; i += 1) db.exec(`CREATE TABLE t${i} AS SELECT zeroblob(5000) AS a`);
    const [file, log] = [readFileSync(old), readFileSync(`${old}-wal`)];
    db.close();
    for (let end = 0; end <= log.length; end += 1000) {
      writeFileSync(path, file);
      writeFileSync(`${path}-wal`, log.subarray(0, end));
      expect(() => assertLogFits(path)).not.toThrow();
    }
    closeWriter(openWriter(path, migrationsFolder));
    expect(countInFile(path)).toBe(1);
  });
});

describe('reading a log', () => {
  it('says nothing of a file that is none, and that a beginning is damaged', () => {
    const db = openWriter(path, migrationsFolder);
    const log = `${path}-wal`;
    const bytes = readFileSync(log);
    expect(readLog(join(folder, 'none')).state).toBe('missing');
    // The salts stand in bytes 16 to 23 of the header, under its checksum.
    bytes.writeUInt32BE(1, 16);
    const other = join(folder, 'other-wal');
    writeFileSync(other, bytes);
    expect(readLog(other)).toEqual({ state: 'damaged', whole: undefined, leftOut: undefined });
    closeWriter(db);
  });

  it('agrees with SQLite about its last commit', () => {
    const db = openWriter(path, migrationsFolder);
    for (let i = 0; i < 5; i += 1) numbered(db, () => db.exec('ANALYZE'));
    const reader = openReader(path);
    expect(reader.pragma('user_version', { simple: true })).toBe(-6);
    expect(readLog(`${path}-wal`).whole?.last).toBe(6);
    reader.close();
    closeWriter(db);
  });
});
