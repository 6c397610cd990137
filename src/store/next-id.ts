import type { Database } from 'better-sqlite3';

/**
 * A function that gives the id of a table's next row: one above the highest. Events state
 * the ids of what they make, so an id is known before its row is written; with one writer
 * nobody takes it meanwhile.
 */
export function nextIdOn(db: Database, table: string): () => number {
  const next = db.prepare<[], { id: number }>(
    `SELECT COALESCE(MAX(id), 0) + 1 AS id FROM ${table}`,
  );
  return () => next.get()?.id ?? 1;
}
