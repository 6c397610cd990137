import type { Database } from 'better-sqlite3';

/** Rework's SQL on one connection. */
export function reworkRecords(_db: Database) {
  return {};
}
