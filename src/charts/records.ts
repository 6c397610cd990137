import type { Database } from 'better-sqlite3';
import type { Direction } from '../statistics/run-rules.js';
import { nextIdOn } from '../store/next-id.js';
import type { ChartOptions, FrozenBaseline } from './baseline-rules.js';
import type {
  Charted,
  ChartKind,
  ChartState,
  Entry,
  Figure,
  Point,
  SignalRule,
  Yardstick,
} from './rules.js';

/** What was asked for as a baseline. */
export interface Chosen {
  fromDay: string | null;
  untilDay: string | null;
  last: number | null;
}

/** A chart's definition, which never changes. */
export interface ChartTerms extends Charted {
  modelId: number;
  cell: string | null;
  runs: 'first' | 'all';
  options: ChartOptions;
}

export interface ChartRow extends ChartTerms {
  id: number;
  model: string;
  /** Number of the baseline in force, and when it was frozen. */
  baseline: number;
  frozenAtMs: number;
  openedAtMs: number;
  openedBy: string;
  retiredAtMs: number | null;
  retiredBy: string | null;
  retireReason: string | null;
  openSignals: number;
  /** Runs that it took since its baseline was frozen. */
  taken: number;
  state: ChartState;
}

export interface BaselineRow extends FrozenBaseline {
  number: number;
  chosen: Chosen;
  frozenAtMs: number;
  frozenBy: string;
  reason: string | null;
}

/** An active chart, as a completed run needs it. */
export interface ActiveChart extends Charted {
  id: number;
  baseline: number;
  yardstick: Yardstick;
  /** Runs taken so far. */
  taken: number;
  state: ChartState;
}

/** A run that a chart took, with what it offers. */
export interface TakenRun {
  runId: number;
  day: string | null;
  specificationId: number;
  endedAtMs: number;
  failed: number;
  failures: number;
  judged: Buffer;
}

export interface SignalRow {
  id: number;
  chart: number;
  model: string;
  kind: ChartKind;
  characteristic: string | null;
  cell: string;
  baseline: number;
  point: number;
  figure: Figure;
  rule: SignalRule;
  direction: Direction;
  value: number;
  runId: number;
  atMs: number;
  runs: number[];
  acknowledgedAtMs: number | null;
  acknowledgedBy: string | null;
  reason: string | null;
}

export interface ChartFilter {
  model: string | null;
  cell: string | null;
  retired: number | null;
}

export interface SignalFilter {
  chart: number | null;
  model: string | null;
  cell: string | null;
  acknowledged: number | null;
}

type Stored<Row, Text extends keyof Row> = Omit<Row, Text> & Record<Text, string>;

const chartColumns = `
  c.id,
  c.model_id AS modelId,
  m.code AS model,
  c.kind,
  c.characteristic,
  c.unit,
  c.cell,
  c.runs,
  c.options,
  c.baseline,
  b.frozen_at_ms AS frozenAtMs,
  c.opened_at_ms AS openedAtMs,
  opener.name AS openedBy,
  c.retired_at_ms AS retiredAtMs,
  retirer.name AS retiredBy,
  c.retire_reason AS retireReason,
  (SELECT COUNT(*) FROM chart_signals x
   WHERE x.chart_id = c.id AND x.acknowledged_at_ms IS NULL) AS openSignals,
  s.runs AS taken,
  s.state
FROM charts c
JOIN models m ON m.id = c.model_id
JOIN chart_baselines b ON b.chart_id = c.id AND b.number = c.baseline
JOIN chart_states s ON s.chart_id = c.id
JOIN api_keys opener ON opener.id = c.opened_by
LEFT JOIN api_keys retirer ON retirer.id = c.retired_by`;

