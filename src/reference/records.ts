import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import type { Shift, StudyRun } from './rules.js';

export interface ReferenceMotorRow {
  id: number;
  motorId: number;
  motor: string;
  state: string;
  modelId: number;
  model: string;
  intervalHours: number;
  baselineRuns: number;
  /** Cells that have to run it, by name; none once it is retired. */
  cells: string[];
  reason: string;
  holdId: number;
  designatedAtMs: number;
  designatedBy: string;
  retiredAtMs: number | null;
  retiredBy: string | null;
  retireReason: string | null;
}

export interface ReferenceRunRow {
  id: number;
  referenceMotorId: number;
  motor: string;
  model: string;
  cell: string;
  specificationId: number;
  atMs: number;
  recordedBy: string;
  /** Judged values in the specification's order; see src/testing/packing.ts. */
  judged: Buffer;
  compared: number;
  shifts: Shift[];
}

/** How a cell stands with a reference motor that it has to run. */
export interface ReferenceCellRow {
  referenceMotorId: number;
  motor: string;
  model: string;
  cell: string;
  intervalHours: number;
  dueAtMs: number;
  lastRunId: number | null;
  lastRunAtMs: number | null;
  compared: number | null;
  shifts: Shift[];
}

/** What tells whether a cell needs a notice. */
export interface NoticeRow {
  motor: string;
  intervalHours: number;
  dueAtMs: number;
  lastRunId: number | null;
  lastRunAtMs: number | null;
  shifted: number;
  /** JSON. */
  shifts: string | null;
}

/** A run's judged values, with what is needed to read them. */
export interface JudgedReferenceRun extends Omit<StudyRun, 'value'> {
  motor: string;
  atMs: number;
  specificationId: number;
  judged: Buffer;
}

export interface MotorFilter {
  model: string | null;
  inUse: number | null;
}

export interface ReferenceRunFilter {
  referenceMotorId: number | null;
  cell: string | null;
  fromMs: number;
  untilMs: number;
}

interface NewReferenceRun {
  id: number;
  referenceMotorId: number;
  cell: string;
  specificationId: number;
  atMs: number;
  recordedById: number;
  judged: Buffer;
  compared: number;
  shifts: readonly Shift[];
}

type StoredMotor = Omit<ReferenceMotorRow, 'cells'> & { cells: string };
type StoredRun = Omit<ReferenceRunRow, 'shifts'> & { shifts: string };
type StoredCell = Omit<ReferenceCellRow, 'shifts'> & { shifts: string | null };

const HOUR_MS = 60 * 60 * 1000;

/** Reference motors' SQL on one connection. */
export function referenceRecords(db: Database) {
  return { ...motorStatements(db), ...cellStatements(db), ...runStatements(db) };
}

const motorColumns = `
  f.id,
  f.motor_id AS motorId,
  u.serial AS motor,
  u.state,
  u.model_id AS modelId,
  m.code AS model,
  f.interval_hours AS intervalHours,
  f.baseline_runs AS baselineRuns,
  (SELECT json_group_array(c.cell ORDER BY c.cell)
   FROM reference_cells c
   WHERE c.reference_motor_id = f.id AND c.required = 1) AS cells,
  f.reason,
  f.hold_id AS holdId,
  f.designated_at_ms AS designatedAtMs,
  designator.name AS designatedBy,
  f.retired_at_ms AS retiredAtMs,
  retirer.name AS retiredBy,
  f.retire_reason AS retireReason
FROM reference_motors f
JOIN units u ON u.id = f.motor_id
JOIN models m ON m.id = u.model_id
JOIN api_keys designator ON designator.id = f.designated_by
LEFT JOIN api_keys retirer ON retirer.id = f.retired_by`;

const decodeMotor = (row: StoredMotor): ReferenceMotorRow => ({
  ...row,
  cells: JSON.parse(row.cells) as string[],
});

