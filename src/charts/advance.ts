import type { Plant } from '../plant.js';

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
export function advanceCharts(_plant: Plant, _run: FinishedRun): void {}