const signalColumns = `
  x.id,
  x.chart_id AS chart,
  m.code AS model,
  c.kind,
  c.characteristic,
  r.cell,
  x.baseline,
  x.point,
  x.figure,
  x.rule,
  x.direction,
  x.value,
  x.run_id AS runId,
  x.at_ms AS atMs,
  x.runs,
  x.acknowledged_at_ms AS acknowledgedAtMs,
  k.name AS acknowledgedBy,
  x.reason
FROM chart_signals x
CROSS JOIN charts c ON c.id = x.chart_id
CROSS JOIN models m ON m.id = c.model_id
CROSS JOIN runs r ON r.id = x.run_id
LEFT JOIN api_keys k ON k.id = x.acknowledged_by`;

/** Control charts' SQL on one connection. */
export function chartRecords(db: Database) {
  return {
    ...definitionStatements(db),
    ...baselineStatements(db),
    ...runStatements(db),
    ...signalStatements(db),
  };
}

function decodeChart(row: Stored<ChartRow, 'options' | 'state'>): ChartRow {
  return { ...row, options: JSON.parse(row.options), state: JSON.parse(row.state) };
}

function definitionStatements(db: Database) {
  const byId = db.prepare<[number], Stored<ChartRow, 'options' | 'state'>>(
    `SELECT ${chartColumns} WHERE c.id = ?`,
  );
  const list = db.prepare<
    [ChartFilter & { afterId: number; limit: number }],
    Stored<ChartRow, 'options' | 'state'>
  >(`SELECT ${chartColumns}
    WHERE c.id > @afterId
      AND (@model IS NULL OR m.code = @model)
      AND (@cell IS NULL OR c.cell = @cell)
      AND (@retired IS NULL OR @retired = (c.retired_at_ms IS NOT NULL))
    ORDER BY c.id
    LIMIT @limit`);
  const add = db.prepare(`
    INSERT INTO charts
      (id, model_id, kind, characteristic, unit, cell, runs, options, baseline, opened_at_ms, opened_by)
    VALUES
      (@id, @modelId, @kind, @characteristic, @unit, @cell, @runs, @options, 1, @openedAtMs, @openedById)`);
  const retire = db.prepare(`
    UPDATE charts
    SET retired_at_ms = @retiredAtMs, retired_by = @retiredById, retire_reason = @reason
    WHERE id = @id`);
  return {
    chart(id: number): ChartRow | undefined {
      const row = byId.get(id);
      return row && decodeChart(row);
    },
    list: (filter: ChartFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }).map(decodeChart),
    nextId: nextIdOn(db, 'charts'),
    add: (row: ChartTerms & { id: number; openedAtMs: number; openedById: number }) =>
      void add.run({ ...row, options: JSON.stringify(row.options) }),
    retire: (row: { id: number; reason: string; retiredAtMs: number; retiredById: number }) =>
      void retire.run(row),
  };
}

function baselineStatements(db: Database) {
  const add = db.prepare(`
    INSERT INTO chart_baselines
      (chart_id, number, yardstick, chosen, runs, points, first_run, last_run, from_ms, until_ms,
       signalling, frozen_at_ms, frozen_by, reason)
    VALUES
      (@chartId, @number, @yardstick, @chosen, @runs, @points, @firstRun, @lastRun, @fromMs,
       @untilMs, @signalling, @frozenAtMs, @frozenById, @reason)`);
  const putInForce = db.prepare('UPDATE charts SET baseline = ? WHERE id = ? AND baseline <> ?');
  const start = db.prepare(`
    INSERT INTO chart_states (chart_id, runs, state) VALUES (?, 0, ?)
    ON CONFLICT (chart_id) DO UPDATE SET runs = 0, state = excluded.state`);
  const ofChart = db.prepare<[number], Stored<BaselineRow, 'yardstick' | 'chosen'>>(`
    SELECT b.number,
           b.yardstick,
           b.chosen,
           b.runs,
           b.points,
           b.first_run AS firstRun,
           b.last_run AS lastRun,
           b.from_ms AS fromMs,
           b.until_ms AS untilMs,
           b.signalling,
           b.frozen_at_ms AS frozenAtMs,
           k.name AS frozenBy,
           b.reason
    FROM chart_baselines b
    JOIN api_keys k ON k.id = b.frozen_by
    WHERE b.chart_id = ?
    ORDER BY b.number`);
  return {
    /** Freezes a baseline and puts it in force: the chart starts anew from the state given. */
    freeze(
      row: FrozenBaseline & {
        chartId: number;
        number: number;
        chosen: Chosen;
        frozenAtMs: number;
        frozenById: number;
        reason: string | null;
      },
      start_: ChartState,
    ): void {
      const { yardstick, chosen } = row;
      add.run({ ...row, yardstick: JSON.stringify(yardstick), chosen: JSON.stringify(chosen) });
      putInForce.run(row.number, row.chartId, row.number);
      start.run(row.chartId, JSON.stringify(start_));
    },
    /** Every baseline that a chart had, the one in force last. */
    baselines: (chartId: number): BaselineRow[] =>
      ofChart.all(chartId).map((row) => ({
        ...row,
        yardstick: JSON.parse(row.yardstick),
        chosen: JSON.parse(row.chosen),
      })),
  };
}

