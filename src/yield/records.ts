import type { Database } from 'better-sqlite3';

/** One cell of the daily roll-up: where, when and for what runs are counted. */
export interface YieldKey {
  day: string;
  modelId: number;
  configurationId: number;
  cell: string;
  station: string;
}

export interface YieldCounts {
  firstRuns: number;
  firstPasses: number;
  completedRuns: number;
  passedRuns: number;
  abortedRuns: number;
}

export type YieldSlice = 'model' | 'cell' | 'station' | 'configuration' | 'day';

export interface YieldFilter {
  fromDay: string;
  untilDay: string;
  model: string | null;
  cell: string | null;
  station: string | null;
}

const sliceColumn: Record<YieldSlice, string> = {
  model: 'm.code',
  cell: 'y.cell',
  station: 'y.station',
  configuration: "c.code || ' ' || c.revision",
  day: 'y.day',
};

const slices = Object.keys(sliceColumn) as YieldSlice[];

/** The roll-up's SQL on one connection. */
export function yieldRecords(db: Database) {
  const count = db.prepare(`
    INSERT INTO yield_daily
      (day, model_id, configuration_id, cell, station,
       first_runs, first_passes, completed_runs, passed_runs, aborted_runs)
    VALUES
      (@day, @modelId, @configurationId, @cell, @station,
       @firstRuns, @firstPasses, @completedRuns, @passedRuns, @abortedRuns)
    ON CONFLICT DO UPDATE SET
      first_runs = first_runs + excluded.first_runs,
      first_passes = first_passes + excluded.first_passes,
      completed_runs = completed_runs + excluded.completed_runs,
      passed_runs = passed_runs + excluded.passed_runs,
      aborted_runs = aborted_runs + excluded.aborted_runs`);
  const sums = Object.fromEntries(
    slices.map((slice) => [slice, prepareSlice(db, slice)]),
  ) as Record<YieldSlice, ReturnType<typeof prepareSlice>>;
  // A long question: reads every completed run of the period; asked in a worker only.
  const loops = db.prepare<
    [{ fromMs: number; untilMs: number }],
    { loops: number; motors: number; passed: number }
  >(`
    SELECT loops, COUNT(*) AS motors, SUM(passed) AS passed
    FROM (
      SELECT MAX(attempt) - 1 AS loops,
             MAX(CASE WHEN verdict = 'pass' THEN attempt ELSE 0 END) = MAX(attempt) AS passed
      FROM runs
      WHERE state = 'completed'
      GROUP BY motor_id
      HAVING MAX(CASE WHEN attempt = 1 THEN ended_at_ms END) >= @fromMs
         AND MAX(CASE WHEN attempt = 1 THEN ended_at_ms END) < @untilMs)
    GROUP BY loops
    ORDER BY loops`);
  return {
    loops: (fromMs: number, untilMs: number) => loops.all({ fromMs, untilMs }),
    count: (key: YieldKey, counts: YieldCounts) => void count.run({ ...key, ...counts }),
    sums: (slice: YieldSlice, filter: YieldFilter) => sums[slice].all(filter),
  };
}

// Reads yield_daily by its primary key's first column.
function prepareSlice(db: Database, slice: YieldSlice) {
  return db.prepare<[YieldFilter], YieldCounts & { slice: string }>(`
    SELECT ${sliceColumn[slice]} AS slice,
           SUM(y.first_runs) AS firstRuns,
           SUM(y.first_passes) AS firstPasses,
           SUM(y.completed_runs) AS completedRuns,
           SUM(y.passed_runs) AS passedRuns,
           SUM(y.aborted_runs) AS abortedRuns
    FROM yield_daily y
    JOIN models m ON m.id = y.model_id
    JOIN configurations c ON c.id = y.configuration_id
    WHERE y.day >= @fromDay AND y.day <= @untilDay
      AND (@model IS NULL OR m.code = @model)
      AND (@cell IS NULL OR y.cell = @cell)
      AND (@station IS NULL OR y.station = @station)
    GROUP BY 1
    ORDER BY 1`);
}
