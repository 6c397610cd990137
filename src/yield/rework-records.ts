import type { Database } from 'better-sqlite3';
import type { RepairOutcome } from '../repair/records.js';
import type { UnitState } from '../units/records.js';
import type { ReworkCase, Standing } from './rework-rules.js';
import type { Days } from './rules.js';
import { stepRecords } from './step-records.js';

/** Of which motors, in what window: by its days, and from its first instant until before its last. */
export interface ReworkFilter extends Days {
  fromMs: number;
  untilMs: number;
  model: string | null;
  cell: string | null;
}

interface CountedFilter {
  firstDay: string;
  lastDay: string;
  model: string | null;
  cell: string | null;
}

function countedOn({ fromDay, untilDay, model, cell }: ReworkFilter): CountedFilter {
  return { firstDay: fromDay ?? '0000-01-01', lastDay: untilDay ?? '9999-12-31', model, cell };
}

export interface ReworkedMotor {
  id: number;
  motor: string;
  model: string;
  state: UnitState;
  /** Completed runs beyond the first. */
  loops: number;
}

/** A motor in repair, or one that awaits a test again. */
export interface WaitingRow extends Standing {
  id: number;
  motor: string;
  model: string;
  /** Its last completed run. */
  runId: number | null;
  cell: string | null;
  failed: string[];
  repairId: number | null;
  complaint: string | null;
}

interface StoredCase {
  motorId: number;
  model: string;
  goesOn: number;
  repairId: number;
  atMs: number;
  outcome: RepairOutcome | null;
  symptom: string | null;
  cause: string | null;
  action: string | null;
  runId: number | null;
  cell: string | null;
  failed: string;
  nextEndedAtMs: number | null;
  nextVerdict: 'pass' | 'fail' | null;
  nextFailed: string;
}

interface StoredWaiting extends Omit<WaitingRow, 'last' | 'failed'> {
  lastEndedAtMs: number | null;
  lastVerdict: 'pass' | 'fail' | null;
  conceded: number;
  failed: string;
}

/** Rework's SQL on one connection: long questions, asked in a worker only; and the steps'. */
export function reworkRecords(db: Database) {
  return {
    ...caseStatements(db),
    ...motorStatements(db),
    ...waitingStatements(db),
    ...stepRecords(db),
  };
}

/** Codes of the characteristics that failed in a run, in the specification's order, as JSON. */
function failedIn(run: string): string {
  return `(
    SELECT json_group_array(c.code ORDER BY c.position)
    FROM run_failures f
    JOIN characteristics c ON c.id = f.characteristic_id
    WHERE f.run_id = ${run})`;
}

function caseStatements(db: Database) {
  // Reads repairs_by_opening: each failed run opens a repair at its end. The next run is found
  // by the unique index on (motor_id, attempt).
  const cases = db.prepare<[ReworkFilter], StoredCase>(`
    SELECT p.motor_id AS motorId,
           m.code AS model,
           u.state IN ('awaiting-test', 'in-test', 'in-repair') AS goesOn,
           p.id AS repairId,
           p.opened_at_ms AS atMs,
           p.outcome,
           p.symptom,
           p.cause,
           p.action,
           r.id AS runId,
           r.cell,
           ${failedIn('r.id')} AS failed,
           n.ended_at_ms AS nextEndedAtMs,
           n.verdict AS nextVerdict,
           ${failedIn('n.id')} AS nextFailed
    FROM repairs p
    JOIN units u ON u.id = p.motor_id
    JOIN models m ON m.id = u.model_id
    LEFT JOIN runs r ON r.id = p.run_id
    LEFT JOIN runs n ON n.motor_id = r.motor_id AND n.attempt = r.attempt + 1
    WHERE p.opened_at_ms >= @fromMs AND p.opened_at_ms < @untilMs
      AND (@model IS NULL OR m.code = @model)
      AND (@cell IS NULL OR r.cell = @cell)
    ORDER BY p.opened_at_ms, p.id`);
  return {
    /** Repairs opened in the window, each with the run that it was opened for and the next one. */
    cases: (filter: ReworkFilter): ReworkCase[] => cases.all(filter).map(decodeCase),
  };
}

function decodeCase(row: StoredCase): ReworkCase {
  const { runId, cell, failed, nextEndedAtMs, nextVerdict, nextFailed, goesOn, ...own } = row;
  const next =
    nextEndedAtMs === null || nextVerdict === null
      ? null
      : { endedAtMs: nextEndedAtMs, verdict: nextVerdict, failed: JSON.parse(nextFailed) };
  const run =
    runId === null || cell === null
      ? null
      : { id: runId, cell, failed: JSON.parse(failed) as string[], next };
  return { ...own, goesOn: goesOn === 1, run };
}

