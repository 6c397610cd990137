import { closeSync, openSync, readSync } from 'node:fs';
import type { Database } from 'better-sqlite3';

/**
 * Every commit leaves its number in the first page, in SQLite's `user_version`: below zero
 * while a service writes to the file, above once that has closed it in order. A checkpoint
 * writes the first page before any other, so the number in the file itself says how far it
 * has come, and the log beside it must go on from there (`assertLogFits`).
 */

/** `user_version` is a signed 32-bit number. A count that came so far stays, and compares equal. */
const LIMIT = 2 ** 31 - 1;
/** Where `user_version` stands in a first page (SQLite's file format, section 1.3). */
export const COUNT_OFFSET = 60;

/** Counts the commits of the writing connection. */
export function commitCountOn(db: Database): { next(): void; settle(): void } {
  const kept = db.prepare<[], number>('SELECT user_version FROM pragma_user_version').pluck();
  const put = (count: number) => db.exec(`PRAGMA user_version = ${count}`);
  return {
    /** Numbers the transaction that is about to commit. */
    next: () => put(-Math.min(Math.abs(kept.get() ?? 0) + 1, LIMIT)),
    /** Notes that no more will be written: from here on the file may stand without its log. */
    settle(): void {
      const count = kept.get() ?? 0;
      if (count < 0) put(-count);
    },
  };
}

/** Runs work in one numbered transaction of its own, outside the queue of commands. */
export function numbered<T>(db: Database, work: () => T): T {
  const count = commitCountOn(db);
  const run = db.transaction(() => {
    const value = work();
    count.next();
    return value;
  });
  return run.immediate();
}

/** The number in the file itself, whatever its log holds; 0 where there is no file or no whole page. */
export function countInFile(path: string): number {
  let file: number;
  try {
    file = openSync(path, 'r');
  } catch {
    return 0;
  }
  try {
    const field = Buffer.alloc(4);
    const read = readSync(file, field, 0, field.length, COUNT_OFFSET);
    return read === field.length ? field.readInt32BE() : 0;
  } finally {
    closeSync(file);
  }
}
