import type { Database } from 'better-sqlite3';

/** Shift calendars' SQL on one connection. */
export function calendarRecords(_db: Database) {
  return {};
}
