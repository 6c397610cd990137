import {
  type CapabilityIndices,
  capabilityIndices,
  type ProcessSpread,
} from './capability-indices.js';
import {
  expectedOutside,
  type FractionOutside,
  observedOutside,
  type ProcessLimits,
} from './fraction-outside.js';
import { type Moments, moments } from './moments.js';

/** What one spread says of the process. */
export interface CapabilityBySpread extends ProcessSpread {
  /** Null if the standard deviation is 0. */
  indices: CapabilityIndices | null;
  /** The fraction outside if the values are normal; null if the standard deviation is 0. */
  expectedOutside: FractionOutside | null;
}

/** The capability and the performance of a process. */
export interface Capability {
  /** From the spread between neighbours: what the process could do (Cp, Cpk). */
  within: CapabilityBySpread;
  /** From the spread of all values: what it did (Pp, Ppk). */
  overall: CapabilityBySpread;
  observedOutside: FractionOutside;
}

/**
 * The capability of a process from single values in the order of time.
 *
 * Method: the spread within is the mean range of neighbours over d2 = 2/√π, the overall
 * one the standard deviation; indices and intervals as `capabilityIndices`.
 * Source: ISO 22514-2 for the names (from memory); NIST/SEMATECH e-Handbook 6.1.6 and 6.3.2.2.
 * Variant: average moving range of two, d2 unrounded (tables print 1.128). Its degrees of
 * freedom are those of a chi distribution with the same coefficient of variation, 0.605 n for
 * many values: see `movingRangeDegreesOfFreedom`.
 * Domain: at least two values, all finite and below 1e150 in size; limits as `ProcessLimits`;
 * 0 < confidence < 1. Indices are null where the standard deviation is 0.
 * Accuracy: relative 1e-12.
 * Cost: five passes.
 *
 * @example
 * individualsCapability([49, 51, 50, 52], { lower: 44, upper: 57 }).within.standardDeviation;
 * // (2 + 1 + 2) / 3 · √π/2 = 1.4770
 *
 * @throws RangeError outside the domain.
 */
export function individualsCapability(
  values: readonly number[],
  limits: ProcessLimits,
  confidence = 0.95,
): Capability {
  const all = moments(values);
  let ranges = 0;
  let before: number | undefined;
  for (const value of values) {
    if (before !== undefined) ranges += Math.abs(value - before);
    before = value;
  }
  const within: ProcessSpread = {
    ...all,
    standardDeviation: (ranges / (all.count - 1)) * (Math.sqrt(Math.PI) / 2),
    degreesOfFreedom: movingRangeDegreesOfFreedom(all.count),
  };
  return describe(values, all, within, limits, confidence);
}

/**
 * The capability of a process from rational subgroups, such as the runs of one shift.
 *
 * Method: the spread within is pooled over the subgroups, √(Σ (n_i - 1) s_i² / Σ (n_i - 1)),
 * the overall one the standard deviation of all values; indices as `capabilityIndices`.
 * Source: as `individualsCapability`.
 * Variant: pooled standard deviation, without the correction c4 for its small bias.
 * Domain: subgroups of one value or more, at least one of them of two; else as
 * `individualsCapability`.
 * Accuracy: relative 1e-12.
 *
 * @example
 * subgroupsCapability([[1, 3], [11, 13]], { lower: 0, upper: 20 }).within.standardDeviation; // √2
 *
 * @throws RangeError outside the domain.
 */
export function subgroupsCapability(
  subgroups: readonly (readonly number[])[],
  limits: ProcessLimits,
  confidence = 0.95,
): Capability {
  const values = subgroups.flat();
  const all = moments(values);
  let squares = 0;
  let degreesOfFreedom = 0;
  for (const subgroup of subgroups) {
    if (subgroup.length === 0) throw new RangeError('a subgroup is empty');
    if (subgroup.length === 1) continue;
    squares += (subgroup.length - 1) * moments(subgroup).standardDeviation ** 2;
    degreesOfFreedom += subgroup.length - 1;
  }
  if (degreesOfFreedom === 0) throw new RangeError('no subgroup has two values');
  const standardDeviation = Math.sqrt(squares / degreesOfFreedom);
  return describe(values, all, { ...all, standardDeviation, degreesOfFreedom }, limits, confidence);
}

function describe(
  values: readonly number[],
  all: Moments,
  within: ProcessSpread,
  limits: ProcessLimits,
  confidence: number,
): Capability {
  const bySpread = (spread: ProcessSpread): CapabilityBySpread => {
    const indices = capabilityIndices(spread, limits, confidence);
    return { ...spread, indices, expectedOutside: expectedOutside(spread, limits) };
  };
  return {
    within: bySpread(within),
    overall: bySpread({ ...all, degreesOfFreedom: all.count - 1 }),
    observedOutside: observedOutside(values, limits),
  };
}

/**
 * The degrees of freedom of a standard deviation from the average moving range of two.
 *
 * Method: ν = 1/(2 CV²), where CV is the coefficient of variation of that average for
 * independent normal values: CV² = [(π/2 - 1)(n - 1) + 2(√3/2 + π/12 - 1)(n - 2)] / (n - 1)²,
 * from the covariance of neighbouring ranges.
 * Source: derived here; Cryer and Ryan, J. Qual. Technol. 22 (1990) 187, give the same
 * variance as (0.826 n - 1.082)/(n - 1)² (from memory).
 * Domain: whole count >= 2.
 * Accuracy: exact as to CV; as a number of degrees of freedom some 0.25 too low, so that
 * intervals are a little too wide.
 *
 * @example
 * movingRangeDegreesOfFreedom(100); // 60.1
 *
 * @throws RangeError outside the domain.
 */
export function movingRangeDegreesOfFreedom(count: number): number {
  if (!Number.isSafeInteger(count) || count < 2) {
    throw new RangeError(`the count ${count} is not a whole number of at least 2`);
  }
  const own = Math.PI / 2 - 1;
  const shared = 2 * (Math.sqrt(3) / 2 + Math.PI / 12 - 1);
  return (count - 1) ** 2 / (2 * (own * (count - 1) + shared * (count - 2)));
}
