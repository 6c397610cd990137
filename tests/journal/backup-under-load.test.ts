import { execFile } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { databaseFile } from '../../src/config.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { type Command, Connections } from '../faults/crash/command.js';
import { Floor } from '../faults/crash/floor.js';
import { type Template, templateIn } from '../faults/crash/template.js';
import { Program } from '../support/program.js';

const run = promisify(execFile);
const maintain = packageFile('dist', 'src', 'maintain.js');
/** `npm run backup`, as a process beside the service. */
const backup = (...options: string[]) => run('node', [maintain, 'backup', ...options]);

/** Answers before the first copy. */
const FULL_SWING = 150;
/** Snapshots kept of the last moments, one every few milliseconds. */
const SNAPSHOTS = 80;
const SNAPSHOT_MS = 2;
/** A copy whose very moment no snapshot has is made again. */
const TRIES = 10;

let root: string;
let template: Template;
let data: string;
let program: Program;
let connections: Connections;
let floor: Floor;
let answers = 0;

beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'skeg-load-'));
  template = await templateIn(join(root, 'template'));
  data = join(root, 'data');
  template.copyTo(data);
  program = Program.serve(data);
  connections = new Connections(await program.address());
  floor = new Floor(template.tokens, 'B', 20261125);
  const onAnswer = () => {
    answers += 1;
  };
  floor.work({ number: 0, connections, onAnswer }, true);
});
afterAll(async () => {
  await floor.pause();
  connections.close();
  await program.kill();
  rmSync(root, { recursive: true, force: true });
});

/** Readers that each hold a moment of the source, in turn, until they are told to keep it. */
class Snapshots {
  readonly #held: Database[] = [];
  readonly #timer: NodeJS.Timeout;
  #turn = 0;

  constructor(private readonly path: string) {
    this.#timer = setInterval(() => this.#hold(), SNAPSHOT_MS);
  }

  #hold(): void {
    const turn = this.#turn % SNAPSHOTS;
    this.#turn += 1;
    const db = this.#held[turn] ?? new BetterSqlite3(this.path, { readonly: true });
    this.#held[turn] = db;
    if (db.inTransaction) db.exec('COMMIT');
    db.exec('BEGIN');
    commitOf(db);
  }

  keep(): void {
    clearInterval(this.#timer);
  }

  /** The source as it was at a commit. */
  at(commit: number): Database | undefined {
    return this.#held.find((db) => commitOf(db) === commit);
  }

  close(but?: Database): void {
    this.keep();
    for (const db of this.#held) if (db !== but) db.close();
  }
}

/** The number of the last commit that a connection sees. */
function commitOf(db: Database): number {
  return Math.abs(Number(db.pragma('user_version', { simple: true })));
}

/** Every row of every table by the table's name, and how each thing in the schema is made. */
function contentOf(db: Database): Record<string, unknown[]> {
  const names = db
    .prepare<[], string>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_stat%'",
    )
    .pluck()
    .all();
  const schema = db.prepare('SELECT type, name, sql FROM sqlite_schema ORDER BY name').all();
  const tables = names.map((name) => [name, db.prepare(`SELECT * FROM "${name}"`).raw().all()]);
  return { sqlite_schema: schema, ...Object.fromEntries(tables) };
}

/** Copies the database of the working service, and finds the source as it was at that moment. */
async function copyWithSource(): Promise<{ path: string; copy: Database; source: Database }> {
  for (let i = 0; i < TRIES; i += 1) {
    const path = join(root, `copy-${i}.db`);
    const snapshots = new Snapshots(databaseFile(data));
    let isDone = false;
    const running = backup('--data', data, '--to', path).finally(() => {
      isDone = true;
    });
    while (!existsSync(`${path}.unfinished`) && !isDone) await pause(SNAPSHOT_MS);
    snapshots.keep();
    await running;
    const copy = new BetterSqlite3(path, { readonly: true });
    const source = snapshots.at(commitOf(copy));
    snapshots.close(source);
    if (source) return { path, copy, source };
    copy.close();
  }
  throw new Error('no copy was caught in its moment');
}

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

/** Commands whose answers a database has. */
function knownTo(db: Database): Command[] {
  const keys = new Set(db.prepare('SELECT idempotency_key FROM idempotency').pluck().all());
  return floor.commands.filter((one) => one.answer && keys.has(one.key));
}

describe('a backup under load', () => {
  it('is the source at its moment, row by row, while commands go on', async () => {
    while (answers < FULL_SWING) await pause(SNAPSHOT_MS);
    const before = answers;
    const { path, copy, source } = await copyWithSource();
    expect(answers).toBeGreaterThan(before);
    const [inCopy, inSource] = [contentOf(copy), contentOf(source)];
    expect(Object.keys(inCopy)).toEqual(Object.keys(inSource));
    for (const [table, rows] of Object.entries(inSource)) {
      expect(inCopy[table], table).toEqual(rows);
    }
    expect(inCopy.idempotency?.length).toBeGreaterThan(FULL_SWING);
    expect(verifyDatabase(path).findings).toEqual([]);
    const now = new BetterSqlite3(databaseFile(data), { readonly: true });
    expect(commitOf(now)).toBeGreaterThan(commitOf(copy));
    for (const db of [copy, source, now]) db.close();
  });

  it('is restored from the command line in another folder, and the service goes on from it', async () => {
    const copy = join(root, 'to-restore.db');
    await backup('--data', data, '--to', copy);
    await pause(50);
    await floor.pause();
    const folder = join(root, 'restored');
    mkdirSync(folder);
    const { stdout } = await backup('--file', copy, '--to', databaseFile(folder));
    expect(stdout).toMatch(/rows rebuilt from them are equal/);

    const there = new BetterSqlite3(databaseFile(folder), { readonly: true });
    const known = new Set(knownTo(there));
    there.close();
    const restored = Program.serve(folder);
    const calls = new Connections(await restored.address());
    try {
      for (const command of [...known].slice(-100)) {
        const again = await calls.send(command);
        expect(again).toEqual({ ...command.answer, replayed: true });
      }
      // What was answered after the copy was made is not known there: it is carried out anew.
      const later = floor.commands.filter((one) => one.answer && !known.has(one));
      const entered = later.find((one) => one.path === '/v1/units');
      expect(entered).toBeDefined();
      const anew = entered && (await calls.send(entered));
      expect(anew).toMatchObject({ status: 201, replayed: false });
    } finally {
      calls.close();
      await restored.stop();
    }
    expect(verifyDatabase(databaseFile(folder)).findings).toEqual([]);
  });

  it('is never put over a file or beside a log that is there', async () => {
    const place = join(root, 'taken.db');
    for (const there of [place, `${place}-wal`]) {
      writeFileSync(there, 'mine');
      await expect(backup('--data', data, '--to', place)).rejects.toMatchObject({
        code: 1,
        stderr: expect.stringContaining(`${there} exists: choose another place`),
      });
      rmSync(there);
    }
  });
});
