import BetterSqlite3, { type Database } from 'better-sqlite3';
import { databaseFile } from '../../../src/config.js';
import type { Condition } from '../../../src/tracing/schema.js';
import { LOT_PART } from '../support/plant.js';

/** Motors that the lot in question went into, where the file has so many. */
export const MOTORS_OF_A_LOT = 5000;

/** Which motors of a file have a lot: every `step`th from a place on, counted from 0. */
export interface Spread {
  lot: string;
  from: number;
  step: number;
  count: number;
}

/** The question for every motor with a lot of the benchmarks' lot part. */
export function withLot(lot: string): Condition {
  return { lot: { part: LOT_PART.number, revision: LOT_PART.revision, lot } };
}

/**
 * Writes lots straight into a file, on both halves of each motor as set. The journal
 * knows nothing of them, so only a copy that is thrown away may be given.
 */
export function addLots(folder: string, lots: readonly Spread[]): void {
  const db = new BetterSqlite3(databaseFile(folder));
  try {
    for (const lot of lots) addLot(db, lot);
  } finally {
    db.close();
  }
}

function addLot(db: Database, { lot, ...spread }: Spread): void {
  const part = db
    .prepare<[string, string], { id: number }>(
      'SELECT id FROM parts WHERE number = ? AND revision = ?',
    )
    .get(LOT_PART.number, LOT_PART.revision);
  const { lastInsertRowid: lotId } = db
    .prepare('INSERT INTO lots (part_id, code) VALUES (?, ?)')
    .run(part?.id, lot);
  const { changes } = db
    .prepare(`
      WITH chosen AS (
        SELECT powerhead_id, lower_unit_id, at_ms
        FROM (
          SELECT s.*, ROW_NUMBER() OVER (ORDER BY motor_id) - 1 AS place
          FROM sets s)
        WHERE place >= @from AND (place - @from) % @step = 0
        LIMIT @count)
      INSERT INTO lot_uses (unit_id, lot_id, at_ms)
      SELECT powerhead_id, @lotId, at_ms FROM chosen
      UNION ALL
      SELECT lower_unit_id, @lotId, at_ms FROM chosen`)
    .run({ ...spread, lotId });
  if (changes !== spread.count * 2) throw new Error(`the lot is on ${changes} halves`);
}
