import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import type { Plant } from '../plant.js';
import { Outcome } from '../series/block.js';
import { type RunBlock, runBlocks } from '../series/questions.js';
import type { Characteristic } from '../testing/rules.js';
import { judgeColumns, type Plan, planOf, type Turn, turnOf, valuesFor } from './rules.js';

/** Which past runs a specification is tried on. */
export interface TrialAsked {
  specification: number;
  /** Ended at `fromMs` or later and before `untilMs`. */
  fromMs: number;
  untilMs: number;
  cell: string | null;
  /** `first`: each motor's first completed run; `all`: repeated runs too. */
  runs: 'first' | 'all';
  /** What is done with runs without a required value. */
  unmeasured: 'apart' | 'ignored';
  /** The same in the words of an address, for links. */
  query: Readonly<Record<string, string | undefined>>;
}

/** A specification on trial. */
export interface Trial {
  asked: TrialAsked;
  specification: SpecificationRow;
  /** None is required where missing values are ignored. */
  characteristics: readonly Characteristic[];
}

/** @throws Problem specification-unknown */
export function openTrial(plant: Plant, asked: TrialAsked): Trial {
  const specification = existingSpecification(plant, asked.specification);
  const characteristics =
    asked.unmeasured === 'apart'
      ? specification.characteristics
      : specification.characteristics.map((one) => ({ ...one, required: false }));
  return { asked, specification, characteristics };
}

/** Address of the motors behind a figure of a trial. */
export function motorsLink(
  { asked: { specification, query } }: Trial,
  more: Readonly<Record<string, string>>,
): string {
  const members = Object.entries({ ...query, ...more });
  const given = members.filter((one): one is [string, string] => one[1] !== undefined);
  const parameters = new URLSearchParams(given);
  return `/v1/specifications/${specification}/trial/motors?${parameters}`;
}

/** A past revision and how its runs are judged. */
export interface PastPlan extends Plan {
  specification: SpecificationRow;
}

/** Values for each check of a plan, see `valuesFor`. */
export type CheckValues = readonly (Float64Array | null)[];

/** Runs judged twice: as recorded, and on trial. */
export interface JudgedBlock {
  block: RunBlock;
  plan: PastPlan;
  /** Places in the block of the runs that are asked about. */
  rows: readonly number[];
  /** What becomes of each of those runs, by its place in the block. */
  turns: readonly Turn[];
  recordedValues: CheckValues;
  trialValues: CheckValues;
}

/**
 * The completed runs that a trial looks at, block by block, judged on trial.
 * @param fromMs a later beginning than the trial's own
 */
export function* judgedBlocks(
  plant: Plant,
  { asked, specification, characteristics }: Trial,
  fromMs = asked.fromMs,
): Generator<JudgedBlock> {
  const plans = new Map<number, PastPlan>();
  const window = { fromMs, untilMs: asked.untilMs };
  for (const block of runBlocks(plant, specification.model, window)) {
    const rows = rowsOf(block, { ...asked, fromMs });
    if (rows.length === 0) continue;
    const past = block.specification;
    const plan = plans.get(past.id) ?? {
      specification: past,
      ...planOf(characteristics, past.characteristics),
    };
    plans.set(past.id, plan);
    yield judgeBlock(block, plan, rows);
  }
}

function rowsOf(
  { endedAtMs, outcomes, cellOf, cells }: RunBlock,
  { fromMs, untilMs, cell, runs }: TrialAsked,
): number[] {
  const rows: number[] = [];
  const wanted = runs === 'first' ? Outcome.firstRun : 0;
  for (let row = 0; row < endedAtMs.length; row += 1) {
    const ended = endedAtMs[row] as number;
    if (ended < fromMs || ended >= untilMs) continue;
    if (((outcomes[row] as number) & wanted) !== wanted) continue;
    if (cell !== null && cells[cellOf[row] as number] !== cell) continue;
    rows.push(row);
  }
  return rows;
}

function judgeBlock(block: RunBlock, plan: PastPlan, rows: readonly number[]): JudgedBlock {
  const count = block.runIds.length;
  const columns = new Map<number, Float64Array>();
  const column = (position: number) => {
    const values = columns.get(position) ?? block.column(position);
    columns.set(position, values);
    return values;
  };
  const trialValues = plan.trial.map((check) => valuesFor(check, column));
  const recordedValues = plan.recorded.map((check) => valuesFor(check, column));
  const findings = judgeColumns(plan.trial, trialValues, count);
  const turns = Array.from(block.outcomes, (outcome, row) =>
    turnOf((outcome & Outcome.passed) !== 0, findings, row),
  );
  return { block, plan, rows, turns, recordedValues, trialValues };
}

/** Whether a run counts as first-pass on trial; it must be judgeable. */
export function isTrialFirstPass(
  plant: Plant,
  { block, turns }: JudgedBlock,
  row: number,
): boolean {
  const outcome = block.outcomes[row] as number;
  if ((outcome & Outcome.firstRun) === 0) return false;
  if (turns[row] === 'pass-to-pass') return (outcome & Outcome.firstPass) !== 0;
  return turns[row] === 'fail-to-pass' && !repairedBefore(plant, block.runIds[row] as number);
}

/**
 * Whether a motor had a repair that found a fault before a run that failed: an earlier one
 * than the repair which that failure opened.
 */
export function repairedBefore(plant: Plant, runId: number): boolean {
  const run = plant.testing.run(runId);
  const repairs = run ? plant.repair.ofMotor(run.motorId) : [];
  const own = repairs.findIndex((repair) => repair.runId === runId);
  return repairs.slice(0, Math.max(0, own)).some((one) => one.outcome !== 'no-fault-found');
}
