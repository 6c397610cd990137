import { defectsPerUnit, poissonYield } from '../statistics/defects-per-unit.js';
import { rolledThroughputYield } from '../statistics/rolled-throughput-yield.js';
import { wilsonInterval } from '../statistics/wilson-interval.js';

/** The step in which powerhead and lower unit come together; other steps are kinds of inspection. */
export const SET = 'set';
/** The step that the first-pass yield is of. */
export const TEST = 'first-pass test';

/** What a step's place on a day has counted. */
export interface StepCounts {
  /** First attempts: each attempt at a set, the first inspection of a unit. */
  attempts: number;
  /** Of those, sets and accepted units. */
  passes: number;
  /** Inspections of a unit after its first. */
  later: number;
  laterPasses: number;
}

/**
 * The plant day on which an event counts. Events from before days were stated count by
 * their UTC date, since an applier knows no time zone.
 */
export function countedDay(day: string | undefined, occurredAtMs: number): string {
  return day ?? new Date(occurredAtMs).toISOString().slice(0, 10);
}

/** What one first attempt counts. */
export function firstAttempt(passed: boolean): StepCounts {
  return { attempts: 1, passes: passed ? 1 : 0, later: 0, laterPasses: 0 };
}

/** What one inspection after a unit's first counts. */
export function laterInspection(accepted: boolean): StepCounts {
  return { attempts: 0, passes: 0, later: 1, laterPasses: accepted ? 1 : 0 };
}

/** A share with its 95 % Wilson interval; all null where there is nothing to share. */
export interface Share {
  share: number | null;
  lower: number | null;
  upper: number | null;
}

export function shareOf(count: number, of: number): Share {
  if (of === 0) return { share: null, lower: null, upper: null };
  return { share: count / of, ...wilsonInterval(count, of) };
}

export interface StepFigure {
  step: string;
  /** At least 1. */
  attempts: number;
  passes: number;
  /** Defects found in those attempts; one attempt may have several. */
  defects: number;
}

export interface RolledStep extends StepFigure {
  stepYield: number;
  defectsPerUnit: number;
  /** Product of the yields of this step and those before it. */
  rolledThroughputYield: number;
  /** Sum of the defects per unit of this step and those before it. */
  rolledDefectsPerUnit: number;
  /** The rolled yield that so many defects lead one to expect, if they fell independently. */
  poissonYield: number;
}

/**
 * Yields rolled from the first step to each; the last line is that of the whole way.
 * @param steps in the order of the way, each with attempts
 * @throws RangeError for a step without attempts
 */
export function rollSteps(steps: readonly StepFigure[]): RolledStep[] {
  const yields: number[] = [];
  let rolledDefects = 0;
  return steps.map((step) => {
    const stepYield = step.passes / step.attempts;
    const perUnit = defectsPerUnit(step.defects, step.attempts);
    yields.push(stepYield);
    rolledDefects += perUnit;
    return {
      ...step,
      stepYield,
      defectsPerUnit: perUnit,
      rolledThroughputYield: rolledThroughputYield(yields),
      rolledDefectsPerUnit: rolledDefects,
      poissonYield: poissonYield(rolledDefects),
    };
  });
}
