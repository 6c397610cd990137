import type { Database } from 'better-sqlite3';

/** Drawn engines' SQL on one connection. */
export function emissionRecords(_db: Database) {
  return {};
}
