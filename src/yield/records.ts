import type { Database } from 'better-sqlite3';
import { NO_SHIFT } from '../calendar/rules.js';
import { merged } from '../merged.js';
import {
  type Days,
  type Dimension,
  dayRange,
  GRAIN,
  GROUPINGS,
  type PeriodRange,
  tells,
} from './rules.js';

/** Where, when and for what a run is counted: the finest cell of the cube. */
export interface YieldKey {
  /** The plant day, see src/calendar/rules.ts. */
  day: string;
  /** Null outside any shift; missing in events from before there were shifts. */
  shift?: string | null;
  modelId: number;
  configurationId: number;
  cell: string;
  station: string;
}

export interface YieldCounts {
  /** Motors with a first completed run. */
  firstRuns: number;
  /** Of those, motors that passed it unrepaired. */
  firstPasses: number;
  /** Of those with a first completed run, motors whose latest one passed. */
  finallyPassed: number;
  /** Of those finally passed, motors that were not first-pass. */
  reworked: number;
  completedRuns: number;
  passedRuns: number;
  /** Failed characteristics of first completed runs. */
  firstDefects: number;
  /** Failed characteristics of all completed runs. */
  defects: number;
  abortedRuns: number;
}

/** A run that counts nothing yet. */
export const NOTHING: YieldCounts = Object.freeze({
  firstRuns: 0,
  firstPasses: 0,
  finallyPassed: 0,
  reworked: 0,
  completedRuns: 0,
  passedRuns: 0,
  firstDefects: 0,
  defects: 0,
  abortedRuns: 0,
});

/** A motor under the key that its first completed run was counted by. */
export interface CountedMotor extends YieldKey {
  motorId: number;
  runId: number;
  firstPass: boolean;
  finallyPassed: boolean;
}

export type YieldSlice =
  | 'plant'
  | 'model'
  | 'configuration'
  | 'cell'
  | 'station'
  | 'shift'
  | 'month';

export interface KeyFilter {
  model: string | null;
  /** A configuration's code, of all its revisions unless `revision` names one. */
  configuration: string | null;
  revision: number | null;
  cell: string | null;
  station: string | null;
  shift: string | null;
}

export interface MotorFilter extends KeyFilter, Days {
  firstPass: boolean | null;
  finallyPassed: boolean | null;
}

/** A motor behind a figure. */
export interface MotorRow {
  motorId: number;
  day: string;
  shift: string;
  serial: string;
  model: string;
  configuration: string;
  configurationRevision: number;
  station: string;
  runId: number;
  cell: string;
  endedAtMs: number;
  verdict: 'pass' | 'fail';
  firstPass: number;
  finallyPassed: number;
  attempts: number;
  state: string;
}

export interface RunsFilter extends KeyFilter, Days {
  outcome: RunOutcome | null;
}

/** How a run ended; `completed` is either of the verdicts. */
export type RunOutcome = 'completed' | 'passed' | 'failed' | 'aborted';

/** A run behind a figure. */
export interface CountedRun {
  runId: number;
  serial: string;
  model: string;
  configuration: string;
  configurationRevision: number;
  station: string;
  cell: string;
  day: string;
  shift: string;
  endedAtMs: number;
  attempt: number | null;
  verdict: 'pass' | 'fail' | null;
  defects: number;
  abortReason: string | null;
}

const countColumns: Record<keyof YieldCounts, string> = {
  firstRuns: 'first_runs',
  firstPasses: 'first_passes',
  finallyPassed: 'finally_passed',
  reworked: 'reworked',
  completedRuns: 'completed_runs',
  passedRuns: 'passed_runs',
  firstDefects: 'first_defects',
  defects: 'defects',
  abortedRuns: 'aborted_runs',
};
const counts = Object.entries(countColumns);
const addedUp = counts.map(([name, column]) => `SUM(y.${column}) AS ${name}`).join(', ');

/** The SQL of a key in a grouping: each dimension's where it is told apart, else what stands for all. */
export function keyIn(grouping: number, sql: Record<Dimension, string>): string {
  const all = { model: '0', configuration: '0', cell: "''", station: "''", shift: "''" };
  return (Object.keys(all) as Dimension[])
    .map((one) => (tells(grouping, one) ? sql[one] : all[one]))
    .join(', ');
}

