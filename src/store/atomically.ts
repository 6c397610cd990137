import type { Database } from 'better-sqlite3';

/**
 * A function that runs work whole or undoes it where it throws: in a savepoint when a
 * transaction is open, else in a transaction of its own, which a reader needs for one
 * snapshot. The statements are prepared once: every command goes through here.
 */
export function atomicallyOn(db: Database): <T>(work: () => T) => T {
  const begin = db.prepare('BEGIN');
  const commit = db.prepare('COMMIT');
  const rollback = db.prepare('ROLLBACK');
  const savepoint = db.prepare('SAVEPOINT work');
  const release = db.prepare('RELEASE work');
  const undo = db.prepare('ROLLBACK TO work');
  return (work) => {
    const nested = db.inTransaction;
    (nested ? savepoint : begin).run();
    try {
      const value = work();
      (nested ? release : commit).run();
      return value;
    } catch (error) {
      // After some errors SQLite has given up the whole transaction already.
      if (db.inTransaction) {
        (nested ? undo : rollback).run();
        if (nested) release.run();
      }
      throw error;
    }
  };
}