function motorStatements(db: Database) {
  const byId = db.prepare<[number], StoredMotor>(`SELECT ${motorColumns} WHERE f.id = ?`);
  // Reads reference_motor_in_use.
  const inUse = db.prepare<[number], StoredMotor>(
    `SELECT ${motorColumns} WHERE f.motor_id = ? AND f.retired_at_ms IS NULL`,
  );
  const list = db.prepare<[MotorFilter & { afterId: number; limit: number }], StoredMotor>(
    `SELECT ${motorColumns}
    WHERE f.id > @afterId
      AND (@model IS NULL OR m.code = @model)
      AND (@inUse IS NULL OR @inUse = (f.retired_at_ms IS NULL))
    ORDER BY f.id
    LIMIT @limit`,
  );
  const add = db.prepare(`
    INSERT INTO reference_motors
      (id, motor_id, interval_hours, baseline_runs, reason, hold_id, designated_at_ms, designated_by)
    VALUES
      (@id, @motorId, @intervalHours, @baselineRuns, @reason, @holdId, @atMs, @keyId)`);
  const setInterval = db.prepare('UPDATE reference_motors SET interval_hours = ? WHERE id = ?');
  const retire = db.prepare(`
    UPDATE reference_motors
    SET retired_at_ms = @atMs, retired_by = @keyId, retire_reason = @reason
    WHERE id = @id`);
  const decoded = (row: StoredMotor | undefined) => (row ? decodeMotor(row) : undefined);
  return {
    referenceMotor: (id: number) => decoded(byId.get(id)),
    /** The reference motor that a motor is now. */
    inUse: (motorId: number) => decoded(inUse.get(motorId)),
    referenceMotors: (filter: MotorFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }).map(decodeMotor),
    nextMotorId: nextIdOn(db, 'reference_motors'),
    designate: (row: {
      id: number;
      motorId: number;
      intervalHours: number;
      baselineRuns: number;
      reason: string;
      holdId: number;
      atMs: number;
      keyId: number;
    }) => void add.run(row),
    setInterval: (id: number, hours: number) => void setInterval.run(hours, id),
    retire: (row: { id: number; reason: string; atMs: number; keyId: number }) =>
      void retire.run(row),
  };
}

function cellStatements(db: Database) {
  const release = db.prepare(
    'UPDATE reference_cells SET required = 0 WHERE reference_motor_id = ?',
  );
  // A cell that comes back keeps its last run, but has the whole interval from now on.
  const add = db.prepare(`
    INSERT INTO reference_cells
      (reference_motor_id, cell, required, required_from_ms, due_at_ms, shifted)
    VALUES (@id, @cell, 1, @atMs, @atMs + ${HOUR_MS} * @intervalHours, 0)
    ON CONFLICT DO UPDATE
    SET required = 1, required_from_ms = excluded.required_from_ms, due_at_ms = excluded.due_at_ms`);
  const keep = db.prepare(`
    UPDATE reference_cells
    SET required = 1,
        due_at_ms = ${HOUR_MS} * @intervalHours + MAX(required_from_ms, COALESCE(
          (SELECT r.at_ms FROM reference_runs r WHERE r.id = reference_cells.last_run_id), 0))
    WHERE reference_motor_id = @id AND cell = @cell`);
  const list = db.prepare<
    [{ cell: string | null; afterId: number; afterCell: string; limit: number }],
    StoredCell
  >(`
    SELECT c.reference_motor_id AS referenceMotorId,
           u.serial AS motor,
           m.code AS model,
           c.cell,
           f.interval_hours AS intervalHours,
           c.due_at_ms AS dueAtMs,
           c.last_run_id AS lastRunId,
           r.at_ms AS lastRunAtMs,
           r.compared,
           r.shifts
    FROM reference_cells c
    JOIN reference_motors f ON f.id = c.reference_motor_id
    JOIN units u ON u.id = f.motor_id
    JOIN models m ON m.id = u.model_id
    LEFT JOIN reference_runs r ON r.id = c.last_run_id
    WHERE c.required = 1
      AND (@cell IS NULL OR c.cell = @cell)
      AND (c.reference_motor_id, c.cell) > (@afterId, @afterCell)
    ORDER BY c.reference_motor_id, c.cell
    LIMIT @limit`);
  // Reads reference_cells_by_cell, and nothing more where all is well: asked with every run.
  const amiss = db.prepare<[string, number], NoticeRow>(`
    SELECT u.serial AS motor,
           f.interval_hours AS intervalHours,
           c.due_at_ms AS dueAtMs,
           c.last_run_id AS lastRunId,
           r.at_ms AS lastRunAtMs,
           c.shifted,
           r.shifts
    FROM reference_cells c INDEXED BY reference_cells_by_cell
    CROSS JOIN reference_motors f ON f.id = c.reference_motor_id
    CROSS JOIN units u ON u.id = f.motor_id
    LEFT JOIN reference_runs r ON r.id = c.last_run_id
    WHERE c.cell = ? AND c.required = 1 AND (c.due_at_ms < ? OR c.shifted = 1)
    ORDER BY c.reference_motor_id`);
  return {
    /** Puts cells on a reference motor's schedule, and all others off it. */
    schedule(
      row: { id: number; intervalHours: number; atMs: number },
      { kept, added }: { kept: readonly string[]; added: readonly string[] },
    ): void {
      const { id, intervalHours } = row;
      release.run(id);
      for (const cell of kept) keep.run({ id, intervalHours, cell });
      for (const cell of added) add.run({ ...row, cell });
    },
    /** Takes all cells off a reference motor's schedule. */
    unschedule: (id: number) => void release.run(id),
    referenceCells: (cell: string | null, afterId: number, afterCell: string, limit: number) =>
      list.all({ cell, afterId, afterCell, limit }).map(
        (row): ReferenceCellRow => ({
          ...row,
          shifts: JSON.parse(row.shifts ?? '[]') as Shift[],
        }),
      ),
    /** Reference motors that are overdue or shifted in a cell at an instant. */
    amissIn: (cell: string, atMs: number) => amiss.all(cell, atMs),
  };
}

