import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { existingChart } from './actions.js';
import { findBaseline } from './baseline-questions.js';
import type { BaselineRow, ChartRow } from './records.js';
import {
  type ChartState,
  chartedValue,
  isByDay,
  type Point,
  startState,
  takeRun,
} from './rules.js';
import { type PlottedPoint, type pointShape, presentPoint } from './schema.js';

/** Which of a chart's points. */
export interface PointsAsked {
  chart: number;
  /** Number of the baseline; null for the one in force. */
  baseline: number | null;
  /** Points whose last run ended in this time. */
  fromMs: number;
  untilMs: number;
  fromPoint: number;
  untilPoint: number;
  /** Of these, only the last so many; null for all. */
  last: number | null;
  /** The page begins behind this point and has so many rows at most. */
  after: number;
  limit: number;
}

export interface PointsFound {
  items: z.input<typeof pointShape>[];
  /** Whether more points follow. */
  more: boolean;
}

/**
 * A chart's points, judged again from the runs that it took: the same steps that judged them
 * as they came, so the same signals.
 * @throws Problem chart-unknown, baseline-unknown
 */
export function findPoints(plant: Plant, asked: PointsAsked): PointsFound {
  return plant.atomically(() => {
    const chart = existingChart(plant, asked.chart);
    const number = asked.baseline ?? chart.baseline;
    const baseline = plant.charts.baselines(chart.id).find((one) => one.number === number);
    if (!baseline) {
      throw new Problem('baseline-unknown', `Chart ${chart.id} has no baseline ${number}.`);
    }
    const points: PlottedPoint[] = [];
    for (const point of judgedAgain(plant, chart, baseline)) {
      if (isWanted(point, asked)) points.push(point);
    }
    const rows = points
      .slice(asked.last === null ? 0 : -asked.last)
      .filter((point) => point.number > asked.after);
    const items = rows.slice(0, asked.limit).map((point) => presentPoint(baseline, point));
    return { items, more: rows.length > asked.limit };
  });
}

function isWanted({ number, sample }: Point, asked: PointsAsked): boolean {
  return (
    number >= asked.fromPoint &&
    number <= asked.untilPoint &&
    sample.atMs >= asked.fromMs &&
    sample.atMs < asked.untilMs
  );
}

/** Judges the runs that a chart took by one of its baselines, point by point. */
function* judgedAgain(
  plant: Plant,
  chart: ChartRow,
  { number, yardstick }: BaselineRow,
): Generator<PlottedPoint> {
  const byDay = isByDay(chart.kind);
  let state: ChartState = startState;
  let runs: number[] = [];
  for (const { runId, day, endedAtMs, specificationId, failed, ...run } of plant.charts.taken(
    chart.id,
    number,
  )) {
    const { characteristics } = existingSpecification(plant, specificationId);
    const value = chartedValue(chart, { failed: failed === 1, characteristics, ...run });
    if (value === undefined) throw new Error(`chart ${chart.id} took run ${runId} without a value`);
    const step = takeRun(yardstick, state, { runId, atMs: endedAtMs, day, value });
    state = step.state;
    // A day is judged when the first run of a later one has come, which is not its own.
    if (!byDay) runs.push(runId);
    if (step.point) {
      yield { runs, ...step.point };
      runs = [];
    }
    if (byDay) runs.push(runId);
  }
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const chartQuestions = {
  'chart-baseline': findBaseline,
  'chart-points': findPoints,
};
