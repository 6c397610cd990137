import type { Database } from 'better-sqlite3';

/** Control charts' SQL on one connection. */
export function chartRecords(_db: Database) {
  return {};
}