const runColumns = `
  r.id,
  r.reference_motor_id AS referenceMotorId,
  u.serial AS motor,
  m.code AS model,
  r.cell,
  r.specification_id AS specificationId,
  r.at_ms AS atMs,
  k.name AS recordedBy,
  r.judged,
  r.compared,
  r.shifts
FROM reference_runs r
JOIN reference_motors f ON f.id = r.reference_motor_id
JOIN units u ON u.id = f.motor_id
JOIN models m ON m.id = u.model_id
JOIN api_keys k ON k.id = r.recorded_by`;

const decodeRun = (row: StoredRun): ReferenceRunRow => ({
  ...row,
  shifts: JSON.parse(row.shifts) as Shift[],
});

function runStatements(db: Database) {
  const byId = db.prepare<[number], StoredRun>(`SELECT ${runColumns} WHERE r.id = ?`);
  const list = db.prepare<[ReferenceRunFilter & { afterId: number; limit: number }], StoredRun>(
    `SELECT ${runColumns}
    WHERE r.id > @afterId
      AND (@referenceMotorId IS NULL OR r.reference_motor_id = @referenceMotorId)
      AND (@cell IS NULL OR r.cell = @cell)
      AND r.at_ms >= @fromMs AND r.at_ms < @untilMs
    ORDER BY r.id
    LIMIT @limit`,
  );
  const add = db.prepare(`
    INSERT INTO reference_runs
      (id, reference_motor_id, cell, specification_id, at_ms, recorded_by, judged, compared, shifts)
    VALUES
      (@id, @referenceMotorId, @cell, @specificationId, @atMs, @recordedById, @judged, @compared,
       @shifts)`);
  // A run that was recorded late does not stand in for one that happened after it.
  const advance = db.prepare(`
    UPDATE reference_cells
    SET last_run_id = @id,
        shifted = @shifted,
        due_at_ms = MAX(required_from_ms, @atMs) + ${HOUR_MS} *
          (SELECT f.interval_hours FROM reference_motors f WHERE f.id = @referenceMotorId)
    WHERE reference_motor_id = @referenceMotorId
      AND cell = @cell
      AND @atMs >= COALESCE(
        (SELECT r.at_ms FROM reference_runs r WHERE r.id = reference_cells.last_run_id), @atMs)`);
  // Reads reference_runs_by_motor, in the order in which the runs were recorded.
  const first = db.prepare<[number], { specificationId: number; judged: Buffer }>(`
    SELECT specification_id AS specificationId, judged
    FROM reference_runs
    WHERE reference_motor_id = ?
    ORDER BY id`);
  const ofModel = db.prepare<
    [{ modelId: number; fromMs: number; untilMs: number }],
    JudgedReferenceRun
  >(`
    SELECT r.id,
           r.reference_motor_id AS referenceMotorId,
           u.serial AS motor,
           r.cell,
           r.at_ms AS atMs,
           r.specification_id AS specificationId,
           r.judged
    FROM reference_motors f
    JOIN units u ON u.id = f.motor_id
    JOIN reference_runs r ON r.reference_motor_id = f.id
    WHERE u.model_id = @modelId AND r.at_ms >= @fromMs AND r.at_ms < @untilMs
    ORDER BY r.at_ms, r.id`);
  return {
    referenceRun(id: number): ReferenceRunRow | undefined {
      const row = byId.get(id);
      return row && decodeRun(row);
    },
    referenceRuns: (filter: ReferenceRunFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }).map(decodeRun),
    nextRunId: nextIdOn(db, 'reference_runs'),
    /** Keeps a reference run; the cell's standing follows it unless a later one is known. */
    addRun(row: NewReferenceRun): void {
      const { id, referenceMotorId, cell, atMs } = row;
      add.run({ ...row, shifts: JSON.stringify(row.shifts) });
      advance.run({ id, referenceMotorId, cell, atMs, shifted: row.shifts.length > 0 ? 1 : 0 });
    },
    /** A reference motor's runs, the first recorded first. */
    runsInOrder: (referenceMotorId: number) => first.iterate(referenceMotorId),
    /** Runs of a model's reference motors, retired ones too, in order of time. */
    runsOfModel: (modelId: number, fromMs: number, untilMs: number) =>
      ofModel.iterate({ modelId, fromMs, untilMs }),
  };
}
