import { createHash } from 'node:crypto';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';
import { migrate, readMigrations } from '../../src/store/migrate.js';

let root: string;
let folder: string;
let db: Database;
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'skeg-migrate-'));
  folder = join(root, 'migrations');
  mkdirSync(folder);
  db = new BetterSqlite3(join(root, 'file.db'));
});
afterEach(() => {
  db.close();
  rmSync(root, { recursive: true, force: true });
});

const write = (name: string, sql: string) => writeFileSync(join(folder, name), sql);
const tables = () =>
  db
    .prepare<[], { name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name",
    )
    .all()
    .map((row) => row.name);

describe('migrations', () => {
  it('are applied in order, once, each with its checksum', () => {
    write('0001_first.sql', 'CREATE TABLE one (a);');
    write('0002_second.sql', 'ALTER TABLE one RENAME TO two;');
    expect(migrate(db, folder)).toBe(2);
    expect(migrate(db, folder)).toBe(0);
    expect(tables()).toEqual(['migrations', 'two']);
    write('0003_third.sql', 'CREATE TABLE three (a);');
    expect(migrate(db, folder)).toBe(1);
    const rows = db.prepare('SELECT * FROM migrations ORDER BY number').all();
    expect(rows[2]).toEqual({
      number: 3,
      name: '0003_third.sql',
      checksum: createHash('sha256').update('CREATE TABLE three (a);').digest('hex'),
    });
  });

  it('are refused where an applied one was changed, by as little as a blank', () => {
    write('0001_first.sql', 'CREATE TABLE one (a);');
    migrate(db, folder);
    write('0001_first.sql', 'CREATE TABLE one (a); ');
    write('0002_second.sql', 'CREATE TABLE two (a);');
    expect(() => migrate(db, folder)).toThrow(
      'migration 0001_first.sql was changed after it had been applied here',
    );
    expect(tables()).toEqual(['migrations', 'one']);
  });

  it('are refused where the database is newer than the program', () => {
    write('0001_first.sql', 'CREATE TABLE one (a);');
    write('0002_second.sql', 'CREATE TABLE two (a);');
    migrate(db, folder);
    rmSync(join(folder, '0002_second.sql'));
    expect(() => migrate(db, folder)).toThrow('migration 2');
    expect(() => migrate(db, folder)).toThrow('written by a newer Skeg');
  });

  it('are refused where a number is missing, used twice or not the first', () => {
    write('0001_first.sql', '');
    write('0003_third.sql', '');
    expect(() => readMigrations(folder)).toThrow('0003_third.sql is out of sequence');
    rmSync(join(folder, '0003_third.sql'));
    write('0001_other.sql', '');
    expect(() => readMigrations(folder)).toThrow('0001_other.sql is out of sequence');
    rmSync(join(folder, '0001_first.sql'));
    rmSync(join(folder, '0001_other.sql'));
    write('0002_second.sql', '');
    expect(() => migrate(db, folder)).toThrow('0002_second.sql is out of sequence');
    expect(tables()).toEqual([]);
  });

  it('leave nothing where one fails, not even those before it', () => {
    write('0001_first.sql', 'CREATE TABLE one (a); INSERT INTO one VALUES (1);');
    write('0002_second.sql', 'CREATE TABLE two (a); INSERT INTO nowhere VALUES (1);');
    expect(() => migrate(db, folder)).toThrow('nowhere');
    expect(tables()).toEqual([]);
    expect(db.inTransaction).toBe(false);
    write('0002_second.sql', 'CREATE TABLE two (a);');
    expect(migrate(db, folder)).toBe(2);
  });

  it('leave the older version whole where the newest fails', () => {
    write('0001_first.sql', 'CREATE TABLE one (a); INSERT INTO one VALUES (1);');
    migrate(db, folder);
    write('0002_second.sql', 'DROP TABLE one; SYNTAX ERROR;');
    expect(() => migrate(db, folder)).toThrow('syntax error');
    expect(db.prepare('SELECT a FROM one').all()).toEqual([{ a: 1 }]);
    expect(migrationCount()).toBe(1);
  });

  it('pass over files that are none', () => {
    write('0001_first.sql', 'CREATE TABLE one (a);');
    write('README.md', 'words');
    write('1_short.sql', 'CREATE TABLE short (a);');
    write('0002_second.sql.orig', 'CREATE TABLE saved (a);');
    expect(migrate(db, folder)).toBe(1);
  });

  it('of the program itself bring an empty file to a sound database', () => {
    const own = packageFile('migrations');
    for (const file of readdirSync(own)) copyFileSync(join(own, file), join(folder, file));
    expect(migrate(db, folder)).toBe(readdirSync(own).length);
    expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(db.pragma('foreign_key_check')).toEqual([]);
    const loose = db
      .prepare<[], { name: string }>(
        `SELECT name FROM pragma_table_list
         WHERE type = 'table' AND schema = 'main' AND strict = 0 AND name NOT LIKE 'sqlite_%'`,
      )
      .all();
    expect(loose).toEqual([]);
    expect(readFileSync(join(folder, '0001_plant.sql'), 'utf8')).not.toMatch(/CURRENT_TIMESTAMP/);
  });

  function migrationCount(): unknown {
    return db.prepare('SELECT COUNT(*) FROM migrations').pluck().get();
  }
});
