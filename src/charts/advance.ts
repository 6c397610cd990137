import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import { chartedValue, isByDay, takeRun } from './rules.js';

/** A run that was just completed, as charts look at it. */
export interface FinishedRun {
  runId: number;
  motorId: number;
  modelId: number;
  specificationId: number;
  cell: string;
  /** Plant day, `YYYY-MM-DD`. */
  day: string;
  endedAtMs: number;
  attempt: number;
  verdict: 'pass' | 'fail';
  firstPass: boolean | null;
  /** Row ids of the characteristics that did not conform. */
  failedIds: readonly number[];
  /** Judged values in the specification's order, see src/testing/packing.ts. */
  judged: Buffer;
}

/** Judges a completed run's points on every active chart; called by the applier of `run.completed`. */
export function advanceCharts(plant: Plant, run: FinishedRun): void {
  const charts = plant.charts.active(run.modelId, run.cell, run.attempt);
  if (charts.length === 0) return;
  const facts = {
    failed: run.verdict === 'fail',
    failures: run.failedIds.length,
    characteristics: existingSpecification(plant, run.specificationId).characteristics,
    judged: run.judged,
  };
  for (const chart of charts) {
    const value = chartedValue(chart, facts);
    if (value === undefined) continue;
    const day = isByDay(chart.kind) ? run.day : null;
    const entry = { runId: run.runId, atMs: run.endedAtMs, day, value };
    const { state, point } = takeRun(chart.yardstick, chart.state, entry);
    plant.charts.take(chart, entry, state);
    if (point) plant.charts.addSignals(chart, point);
  }
}
