import { execFile } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { promisify } from 'node:util';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { databaseFile } from '../../src/config.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { countInFile, numbered } from '../../src/store/commit-count.js';
import { StorageError } from '../../src/store/errors.js';
import { closeWriter, openReader, openWriter } from '../../src/store/open.js';
import { repeatable } from '../bench/support/readings.js';
import { Program } from '../support/program.js';
import { Connections } from './crash/command.js';
import { Floor } from './crash/floor.js';
import {
  checkpointed,
  commitEnds,
  FRAME,
  LOG_HEADER,
  PAGE,
  PAGE_HEADER,
} from './crash/log-pages.js';
import { type Template, templateIn } from './crash/template.js';

/** Cases of each kind; SKEG_TORN=20 tries twenty times as many. SKEG_TORN_SEED draws others. */
const times = Number(process.env.SKEG_TORN ?? 1);
const seed = Number(process.env.SKEG_TORN_SEED ?? 20261125);
const random = repeatable(seed);
const below = (limit: number) => Math.floor(random() * limit);
const garbage = (bytes: number) => Buffer.from(Array.from({ length: bytes }, () => below(256)));
/** What a disk writes whole or not at all. */
const SECTOR = 512;
const cases = (count: number) => Array.from({ length: count * times }, (_, i) => i);

const migrations = packageFile('migrations');
const maintain = packageFile('dist', 'src', 'maintain.js');
const run = promisify(execFile);
/** In the log before the kill: enough to cut between, few enough to verify quickly. */
const COMMITS = 16;

let root: string;
let template: Template;
/** The files of a service that was killed; its log holds every commit of its life but the first. */
let file: Buffer;
let log: Buffer;
let logPath: string;
/** The digest of all tables at each commit and where it ends in the log; the first is the file alone. */
let states: { digest: string; end: number }[];

beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'skeg-torn-'));
  template = await templateIn(join(root, 'template'));
  const killed = await killAmidWork(join(root, 'killed'));
  logPath = `${killed}-wal`;
  file = readFileSync(killed);
  log = readFileSync(logPath);
  states = [LOG_HEADER, ...commitEnds(logPath)].map((end) => {
    const { path } = caseOf(file, log.subarray(0, end));
    const db = new BetterSqlite3(path, { readonly: true });
    const digest = digestOf(db);
    db.close();
    return { digest, end };
  });
});
afterAll(() => rmSync(root, { recursive: true, force: true }));

/** Lets clients work on a copy of the template and kills the service. */
async function killAmidWork(data: string): Promise<string> {
  template.copyTo(data);
  const program = Program.serve(data);
  const connections = new Connections(await program.address());
  // Once the service's own first commit is in the file, a reader keeps the rest out of it.
  while (!isMoved(databaseFile(data))) await sleep(5);
  const reader = openReader(databaseFile(data));
  reader.exec('BEGIN');
  reader.prepare('SELECT COUNT(*) FROM events').get();
  const floor = new Floor(template.tokens, 'T', seed);
  await new Promise<void>((resolve) => {
    const onAnswer = () => {
      if (commitEnds(`${databaseFile(data)}-wal`).length >= COMMITS) resolve();
    };
    floor.work({ number: 0, connections, onAnswer }, false);
  });
  await program.kill();
  await floor.pause();
  reader.close();
  return databaseFile(data);
}

/** Whether all that the log held is in the file now, so that the next commit begins it anew. */
function isMoved(path: string): boolean {
  const db = new BetterSqlite3(path);
  const [row] = db.pragma('wal_checkpoint(PASSIVE)') as Record<string, number>[];
  db.close();
  return countInFile(path) < 0 && row?.busy === 0 && row.log === row.checkpointed;
}

let made = 0;

/** A database of its own with the given bytes; no log where none are given. */
function caseOf(main: Buffer, beside: Buffer | undefined) {
  made += 1;
  const folder = join(root, 'cases', String(made));
  mkdirSync(folder, { recursive: true });
  const path = join(folder, 'skeg.db');
  writeFileSync(path, main);
  if (beside) writeFileSync(`${path}-wal`, beside);
  return { folder, path };
}

