import type { Database } from 'better-sqlite3';
import { DEPTH_LIMIT } from '../genealogy/records.js';

export interface NeighbourRow {
  motor: string;
  model: string;
  state: string;
  atMs: number;
  /** Field returns of it so far. */
  returns: number;
}

export interface TestedRow extends NeighbourRow {
  run: number;
  verdict: 'pass' | 'fail';
}

export interface SharedLotRow {
  lotId: number;
  part: string;
  partRevision: string;
  lot: string;
}

/** What was completed beside a run: when, and by whom not. */
export interface Beside {
  runId: number;
  motorId: number;
  cell: string;
  endedAtMs: number;
  limit: number;
}

const neighbour = `
  u.serial AS motor,
  m.code AS model,
  u.state,
  (SELECT COUNT(*) FROM returns x WHERE x.motor_id = u.id) AS returns`;

/** What stood beside a motor when it was made, on one connection. */
export function neighbourRecords(db: Database) {
  const tested = (side: '<' | '>', order: 'ASC' | 'DESC') =>
    // Reads runs_by_cell outward from the run.
    db.prepare<[Beside], TestedRow>(`
      SELECT ${neighbour}, r.ended_at_ms AS atMs, r.id AS run, r.verdict
      FROM runs r
      JOIN units u ON u.id = r.motor_id
      JOIN models m ON m.id = u.model_id
      WHERE r.cell = @cell
        AND (r.ended_at_ms, r.id) ${side} (@endedAtMs, @runId)
        AND r.state = 'completed'
        AND r.motor_id <> @motorId
      ORDER BY r.ended_at_ms ${order}, r.id ${order}
      LIMIT @limit`);
  const before = tested('<', 'DESC');
  const after = tested('>', 'ASC');
  // Reads sets_by_station.
  const setBetween = db.prepare<
    [{ station: string; fromMs: number; untilMs: number; motorId: number; limit: number }],
    NeighbourRow & { motors: number }
  >(`
    SELECT ${neighbour}, s.at_ms AS atMs, COUNT(*) OVER () AS motors
    FROM sets s
    JOIN units u ON u.id = s.motor_id
    JOIN models m ON m.id = u.model_id
    WHERE s.station = @station
      AND s.at_ms >= @fromMs AND s.at_ms < @untilMs
      AND s.motor_id <> @motorId
    ORDER BY s.at_ms, s.motor_id
    LIMIT @limit`);
  // Reads installations_by_parent from the motor down, then lot_uses by its primary key.
  const lotsIn = db.prepare<[{ motorId: number; atMs: number; limit: number }], SharedLotRow>(`
    WITH RECURSIVE inside (unit_id, depth) AS (
      SELECT @motorId, 0
      UNION ALL
      SELECT i.child_id, inside.depth + 1
      FROM inside
      JOIN installations i ON i.parent_id = inside.unit_id
      WHERE i.from_ms <= @atMs
        AND (i.until_ms IS NULL OR i.until_ms > @atMs)
        AND inside.depth < ${DEPTH_LIMIT}
    )
    SELECT DISTINCT l.id AS lotId, p.number AS part, p.revision AS partRevision, l.code AS lot
    FROM inside
    JOIN lot_uses x ON x.unit_id = inside.unit_id AND x.at_ms <= @atMs
    JOIN lots l ON l.id = x.lot_id
    JOIN parts p ON p.id = l.part_id
    ORDER BY p.number, p.revision, l.code
    LIMIT @limit`);
  // Reads lot_uses_by_lot, then installation_of_child upward: a long question for a large lot.
  const sharing = db.prepare<
    [{ lotId: number; motorId: number; limit: number }],
    { serial: string; motors: number }
  >(`
    WITH RECURSIVE up (unit_id, depth) AS (
      SELECT unit_id, 0 FROM lot_uses WHERE lot_id = @lotId
      UNION
      SELECT i.parent_id, up.depth + 1
      FROM up
      JOIN installations i ON i.child_id = up.unit_id AND i.until_ms IS NULL
      WHERE up.depth < ${DEPTH_LIMIT}
    )
    SELECT serial, COUNT(*) OVER () AS motors
    FROM (
      SELECT DISTINCT u.id, u.serial
      FROM up
      JOIN units u ON u.id = up.unit_id
      WHERE u.class = 'motor' AND u.id <> @motorId)
    ORDER BY id
    LIMIT @limit`);
  // Reads runs_by_end for each of the model's specifications.
  const judgedWithin = db.prepare<
    [{ modelId: number; fromMs: number; untilMs: number }],
    { specificationId: number; judged: Buffer }
  >(`
    SELECT r.specification_id AS specificationId, r.judged
    FROM specifications s
    CROSS JOIN runs r INDEXED BY runs_by_end ON r.specification_id = s.id
    WHERE s.model_id = @modelId
      AND r.state = 'completed'
      AND r.ended_at_ms >= @fromMs AND r.ended_at_ms <= @untilMs
      AND NOT EXISTS (
        SELECT 1 FROM runs later WHERE later.motor_id = r.motor_id AND later.attempt > r.attempt)`);
  return {
    /** Completed runs of other motors in the cell before a run, the nearest first. */
    testedBefore: (beside: Beside) => before.all(beside),
    /** The same after it. */
    testedAfter: (beside: Beside) => after.all(beside),
    /** Judged values of each motor's latest completed run, where it ended in a span, both ends counted. */
    judgedWithin: (modelId: number, fromMs: number, untilMs: number) =>
      judgedWithin.iterate({ modelId, fromMs, untilMs }),
    /** Other motors set at a station in a span, with how many there are in all. */
    setBetween: (of: {
      station: string;
      fromMs: number;
      untilMs: number;
      motorId: number;
      limit: number;
    }) => setBetween.all(of),
    /** Lots that were used on a motor and all in it at an instant. */
    lotsIn: (motorId: number, atMs: number, limit: number) => lotsIn.all({ motorId, atMs, limit }),
    /** Other motors that have the lot in them now, with how many there are in all. */
    sharingLot: (lotId: number, motorId: number, limit: number) =>
      sharing.all({ lotId, motorId, limit }),
  };
}