/** A run's keys in every grouping by day and by month, as SQL values: fourteen rows. */
const keysOfRun = [`${GRAIN.day}, @day`, `${GRAIN.month}, @month`].flatMap((period) =>
  GROUPINGS.map((grouping) => {
    const key = keyIn(grouping, {
      model: '@modelId',
      configuration: '@configurationId',
      cell: '@cell',
      station: '@station',
      shift: '@shift',
    });
    return `${period}, ${grouping}, ${key}`;
  }),
);
const keyColumns = 'grain, period, grouping, model_id, configuration_id, cell, station, shift';

/** What the statements bind a key by. */
function boundKey({ day, shift, modelId, configurationId, cell, station }: YieldKey) {
  const month = day.slice(0, 7);
  return { day, month, shift: shift ?? NO_SHIFT, modelId, configurationId, cell, station };
}

/**
 * A key with the counts for it, member by member: binding an object that was spread from
 * two was measured at 12 microseconds more.
 */
function boundCounts(key: YieldKey, more: YieldCounts) {
  return {
    day: key.day,
    month: key.day.slice(0, 7),
    shift: key.shift ?? NO_SHIFT,
    modelId: key.modelId,
    configurationId: key.configurationId,
    cell: key.cell,
    station: key.station,
    firstRuns: more.firstRuns,
    firstPasses: more.firstPasses,
    finallyPassed: more.finallyPassed,
    reworked: more.reworked,
    completedRuns: more.completedRuns,
    passedRuns: more.passedRuns,
    firstDefects: more.firstDefects,
    defects: more.defects,
    abortedRuns: more.abortedRuns,
  };
}

/** The roll-up's SQL on one connection. */
export function yieldRecords(db: Database) {
  return {
    ...countStatements(db),
    ...sumStatements(db),
    ...motorStatements(db),
    ...runStatements(db),
  };
}

function countStatements(db: Database) {
  // One statement for all rows of a run, since the call costs as much as six rows.
  const values = counts.map(([name]) => `@${name}`).join(', ');
  const count = db.prepare(`
    INSERT INTO yield_counts (${keyColumns}, ${Object.values(countColumns).join(', ')})
    VALUES ${keysOfRun.map((key) => `(${key}, ${values})`).join(',\n           ')}
    ON CONFLICT DO UPDATE SET
      ${counts.map(([, column]) => `${column} = ${column} + excluded.${column}`).join(',\n      ')}`);
  const changeFinally = db.prepare(`
    UPDATE yield_counts
    SET finally_passed = finally_passed + @finallyPassed, reworked = reworked + @reworked
    WHERE (${keyColumns}) IN (VALUES ${keysOfRun.map((key) => `(${key})`).join(', ')})`);
  return {
    /** Adds to every grouping that a key belongs to. */
    count: (key: YieldKey, more: YieldCounts) => void count.run(boundCounts(key, more)),
    /** Changes what became of motors that are counted under a key already. */
    changeFinally(key: YieldKey, change: { finallyPassed: number; reworked: number }): void {
      const { changes } = changeFinally.run(merged(boundKey(key), change));
      if (changes !== keysOfRun.length) throw new Error(`nothing is counted on ${key.day}`);
    },
  };
}

function sumStatements(db: Database) {
  const sums = {
    plant: prepareSums(db, { of: '0', slice: "'plant'" }),
    model: prepareSums(db, { of: 'y.model_id', slice: 'n.code', named: 'models' }),
    configuration: prepareSums(db, {
      of: 'y.configuration_id',
      slice: "n.code || ' ' || n.revision",
      named: 'configurations',
    }),
    cell: prepareSums(db, { of: 'y.cell' }),
    station: prepareSums(db, { of: 'y.station' }),
    shift: prepareSums(db, { of: 'y.shift' }),
    month: prepareSums(db, { of: 'substr(y.period, 1, 7)' }),
  } satisfies Record<YieldSlice, unknown>;
  // Reads yield_counts in the order of its primary key, and no further than asked.
  const days = db.prepare<
    [KeyFilter & { grouping: number; from: string; before: string; limit: number }],
    YieldCounts & { slice: string }
  >(`
    SELECT y.period AS slice, ${addedUp}
    FROM yield_counts y
    WHERE y.grain = ${GRAIN.day} AND y.grouping = @grouping
      AND y.period >= @from AND y.period < @before
      AND ${isOfKey}
    GROUP BY y.period
    ORDER BY y.period
    LIMIT @limit`);
  return {
    /** Counts of the first days of a range that have any, in order. */
    days: (
      grouping: number,
      [, from, before]: PeriodRange,
      filter: KeyFilter,
      limit: number,
    ): (YieldCounts & { slice: string })[] =>
      days.all({ ...filter, grouping, from, before, limit }),
    /** Counts of each slice, in the order of their names, over periods of a grouping. */
    sums: (
      slice: YieldSlice,
      grouping: number,
      ranges: readonly PeriodRange[],
      filter: KeyFilter,
    ): (YieldCounts & { slice: string })[] =>
      sums[slice].all({ ...filter, grouping, ranges: JSON.stringify(ranges) }),
  };
}