/** Yardsticks kept parsed: every completion needs those of its model's charts. */
const REMEMBERED = 1000;

function runStatements(db: Database) {
  const parsed = new Map<string, Yardstick>();
  // By its text, which cannot mean anything else whatever is rolled back.
  function yardstickIn(text: string): Yardstick {
    const known = parsed.get(text);
    if (known) return known;
    if (parsed.size >= REMEMBERED) parsed.clear();
    const yardstick = JSON.parse(text) as Yardstick;
    parsed.set(text, yardstick);
    return yardstick;
  }

  // Reads charts_active; asked at every completion, most of which no chart waits for.
  const active = db.prepare<[number, string, number], Stored<ActiveChart, 'yardstick' | 'state'>>(`
    SELECT c.id, c.kind, c.characteristic, c.unit, c.baseline, b.yardstick, s.runs AS taken, s.state
    FROM charts c
    CROSS JOIN chart_baselines b ON b.chart_id = c.id AND b.number = c.baseline
    CROSS JOIN chart_states s ON s.chart_id = c.id
    WHERE c.model_id = ? AND c.retired_at_ms IS NULL
      AND (c.cell IS NULL OR c.cell = ?)
      AND (c.runs = 'all' OR ? = 1)
    ORDER BY c.id`);
  const take = db.prepare(
    'INSERT INTO chart_runs (chart_id, baseline, place, run_id, day) VALUES (?, ?, ?, ?, ?)',
  );
  const advance = db.prepare('UPDATE chart_states SET runs = ?, state = ? WHERE chart_id = ?');
  // A range of chart_runs' primary key, each run by its id.
  const taken = db.prepare<[number, number], TakenRun>(`
    SELECT t.run_id AS runId,
           t.day,
           r.specification_id AS specificationId,
           r.ended_at_ms AS endedAtMs,
           r.verdict = 'fail' AS failed,
           CASE r.verdict
             WHEN 'fail' THEN (SELECT COUNT(*) FROM run_failures f WHERE f.run_id = r.id)
             ELSE 0
           END AS failures,
           r.judged
    FROM chart_runs t
    JOIN runs r ON r.id = t.run_id
    WHERE t.chart_id = ? AND t.baseline = ?
    ORDER BY t.place`);
  const failures = db.prepare<[number], { n: number }>(
    'SELECT COUNT(*) AS n FROM run_failures WHERE run_id = ?',
  );
  return {
    /** The charts that a completed run belongs on. */
    active: (modelId: number, cell: string, attempt: number): ActiveChart[] =>
      active.all(modelId, cell, attempt).map((row) => ({
        id: row.id,
        kind: row.kind,
        characteristic: row.characteristic,
        unit: row.unit,
        baseline: row.baseline,
        yardstick: yardstickIn(row.yardstick),
        taken: row.taken,
        state: JSON.parse(row.state) as ChartState,
      })),
    /** Keeps that a chart took a run, and where it stands after it. */
    take({ id, baseline, taken }: ActiveChart, { runId, day }: Entry, state: ChartState): void {
      take.run(id, baseline, taken, runId, day);
      advance.run(taken + 1, JSON.stringify(state), id);
    },
    /** The runs that a chart took by one of its baselines, in order. */
    taken: (chartId: number, baseline: number) => taken.iterate(chartId, baseline),
    /** Characteristics that did not conform in a run. */
    failures: (runId: number) => failures.get(runId)?.n ?? 0,
  };
}

