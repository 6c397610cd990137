import BetterSqlite3, { type Database } from 'better-sqlite3';
import { StorageError } from './errors.js';
import { migrate } from './migrate.js';

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
 * @throws StorageError when a setting did not take.
 */
export function openWriter(path: string, migrationsFolder: string): Database {
  const db = new BetterSqlite3(path, { timeout: BUSY_TIMEOUT_MS });
  try {
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    db.pragma('foreign_keys = ON');
    db.pragma('trusted_schema = OFF');
    // Else REPLACE removes a row without asking the triggers that forbid it.
    db.pragma('recursive_triggers = ON');
    db.pragma(`journal_size_limit = ${JOURNAL_SIZE_LIMIT_BYTES}`);
    // A commit that also checkpoints was measured at 36 ms and more: a thread does it (Checkpointer).
    db.pragma('wal_autocheckpoint = 0');
    migrate(db, migrationsFolder);
    db.pragma('optimize = 0x10002');
    assertSettings(db);
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}

/** Opens a connection that can only read; each worker thread opens its own. */
export function openReader(path: string): Database {
  const db = new BetterSqlite3(path, {
    readonly: true,
    fileMustExist: true,
    timeout: BUSY_TIMEOUT_MS,
  });
  db.pragma('query_only = ON');
  db.pragma(`cache_size = ${-READER_CACHE_KIB}`);
  db.pragma('trusted_schema = OFF');
  return db;
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
  const lock = new BetterSqlite3(`${path}.lock`, { timeout: 0 });
  try {
    lock.pragma('journal_mode = DELETE');
    lock.exec('BEGIN EXCLUSIVE');
  } catch (error) {
    lock.close();
    if ((error as { code?: string }).code === 'SQLITE_BUSY') {
      throw new StorageError(`another Skeg already runs on ${path}: stop it first`);
    }
    throw error;
  }
  return { release: () => lock.close() };
}