const isOfKey = `
  (@model IS NULL OR y.model_id = (SELECT id FROM models WHERE code = @model))
  AND (@configuration IS NULL OR y.configuration_id IN (
    SELECT id FROM configurations
    WHERE code = @configuration AND (@revision IS NULL OR revision = @revision)))
  AND (@cell IS NULL OR y.cell = @cell)
  AND (@station IS NULL OR y.station = @station)
  AND (@shift IS NULL OR y.shift = @shift)`;

interface Slicing {
  /** What rows are added up by. */
  of: string;
  /** How it is shown, where otherwise. */
  slice?: string;
  /** The table that names it. */
  named?: string;
}

// Reads yield_counts by its primary key, one range of neighbouring rows for each of `@ranges`.
function prepareSums(db: Database, { of, slice = 's.sliced', named }: Slicing) {
  const shown = counts.map(([name]) => `s.${name}`).join(', ');
  return db.prepare<
    [KeyFilter & { grouping: number; ranges: string }],
    YieldCounts & { slice: string }
  >(`
    SELECT ${slice} AS slice, ${shown}
    FROM (
      SELECT ${of} AS sliced, ${addedUp}
      FROM json_each(@ranges) j
      CROSS JOIN yield_counts y
        ON y.grain = j.value ->> 0 AND y.grouping = @grouping
        AND y.period >= j.value ->> 1 AND y.period < j.value ->> 2
      WHERE ${isOfKey}
      GROUP BY 1) s
    ${named ? `JOIN ${named} n ON n.id = s.sliced` : ''}
    ORDER BY 1`);
}

interface StoredMotor extends Omit<CountedMotor, 'shift' | 'firstPass' | 'finallyPassed'> {
  shift: string;
  firstPass: number;
  finallyPassed: number;
}

function motorStatements(db: Database) {
  const add = db.prepare(`
    INSERT INTO yield_motors
      (day, motor_id, run_id, model_id, configuration_id, cell, station, shift,
       first_pass, finally_passed)
    VALUES
      (@day, @motorId, @runId, @modelId, @configurationId, @cell, @station, @shift,
       @firstPass, @finallyPassed)`);
  const find = db.prepare<[number], StoredMotor>(`
    SELECT day, motor_id AS motorId, run_id AS runId, model_id AS modelId,
           configuration_id AS configurationId, cell, station, shift,
           first_pass AS firstPass, finally_passed AS finallyPassed
    FROM yield_motors
    WHERE motor_id = ?`);
  const setFinally = db.prepare(
    'UPDATE yield_motors SET finally_passed = @passed WHERE day = @day AND motor_id = @motorId',
  );
  // Reads yield_motors in the order of its primary key from where the page begins.
  const list = db.prepare<
    [
      Omit<MotorFilter, 'firstPass' | 'finallyPassed'> & {
        firstPass: number | null;
        finallyPassed: number | null;
        before: string;
        afterDay: string;
        afterId: number;
        limit: number;
      },
    ],
    MotorRow
  >(`
    SELECT y.motor_id AS motorId, y.day, y.shift, u.serial, m.code AS model,
           c.code AS configuration, c.revision AS configurationRevision, y.station,
           y.run_id AS runId, y.cell, r.ended_at_ms AS endedAtMs, r.verdict,
           y.first_pass AS firstPass, y.finally_passed AS finallyPassed,
           (SELECT MAX(a.attempt) FROM runs a WHERE a.motor_id = y.motor_id) AS attempts,
           u.state
    FROM yield_motors y
    CROSS JOIN units u ON u.id = y.motor_id
    CROSS JOIN runs r ON r.id = y.run_id
    CROSS JOIN models m ON m.id = y.model_id
    CROSS JOIN configurations c ON c.id = y.configuration_id
    WHERE (y.day, y.motor_id) > (@afterDay, @afterId) AND y.day < @before
      AND ${isOfKey}
      AND (@firstPass IS NULL OR y.first_pass = @firstPass)
      AND (@finallyPassed IS NULL OR y.finally_passed = @finallyPassed)
    ORDER BY y.day, y.motor_id
    LIMIT @limit`);
  // Reads yield_motors by day, and each motor's runs by their unique index.
  const loops = db.prepare<
    [{ from: string; before: string }],
    { loops: number; motors: number; passed: number }
  >(`
    SELECT loops, COUNT(*) AS motors, SUM(passed) AS passed
    FROM (
      SELECT (SELECT MAX(attempt) FROM runs r WHERE r.motor_id = y.motor_id) - 1 AS loops,
             y.finally_passed AS passed
      FROM yield_motors y
      WHERE y.day >= @from AND y.day < @before)
    GROUP BY loops
    ORDER BY loops`);
  const flag = (value: boolean | null) => (value === null ? null : Number(value));
  return {
    addMotor: (motor: CountedMotor) =>
      void add.run({
        day: motor.day,
        motorId: motor.motorId,
        runId: motor.runId,
        modelId: motor.modelId,
        configurationId: motor.configurationId,
        cell: motor.cell,
        station: motor.station,
        shift: motor.shift ?? NO_SHIFT,
        firstPass: flag(motor.firstPass),
        finallyPassed: flag(motor.finallyPassed),
      }),
    /** A motor with a completed run. */
    motor(motorId: number): CountedMotor | undefined {
      const row = find.get(motorId);
      if (!row) return undefined;
      return {
        ...row,
        shift: row.shift === NO_SHIFT ? null : row.shift,
        firstPass: row.firstPass === 1,
        finallyPassed: row.finallyPassed === 1,
      };
    },
    setFinally: ({ day, motorId }: CountedMotor, passed: boolean) =>
      void setFinally.run({ day, motorId, passed: Number(passed) }),
    /** Motors in the order of the days that they count on, from behind a day and id. */
    motors(
      filter: MotorFilter,
      after: { day: string; motorId: number } | null,
      limit: number,
    ): MotorRow[] {
      const [, from, before] = dayRange(filter);
      return list.all({
        ...filter,
        firstPass: flag(filter.firstPass),
        finallyPassed: flag(filter.finallyPassed),
        before,
        afterDay: after?.day ?? from,
        afterId: after?.motorId ?? 0,
        limit,
      });
    },
    /** Motors by their completed runs beyond the first. */
    loops(days: Days) {
      const [, from, before] = dayRange(days);
      return loops.all({ from, before });
    },
  };
}

