import type { Database } from 'better-sqlite3';

/** Reference motors' SQL on one connection. */
export function referenceRecords(_db: Database) {
  return {};
}