function motorStatements(db: Database) {
  // Reads yield_motors by day, then runs by their unique index on (motor_id, attempt).
  const loops = '(SELECT MAX(x.attempt) - 1 FROM runs x WHERE x.motor_id = y.motor_id)';
  const counted = `
    FROM yield_motors y
    WHERE y.day >= @firstDay AND y.day <= @lastDay
      AND (@model IS NULL OR y.model_id = (SELECT id FROM models WHERE code = @model))
      AND (@cell IS NULL OR y.cell = @cell)`;
  const byLoops = db.prepare<[CountedFilter], { loops: number; motors: number }>(`
    SELECT ${loops} AS loops, COUNT(*) AS motors ${counted} GROUP BY 1 ORDER BY 1`);
  const withLoops = db.prepare<
    [CountedFilter & { loops: number; afterId: number; limit: number }],
    { id: number }
  >(`
    SELECT y.motor_id AS id ${counted} AND y.motor_id > @afterId AND ${loops} = @loops
    ORDER BY y.motor_id
    LIMIT @limit`);
  const motors = db.prepare<[string], ReworkedMotor>(`
    SELECT u.id, u.serial AS motor, m.code AS model, u.state,
           COALESCE((SELECT MAX(x.attempt) - 1 FROM runs x WHERE x.motor_id = u.id), 0) AS loops
    FROM json_each(?) j
    CROSS JOIN units u ON u.id = j.value
    JOIN models m ON m.id = u.model_id
    ORDER BY u.id`);
  const completed = db.prepare<[number], { id: number }>(
    'SELECT id FROM runs WHERE motor_id = ? AND attempt IS NOT NULL ORDER BY attempt',
  );
  return {
    /** Motors whose first completed run is in the window, by completed runs beyond it. */
    motorsByLoops: (filter: ReworkFilter) => byLoops.all(countedOn(filter)),
    /** Ids of those with so many. */
    motorsWithLoops: (filter: ReworkFilter, loops: number, afterId: number, limit: number) =>
      withLoops.all({ ...countedOn(filter), loops, afterId, limit }).map((row) => row.id),
    motors: (ids: readonly number[]) => motors.all(JSON.stringify(ids)),
    completedRuns: (motorId: number) => completed.all(motorId).map((row) => row.id),
  };
}

function waitingStatements(db: Database) {
  // Reads motors_by_state. A motor that passed, or whose failure was conceded, goes back by the
  // first of these events after its last completed run.
  const waiting = db.prepare<[{ model: string | null }], StoredWaiting>(`
    SELECT u.id,
           u.serial AS motor,
           m.code AS model,
           u.state,
           l.id AS runId,
           l.cell,
           l.ended_at_ms AS lastEndedAtMs,
           l.verdict AS lastVerdict,
           EXISTS (
             SELECT 1 FROM repairs x
             WHERE x.motor_id = u.id AND x.run_id = l.id AND x.outcome = 'concession'
           ) AS conceded,
           ${failedIn('l.id')} AS failed,
           (SELECT e.occurred_at_ms
            FROM event_units x
            JOIN events e ON e.seq = x.seq
            WHERE x.unit_id = u.id
              AND e.kind IN ('repair.opened', 'retest.allowed')
              AND x.seq > (
                SELECT MAX(y.seq)
                FROM event_units y
                JOIN events o ON o.seq = y.seq
                WHERE y.unit_id = u.id AND o.kind = 'run.completed')
            ORDER BY x.seq
            LIMIT 1) AS backAtMs,
           p.id AS repairId,
           p.opened_at_ms AS repairAtMs,
           p.complaint
    FROM units u
    JOIN models m ON m.id = u.model_id
    LEFT JOIN runs l ON l.motor_id = u.id
      AND l.attempt = (SELECT MAX(x.attempt) FROM runs x WHERE x.motor_id = u.id)
    LEFT JOIN repairs p ON p.id = (SELECT MAX(x.id) FROM repairs x WHERE x.motor_id = u.id)
    WHERE u.class = 'motor' AND u.state IN ('in-repair', 'awaiting-test')
      AND (u.state = 'in-repair' OR l.id IS NOT NULL)
      AND (@model IS NULL OR m.code = @model)`);
  return {
    /** Motors in repair, and those that await a test after a completed one. */
    waiting: (model: string | null): WaitingRow[] => waiting.all({ model }).map(decodeWaiting),
  };
}

function decodeWaiting(row: StoredWaiting): WaitingRow {
  const { lastEndedAtMs, lastVerdict, conceded, failed, ...own } = row;
  const last =
    lastEndedAtMs === null || lastVerdict === null
      ? null
      : { endedAtMs: lastEndedAtMs, verdict: lastVerdict, conceded: conceded === 1 };
  return { ...own, last, failed: JSON.parse(failed) as string[] };
}
