import type { Database } from 'better-sqlite3';
import { NO_SHIFT } from '../calendar/rules.js';
import { nextIdOn } from '../store/next-id.js';
import { READING_BYTES } from './packing.js';

export interface RunRow {
  id: number;
  motorId: number;
  motor: string;
  model: string;
  modelId: number;
  specificationId: number;
  specificationRevision: number;
  cell: string;
  state: 'open' | 'completed' | 'aborted';
  startedAtMs: number;
  endedAtMs: number | null;
  attempt: number | null;
  verdict: 'pass' | 'fail' | null;
  firstPass: number | null;
  cellVerdict: 'pass' | 'fail' | null;
  disagreement: number;
  abortReason: string | null;
  startedBy: string;
  judged: Buffer | null;
}

export interface Batch {
  sequence: number;
  measuredAtMs: number;
  packed: Buffer;
}

/** The plant day and shift that an ended run counts on; the shift may be missing in old events. */
interface CountedOn {
  day: string;
  shift?: string | null;
}

export interface RunFilter {
  cell: string | null;
  state: string | null;
  verdict: string | null;
  fromMs: number;
  untilMs: number;
}

// In this order: left to choose, SQLite begins with the few models and sorts all runs.
const columns = `
  r.id,
  r.motor_id AS motorId,
  u.serial AS motor,
  m.code AS model,
  m.id AS modelId,
  r.specification_id AS specificationId,
  s.revision AS specificationRevision,
  r.cell,
  r.state,
  r.started_at_ms AS startedAtMs,
  r.ended_at_ms AS endedAtMs,
  r.attempt,
  r.verdict,
  r.first_pass AS firstPass,
  r.cell_verdict AS cellVerdict,
  r.disagreement,
  r.abort_reason AS abortReason,
  k.name AS startedBy,
  r.judged
FROM runs r
CROSS JOIN units u ON u.id = r.motor_id
CROSS JOIN models m ON m.id = u.model_id
CROSS JOIN specifications s ON s.id = r.specification_id
CROSS JOIN api_keys k ON k.id = r.started_by`;

/** Test runs' and readings' SQL on one connection. */
export function testingRecords(db: Database) {
  return { ...runStatements(db), ...batchStatements(db) };
}

