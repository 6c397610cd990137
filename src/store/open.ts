import { existsSync } from 'node:fs';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { commitCountOn, countInFile, numbered } from './commit-count.js';
import { isStorageTrouble, StorageError } from './errors.js';
import { fileBytes } from './file-bytes.js';
import { assertLogFits } from './log-fit.js';
import { assertKnown, migrate } from './migrate.js';

/** Longest synchronous wait for a lock; it blocks the event loop, so it is short. */
const BUSY_TIMEOUT_MS = 1000;
/** A checkpoint that resets the write-ahead log also shrinks its file to this. */
export const JOURNAL_SIZE_LIMIT_BYTES = 64 * 1024 * 1024;
/** Pages a reader keeps; random histories of a large file went through the default 16 MiB. */
const READER_CACHE_KIB = 64 * 1024;
const SYNCHRONOUS_FULL = 2;

/**
 * Opens the one writing connection: write-ahead log, a durable commit
 * (`synchronous=FULL`, which the bundled SQLite would lower to NORMAL by itself),
 * foreign keys on, migrated to the program's version.
 * @throws StorageError when the file cannot be trusted or a setting did not take; Error when
 * the file is newer than the program. The file is as it was, then.
 */
export function openWriter(path: string, migrationsFolder: string): Database {
  assertLogFits(path);
  const looking = look(path, migrationsFolder);
  const db = openFile(path, BUSY_TIMEOUT_MS);
  try {
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    // Else the pages that a savepoint may give back are written to a temporary file.
    db.pragma('temp_store = MEMORY');
    db.pragma('foreign_keys = ON');
    db.pragma('trusted_schema = OFF');
    // Else REPLACE removes a row without asking the triggers that forbid it.
    db.pragma('recursive_triggers = ON');
    db.pragma(`journal_size_limit = ${JOURNAL_SIZE_LIMIT_BYTES}`);
    // A commit that also checkpoints was measured at 36 ms and more: a thread does it (Checkpointer).
    db.pragma('wal_autocheckpoint = 0');
    numbered(db, () => {
      migrate(db, migrationsFolder);
      db.pragma('optimize = 0x10002');
    });
    assertSettings(db);
    looking?.close();
    return db;
  } catch (error) {
    closeBeside(db, looking);
    throw inWords(path, error);
  }
}

/** Closes the writing connection: what the log holds goes into the file, which may then stand alone. */
export function closeWriter(db: Database): void {
  try {
    commitCountOn(db).settle();
    db.close();
  } catch {
    // A full or failing disk: the file stays marked as in use, so its log must stay too.
    const other = new BetterSqlite3(db.name, { readonly: true });
    other.pragma('user_version');
    closeBeside(db, other);
  }
}

/** Closes a writer that must not move its log: SQLite does so where no other connection is left. */
function closeBeside(db: Database, other: Database | undefined): void {
  db.close();
  other?.close();
}

/**
 * Opens a connection that can only read; each worker thread opens its own.
 * @throws StorageError when the log ends before the file does
 */
export function openReader(path: string): Database {
  const inFile = Math.abs(countInFile(path));
  const db = new BetterSqlite3(path, {
    readonly: true,
    fileMustExist: true,
    timeout: BUSY_TIMEOUT_MS,
  });
  try {
    db.pragma('query_only = ON');
    db.pragma(`cache_size = ${-READER_CACHE_KIB}`);
    db.pragma('trusted_schema = OFF');
    const seen = Math.abs(Number(db.pragma('user_version', { simple: true })));
    if (seen < inFile) {
      throw new StorageError(`${path} holds commit ${inFile} and its log ends at ${seen}`);
    }
    return db;
  } catch (error) {
    db.close();
    throw inWords(path, error);
  }
}

/** Looks before anything is written, by a connection that can neither write nor move the log. */
function look(path: string, migrationsFolder: string): Database | undefined {
  // A start that was killed while it turned on the log is undone first, which only a writer can.
  if (fileBytes(path) === 0 || existsSync(`${path}-journal`)) return undefined;
  const db = openReader(path);
  try {
    assertKnown(db, migrationsFolder);
    return db;
  } catch (error) {
    db.close();
    throw inWords(path, error);
  }
}

function openFile(path: string, timeout: number): Database {
  try {
    return new BetterSqlite3(path, { timeout });
  } catch (error) {
    throw inWords(path, error);
  }
}

/** What a person at the console can do, by the beginning of SQLite's code. */
const advice: [string, string][] = [
  ['SQLITE_CANTOPEN', 'look whether its folder is there and may be written'],
  ['SQLITE_READONLY', 'look whether it, its folder and its disk may be written'],
  ['SQLITE_FULL', 'make room on its disk'],
  ['SQLITE_IOERR', 'look at its disk, which cannot be read or written'],
  ['SQLITE_BUSY', 'another program keeps it locked: stop that one first'],
  ['SQLITE_NOTADB', 'it is no database'],
  ['SQLITE_CORRUPT', 'it is damaged: restore a backup'],
];

/** What SQLite says of trouble with a file names neither the file nor what to do. */
function inWords(path: string, error: unknown): unknown {
  if (error instanceof StorageError || !isStorageTrouble(error)) return error;
  const { code, message } = error as { code: string; message: string };
  const known = advice.find(([name]) => code.startsWith(name))?.[1];
  return new StorageError(`${path} cannot be opened: ${known ?? 'look at it'} (${message})`, {
    cause: error,
  });
}

function assertSettings(db: Database): void {
  const settings: [string, unknown][] = [
    ['journal_mode', 'wal'],
    ['synchronous', SYNCHRONOUS_FULL],
    ['foreign_keys', 1],
    ['trusted_schema', 0],
    ['recursive_triggers', 1],
    ['busy_timeout', BUSY_TIMEOUT_MS],
  ];
  for (const [name, wanted] of settings) {
    const found = db.pragma(name, { simple: true });
    if (found !== wanted) throw new StorageError(`SQLite keeps ${name} at ${found}, not ${wanted}`);
  }
}

/**
 * Keeps a second service off the same database for as long as this process lives.
 * The lock is SQLite's own exclusive lock on a side file, so the operating system
 * drops it with the process, however it ends.
 * @throws StorageError when another process holds it.
 */
export function lockDatabase(path: string): { release(): void } {
  const lock = openFile(`${path}.lock`, 0);
  try {
    lock.pragma('journal_mode = DELETE');
    lock.exec('BEGIN EXCLUSIVE');
  } catch (error) {
    lock.close();
    if ((error as { code?: string }).code === 'SQLITE_BUSY') {
      throw new StorageError(`another Skeg already runs on ${path}: stop it first`);
    }
    throw inWords(`${path}.lock`, error);
  }
  return { release: () => lock.close() };
}