const outcomeOfRun: Record<RunOutcome, string> = {
  completed: "r.state = 'completed'",
  passed: "r.verdict = 'pass'",
  failed: "r.verdict = 'fail'",
  aborted: "r.state = 'aborted'",
};

function runStatements(db: Database) {
  const ended = Object.entries(outcomeOfRun).map(
    ([outcome, met]) => `WHEN '${outcome}' THEN ${met}`,
  );
  // Reads runs_by_day in its order from where the page begins.
  const list = db.prepare<
    [RunsFilter & { before: string; afterDay: string; afterId: number; limit: number }],
    CountedRun
  >(`
    SELECT y.runId, y.serial, m.code AS model, c.code AS configuration,
           c.revision AS configurationRevision, y.station, y.cell, y.day, y.shift,
           y.endedAtMs, y.attempt, y.verdict,
           (SELECT COUNT(*) FROM run_failures f WHERE f.run_id = y.runId) AS defects,
           y.abortReason
    FROM (
      SELECT r.id AS runId, u.serial, u.model_id, s.configuration_id, s.station, r.cell,
             r.counted_day AS day, r.counted_shift AS shift, r.ended_at_ms AS endedAtMs,
             r.attempt, r.verdict, r.abort_reason AS abortReason
      FROM runs r
      CROSS JOIN units u ON u.id = r.motor_id
      CROSS JOIN sets s ON s.motor_id = r.motor_id
      WHERE (r.counted_day, r.id) > (@afterDay, @afterId) AND r.counted_day < @before
        AND (@outcome IS NULL OR CASE @outcome ${ended.join(' ')} END)) y
    CROSS JOIN models m ON m.id = y.model_id
    CROSS JOIN configurations c ON c.id = y.configuration_id
    WHERE ${isOfKey}
    ORDER BY y.day, y.runId
    LIMIT @limit`);
  return {
    /** Ended runs in the order of the days that they count on, from behind a day and id. */
    runs(
      filter: RunsFilter,
      after: { day: string; runId: number } | null,
      limit: number,
    ): CountedRun[] {
      const [, from, before] = dayRange(filter);
      const begin = { afterDay: after?.day ?? from, afterId: after?.runId ?? 0 };
      return list.all({ ...filter, ...begin, before, limit });
    },
  };
}