function runStatements(db: Database) {
  const byId = db.prepare<[number], RunRow>(`SELECT ${columns} WHERE r.id = ?`);
  const openOfMotor = db.prepare<[number], RunRow>(
    `SELECT ${columns} WHERE r.motor_id = ? AND r.state = 'open'`,
  );
  const openInCell = db.prepare<[string], RunRow>(
    `SELECT ${columns} WHERE r.cell = ? AND r.state = 'open'`,
  );
  // Reads the end of runs_by_cell.
  const lastEndedIn = db.prepare<[string], RunRow>(
    `SELECT ${columns}
    WHERE r.cell = ? AND r.ended_at_ms IS NOT NULL
    ORDER BY r.ended_at_ms DESC, r.id DESC
    LIMIT 1`,
  );
  const ofMotor = db.prepare<[number], RunRow>(
    `SELECT ${columns} WHERE r.motor_id = ? ORDER BY r.id`,
  );
  const listed = (state: string) => `SELECT ${columns}
    WHERE ${state} AND r.id > @afterId
      AND +r.started_at_ms >= @fromMs AND +r.started_at_ms < @untilMs
      AND (@cell IS NULL OR r.cell = @cell)
      AND (@verdict IS NULL OR r.verdict = @verdict)
    ORDER BY r.id
    LIMIT @limit`;
  type Listing = [RunFilter & { afterId: number; limit: number }];
  const list = db.prepare<Listing, RunRow>(listed('(@state IS NULL OR r.state = @state)'));
  // Reads run_open_on_motor, which holds the few that are open.
  const listOpen = db.prepare<Listing, RunRow>(
    listed(`r.id IN (
    SELECT id FROM runs INDEXED BY run_open_on_motor WHERE state = 'open')`),
  );
  // Reads the unique index on (motor_id, attempt).
  const lastCompleted = db.prepare<[number], RunRow>(
    `SELECT ${columns} WHERE r.motor_id = ? AND r.attempt IS NOT NULL ORDER BY r.attempt DESC LIMIT 1`,
  );
  const attempts = db.prepare<[number], { n: number }>(
    'SELECT COALESCE(MAX(attempt), 0) AS n FROM runs WHERE motor_id = ?',
  );
  const start = db.prepare(`
    INSERT INTO runs
      (id, motor_id, specification_id, cell, state, started_at_ms, disagreement, started_by)
    VALUES (@id, @motorId, @specificationId, @cell, 'open', @startedAtMs, 0, @startedById)`);
  const move = db.prepare('UPDATE runs SET cell = ? WHERE id = ?');
  const complete = db.prepare(`
    UPDATE runs
    SET state = 'completed',
        ended_at_ms = MAX(started_at_ms, @endedAtMs),
        attempt = @attempt,
        verdict = @verdict,
        first_pass = @firstPass,
        cell_verdict = @cellVerdict,
        disagreement = @disagreement,
        judged = @judged,
        counted_day = @day,
        counted_shift = @shift
    WHERE id = @id`);
  const addFailure = db.prepare(
    'INSERT INTO run_failures (run_id, characteristic_id) VALUES (?, ?)',
  );
  const abort = db.prepare(`
    UPDATE runs
    SET state = 'aborted',
        ended_at_ms = MAX(started_at_ms, @endedAtMs),
        abort_reason = @reason,
        counted_day = @day,
        counted_shift = @shift
    WHERE id = @id`);
  return {
    run: (id: number) => byId.get(id),
    openOfMotor: (motorId: number) => openOfMotor.get(motorId),
    openInCell: (cell: string) => openInCell.get(cell),
    /** The run that ended last in a cell, completed or aborted. */
    lastEndedIn: (cell: string) => lastEndedIn.get(cell),
    runsOf: (motorId: number) => ofMotor.all(motorId),
    runs: (filter: RunFilter, afterId: number, limit: number) =>
      (filter.state === 'open' ? listOpen : list).all({ ...filter, afterId, limit }),
    lastCompleted: (motorId: number) => lastCompleted.get(motorId),
    /** Completed runs of a motor. */
    attempts: (motorId: number) => attempts.get(motorId)?.n ?? 0,
    nextRunId: nextIdOn(db, 'runs'),
    start: (row: {
      id: number;
      motorId: number;
      specificationId: number;
      cell: string;
      startedAtMs: number;
      startedById: number;
    }) => void start.run(row),
    move: (id: number, cell: string) => void move.run(cell, id),
    complete(row: {
      id: number;
      endedAtMs: number;
      attempt: number;
      verdict: 'pass' | 'fail';
      firstPass: boolean | null;
      cellVerdict: 'pass' | 'fail' | null;
      disagreement: boolean;
      judged: Buffer;
      failedIds: readonly number[];
      countedOn: CountedOn;
    }): void {
      const { failedIds, countedOn, firstPass, disagreement, ...run } = row;
      complete.run({
        day: countedOn.day,
        shift: countedOn.shift ?? NO_SHIFT,
        firstPass: firstPass === null ? null : Number(firstPass),
        disagreement: Number(disagreement),
        ...run,
      });
      for (const id of failedIds) addFailure.run(row.id, id);
    },
    abort: ({
      countedOn,
      ...row
    }: {
      id: number;
      endedAtMs: number;
      reason: string;
      countedOn: CountedOn;
    }) => void abort.run({ day: countedOn.day, shift: countedOn.shift ?? NO_SHIFT, ...row }),
  };
}

function batchStatements(db: Database) {
  const add = db.prepare(`
    INSERT INTO reading_batches (run_id, sequence, measured_at_ms, packed)
    VALUES (@runId, @sequence, @measuredAtMs, @packed)`);
  const find = db.prepare<[number, number], Batch>(`
    SELECT sequence, measured_at_ms AS measuredAtMs, packed
    FROM reading_batches
    WHERE run_id = ? AND sequence = ?`);
  const ofRun = db.prepare<[number], Batch>(`
    SELECT sequence, measured_at_ms AS measuredAtMs, packed
    FROM reading_batches
    WHERE run_id = ?
    ORDER BY sequence`);
  const held = db.prepare<[number], { bytes: number | null; last: number | null }>(
    'SELECT SUM(length(packed)) AS bytes, MAX(sequence) AS last FROM reading_batches WHERE run_id = ?',
  );
  return {
    addBatch: (row: Batch & { runId: number }) => void add.run(row),
    batch: (runId: number, sequence: number) => find.get(runId, sequence),
    /** In the order in which the cell numbered them, however they arrived. */
    batches: (runId: number) => ofRun.all(runId),
    /** How many readings a run holds, and the number of its last batch: 0 where it has none. */
    held(runId: number): { readings: number; lastBatch: number } {
      const row = held.get(runId);
      return { readings: (row?.bytes ?? 0) / READING_BYTES, lastBatch: row?.last ?? 0 };
    },
  };
}