/** What is in every table, row by row. */
function digestOf(db: Database): string {
  const tables = db
    .prepare<[], { name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name",
    )
    .all();
  const digest = createHash('sha256');
  for (const { name } of tables) {
    digest.update(name);
    for (const row of db.prepare(`SELECT * FROM "${name}"`).raw().iterate()) {
      digest.update(JSON.stringify(row));
    }
  }
  return digest.digest('hex');
}

type Outcome = { refused: string } | { commit: number } | { found: string };

/**
 * Opens a database as the service does. It is refused in words and left as it was, or it is
 * exactly what it was at one of its commits, or else verify says what is wrong with it.
 */
function outcomeOf(main: Buffer, beside: Buffer | undefined): Outcome {
  const { folder, path } = caseOf(main, beside);
  try {
    let db: Database;
    try {
      db = openWriter(path, migrations);
    } catch (error) {
      expect(error).toBeInstanceOf(StorageError);
      expect(readFileSync(path).equals(main)).toBe(true);
      // Looking for a log makes an empty one.
      const left = existsSync(`${path}-wal`) ? readFileSync(`${path}-wal`) : Buffer.alloc(0);
      expect(left.equals(beside ?? Buffer.alloc(0))).toBe(true);
      return { refused: (error as Error).message };
    }
    closeWriter(db);
    const commit = commitIn(path);
    if (commit !== -1 && isSound(path)) return { commit };
    return { found: findingsOf(path) };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** Which of the states all tables are in; -1 where it is none of them. */
function commitIn(path: string): number {
  const db = new BetterSqlite3(path, { readonly: true });
  try {
    const digest = digestOf(db);
    return states.findIndex((one) => one.digest === digest);
  } catch {
    return -1;
  } finally {
    db.close();
  }
}

function isSound(path: string): boolean {
  const db = new BetterSqlite3(path, { readonly: true });
  try {
    return db.pragma('integrity_check', { simple: true }) === 'ok';
  } finally {
    db.close();
  }
}

function findingsOf(path: string): string {
  const { findings } = verifyDatabase(path);
  if (findings.length === 0) throw new Error('a half state that verify does not find');
  return findings[0]?.detail ?? '';
}

/** A copy of bytes with garbage over some of them. */
function garbled(bytes: Buffer, from: number, length: number): Buffer {
  const copy = Buffer.from(bytes);
  garbage(Math.min(length, copy.length - from)).copy(copy, from);
  return copy;
}

/** The last commit that a log holds whole when it is good up to a byte. */
const commitAt = (byte: number) => states.filter((one) => one.end <= byte).length - 1;
const lastCommit = () => states.length - 1;

/** The file as a checkpoint leaves it, done up to a commit or interrupted on its way there. */
function moved(): { main: Buffer; to: number } {
  const to = below(states.length);
  const { end } = states[to] ?? { end: 0 };
  const all = checkpointed(file, logPath, end, Number.POSITIVE_INFINITY);
  if (random() < 0.5) return { main: all, to };
  const some = below(all.length / PAGE);
  return { main: checkpointed(file, logPath, end, some), to: some === 0 ? 0 : to };
}

describe('a log that is torn', () => {
  it('holds commits to cut between, each a state that verifies', () => {
    expect(states.length).toBeGreaterThan(10);
    expect(new Set(states.map((one) => one.digest)).size).toBe(states.length);
    for (const place of [0, states.length >> 1, lastCommit()]) {
      const { path, folder } = caseOf(file, log.subarray(0, states[place]?.end));
      expect(verifyDatabase(path).findings).toEqual([]);
      rmSync(folder, { recursive: true });
    }
  });

  it.each(cases(60))('is the state at its last whole commit, cut anywhere (%i)', () => {
    const byte = LOG_HEADER + FRAME + below(log.length - LOG_HEADER - FRAME);
    expect(outcomeOf(file, log.subarray(0, byte))).toEqual({ commit: commitAt(byte) });
  });

  it.each(cases(10))(
    'is the state at its last whole commit, killed after a head of a page (%i)',
    () => {
      const { end } = states[below(states.length - 1)] ?? { end: 0 };
      // SQLite writes a page apart from its head: what an older log had there is no first page.
      const head = log.subarray(LOG_HEADER, LOG_HEADER + PAGE_HEADER);
      const begun = Buffer.concat([log.subarray(0, end), head, garbage(FRAME * 3)]);
      expect(outcomeOf(file, begun)).toEqual({ commit: commitAt(end) });
    },
  );

  it.each(cases(60))('is refused where the file has come further, cut anywhere (%i)', () => {
    const { main, to } = moved();
    const byte = below(log.length);
    const commit = commitAt(byte);
    const outcome = outcomeOf(main, log.subarray(0, byte));
    if (byte >= LOG_HEADER + FRAME && commit >= to) expect(outcome).toEqual({ commit });
    else expect(outcome).toHaveProperty('refused');
  });

  it.each(cases(20))('makes up for a checkpoint that was interrupted anywhere (%i)', () => {
    expect(outcomeOf(moved().main, log)).toEqual({ commit: lastCommit() });
  });

  it.each(cases(60))('is refused with a page written over, unless it is its end (%i)', () => {
    const { main, to } = moved();
    const from = below(log.length);
    const commit = commitAt(from);
    const outcome = outcomeOf(main, garbled(log, from, PAGE));
    // The page may take the beginnings of two commits with it.
    const isEnd = commit >= lastCommit() - 2 && commit >= to;
    if (isEnd && 'commit' in outcome) expect(outcome).toEqual({ commit });
    else expect(outcome).toHaveProperty('refused');
    if (commit === lastCommit() - 1 && commit >= to) expect(outcome).toEqual({ commit });
  });

  it('is refused where it is missing, empty or without its beginning, while the file was in use', () => {
    for (const beside of [
      undefined,
      Buffer.alloc(0),
      log.subarray(0, LOG_HEADER),
      garbled(log, 0, 8),
    ]) {
      expect(outcomeOf(file, beside)).toHaveProperty('refused');
    }
  });

  it('is told by the program, and what is left of the file is saved by a checked copy', async () => {
    const { folder, path } = caseOf(file, undefined);
    const program = Program.serve(folder);
    await program.address().catch(() => {});
    expect(program.output).toMatch(
      /skeg\.db cannot be trusted: .+ its log is missing, so that its last commits are lost/,
    );
    const saved = join(folder, 'saved');
    mkdirSync(saved);
    await run('node', [maintain, 'backup', '--file', path, '--to', databaseFile(saved)]);
    const again = Program.serve(saved);
    await again.address();
    await again.stop();
    expect(commitIn(databaseFile(saved))).toBe(0);
  });

  it('is refused beside an older file, and beside none', () => {
    const older = readFileSync(databaseFile(join(root, 'template')));
    expect(outcomeOf(older, log)).toEqual({
      refused: expect.stringMatching(/ends at commit \d+ and the log beside it begins at \d+/),
    });
    expect(outcomeOf(Buffer.alloc(0), log)).toHaveProperty('refused');
  });

  it('is refused by a reader too, where it ends before the file does', () => {
    const main = checkpointed(file, logPath, log.length, Number.POSITIVE_INFINITY);
    const { path } = caseOf(main, log.subarray(0, states[3]?.end));
    expect(() => openReader(path)).toThrow(/holds commit \d+ and its log ends at \d+/);
    expect(() => verifyDatabase(path)).toThrow(StorageError);
  });
});

describe('a log that a power cut met while it was begun anew', () => {
  let main: Buffer;
  let before: Buffer;
  let after: Buffer;
  let end: number;
  // Everything is in the file, and one commit has overwritten the beginning of the log.
  beforeAll(() => {
    const { path } = caseOf(file, log);
    const db = openWriter(path, migrations);
    db.pragma('wal_checkpoint(PASSIVE)');
    main = readFileSync(path);
    before = readFileSync(`${path}-wal`);
    numbered(db, () => db.exec("INSERT INTO repair_codes VALUES ('cause', 'late', 'Late')"));
    after = readFileSync(`${path}-wal`);
    end = commitEnds(`${path}-wal`)[0] ?? 0;
    db.close();
  });

  const old = (from: number) => before.subarray(from, from + SECTOR);

  it('was begun anew', () => {
    expect(after.length).toBe(before.length);
    expect(after.subarray(0, LOG_HEADER).equals(before.subarray(0, LOG_HEADER))).toBe(false);
    expect(outcomeOf(main, before)).toEqual({ commit: lastCommit() });
  });

  it.each(cases(20))('is the state before that commit, whichever of its pages arrived (%i)', () => {
    const sectors = Array.from(
      { length: Math.ceil((end - LOG_HEADER) / SECTOR) },
      (_, i) => LOG_HEADER + i * SECTOR,
    ).filter((from) => !old(from).equals(after.subarray(from, from + SECTOR)));
    const missing = new Set(sectors.filter(() => random() < 0.5));
    missing.add(sectors[below(sectors.length)] ?? 0);
    const torn = Buffer.from(after);
    for (const from of missing) old(from).copy(torn, from);
    expect(outcomeOf(main, torn)).toEqual({ commit: lastCommit() });
  });

  it('is the state before, killed between the head of a page and that page', () => {
    for (let from = LOG_HEADER; from < end; from += FRAME) {
      const head = from + PAGE_HEADER;
      const torn = Buffer.concat([after.subarray(0, head), before.subarray(head)]);
      expect(outcomeOf(main, torn), `at byte ${from}`).toEqual({ commit: lastCommit() });
    }
  });
});

describe('a database file that is damaged', () => {
  let settled: Buffer;
  beforeAll(() => {
    const { path } = caseOf(file, log);
    closeWriter(openWriter(path, migrations));
    settled = readFileSync(path);
    expect(existsSync(`${path}-wal`)).toBe(false);
  });

  it('is told by the command line, with what is wrong with it', async () => {
    const half = (settled.length / PAGE / 2) | 0;
    const { path } = caseOf(garbled(settled, half * PAGE, half * PAGE), undefined);
    const failure = await run('node', [maintain, 'verify', '--file', path]).catch((error) => error);
    expect(failure.code).toBe(1);
    expect(failure.stderr).toMatch(/in database main|malformed|differs from its events/);
    expect(failure.stderr).not.toMatch(/\n\s+at /);
  });

  it('stands alone after an orderly end', () => {
    expect(outcomeOf(settled, undefined)).toEqual({ commit: lastCommit() });
  });

  it.each(cases(25))('is refused or found, cut anywhere (%i)', () => {
    const byte = 1 + below(settled.length - 1);
    expect(outcomeOf(settled.subarray(0, byte), undefined)).not.toHaveProperty('commit');
    settle(outcomeOf(file.subarray(0, 1 + below(file.length - 1)), log));
  });

  it.each(cases(40))(
    'is refused or found, unless nothing was lost, with a page written over (%i)',
    () => {
      const from = below(settled.length / PAGE) * PAGE;
      settle(outcomeOf(garbled(settled, from, PAGE), undefined));
      settle(outcomeOf(garbled(file, below(file.length / PAGE) * PAGE, PAGE), log));
    },
  );

  it.each(cases(20))(
    'is refused or found, unless nothing was lost, with a sector written over (%i)',
    () => {
      settle(
        outcomeOf(garbled(settled, below(settled.length / SECTOR) * SECTOR, SECTOR), undefined),
      );
    },
  );

  /** What opens all the same holds every commit: the damage met what is free or stands in the log. */
  function settle(outcome: Outcome): void {
    if ('commit' in outcome) expect(outcome).toEqual({ commit: lastCommit() });
  }
});