function decodeSignal(row: Stored<SignalRow, 'runs'>): SignalRow {
  return { ...row, runs: JSON.parse(row.runs) };
}

function signalStatements(db: Database) {
  const add = db.prepare(`
    INSERT INTO chart_signals
      (chart_id, baseline, point, figure, rule, direction, value, run_id, at_ms, runs)
    VALUES
      (@chartId, @baseline, @point, @figure, @rule, @direction, @value, @runId, @atMs, @runs)`);
  const byId = db.prepare<[number], Stored<SignalRow, 'runs'>>(
    `SELECT ${signalColumns} WHERE x.id = ?`,
  );
  const list = db.prepare<
    [SignalFilter & { afterId: number; limit: number }],
    Stored<SignalRow, 'runs'>
  >(`SELECT ${signalColumns}
    WHERE x.id > @afterId
      AND (@chart IS NULL OR x.chart_id = @chart)
      AND (@model IS NULL OR m.code = @model)
      AND (@cell IS NULL OR r.cell = @cell)
      AND (@acknowledged IS NULL OR @acknowledged = (x.acknowledged_at_ms IS NOT NULL))
    ORDER BY x.id
    LIMIT @limit`);
  const latest = db.prepare<[number], Stored<SignalRow, 'runs'>>(
    `SELECT ${signalColumns} ORDER BY x.id DESC LIMIT ?`,
  );
  // These two read chart_signals_open.
  const countOpen = db.prepare<[number], { n: number }>(`
    SELECT COUNT(*) AS n
    FROM (SELECT 1 FROM chart_signals WHERE acknowledged_at_ms IS NULL LIMIT ?)`);
  const openUpTo = db.prepare<[number, number], { id: number }>(`
    SELECT id FROM chart_signals
    WHERE chart_id = ? AND acknowledged_at_ms IS NULL AND id <= ?
    ORDER BY id`);
  const acknowledge = db.prepare(`
    UPDATE chart_signals
    SET acknowledged_at_ms = @atMs, acknowledged_by = @keyId, reason = @reason
    WHERE id IN (SELECT value FROM json_each(@ids))`);
  return {
    /** Keeps what signalled at a point. */
    addSignals({ id, baseline }: ActiveChart, { number, sample, signals }: Point): void {
      for (const { runs, ...signal } of signals) {
        add.run({
          ...signal,
          chartId: id,
          baseline,
          point: number,
          runId: runs.at(-1),
          atMs: sample.atMs,
          runs: JSON.stringify(runs),
        });
      }
    },
    signal(id: number): SignalRow | undefined {
      const row = byId.get(id);
      return row && decodeSignal(row);
    },
    signals: (filter: SignalFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }).map(decodeSignal),
    /** The signals given last, the last one first. */
    latestSignals: (limit: number) => latest.all(limit).map(decodeSignal),
    /** How many signals nobody has acknowledged, counted no further than a limit. */
    countOpenSignals: (limit: number) => countOpen.get(limit)?.n ?? 0,
    /** A chart's open signals up to one of them. */
    openUpTo: (chartId: number, id: number) => openUpTo.all(chartId, id).map((row) => row.id),
    acknowledge: (row: { ids: readonly number[]; reason: string; atMs: number; keyId: number }) =>
      void acknowledge.run({ ...row, ids: JSON.stringify(row.ids) }),
  };
}
