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
import type { Sample } from './sorted-sample.js';

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

/** The two spreads of one process, about one mean. */
export interface ProcessSpreads {
  within: ProcessSpread;
  overall: ProcessSpread;
}

/**
 * The capability of a process from single values in the order of time.
 *
 * Method: the spreads of `individualsSpreads`; indices and intervals as `capabilityIndices`.
 * Source: ISO 22514-2 for the names (from memory); NIST/SEMATECH e-Handbook 6.1.6 and 6.3.2.2.
 * Domain: as `individualsSpreads`; limits as `ProcessLimits`; 0 < confidence < 1. Indices are
 * null where the standard deviation is 0.
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
  values: Sample,
  limits: ProcessLimits,
  confidence = 0.95,
): Capability {
  return describe(values, individualsSpreads(values), limits, confidence);
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
  return describe(values, pooledSpreads(moments(values), subgroups), limits, confidence);
}

/**
 * The two spreads of single values in the order of time.
 *
 * Method: the spread within is the mean range of neighbours over d2 = 2/√π, the overall one
 * the standard deviation.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.2.
 * Variant: average moving range of two, d2 unrounded (tables print 1.128). Its degrees of
 * freedom are those of a chi distribution with the same coefficient of variation, 0.605 n for
 * many values: see `movingRangeDegreesOfFreedom`.
 * Domain: at least two values, all finite and below 1e150 in size.
 * Accuracy: relative 1e-12.
 * Cost: four passes: 0.05 s for a million.
 *
 * @example
 * individualsSpreads([49, 51, 50, 52]).within.standardDeviation; // 1.4770
 *
 * @throws RangeError outside the domain.
 */
export function individualsSpreads(values: Sample): ProcessSpreads {
  const all = moments(values);
  let ranges = 0;
  let before = values[0] as number;
  for (const value of values) {
    ranges += Math.abs(value - before);
    before = value;
  }
  const within: ProcessSpread = {
    ...all,
    standardDeviation: (ranges / (all.count - 1)) * (Math.sqrt(Math.PI) / 2),
    degreesOfFreedom: movingRangeDegreesOfFreedom(all.count),
  };
  return { within, overall: overallSpread(all) };
}

/**
 * The two spreads of values in the order of time, cut into subgroups of so many neighbours.
 *
 * Method: as `subgroupsCapability`; the last subgroup may be smaller.
 * Domain: whole size >= 2; at least two values, all finite and below 1e150 in size.
 * Accuracy: relative 1e-12.
 * Cost: six passes.
 *
 * @example
 * consecutiveSpreads(Float64Array.of(1, 3, 11, 13), 2).within.standardDeviation; // √2
 *
 * @throws RangeError outside the domain.
 */
export function consecutiveSpreads(values: Float64Array, size: number): ProcessSpreads {
  if (!Number.isSafeInteger(size) || size < 2) {
    throw new RangeError(`the size ${size} is not a whole number of at least 2`);
  }
  return pooledSpreads(moments(values), consecutive(values, size));
}

function* consecutive(values: Float64Array, size: number): Generator<Float64Array> {
  for (let from = 0; from < values.length; from += size) yield values.subarray(from, from + size);
}

function pooledSpreads(all: Moments, subgroups: Iterable<Sample>): ProcessSpreads {
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
  return {
    within: { ...all, standardDeviation, degreesOfFreedom },
    overall: overallSpread(all),
  };
}

function overallSpread(all: Moments): ProcessSpread {
  return { ...all, degreesOfFreedom: all.count - 1 };
}

/**
 * What one spread says of a process against limits.
 *
 * Method: `capabilityIndices` and `expectedOutside`, with their domains and accuracies.
 *
 * @throws RangeError outside the domain.
 */
export function capabilityBySpread(
  spread: ProcessSpread,
  limits: ProcessLimits,
  confidence = 0.95,
): CapabilityBySpread {
  const indices = capabilityIndices(spread, limits, confidence);
  return { ...spread, indices, expectedOutside: expectedOutside(spread, limits) };
}

function describe(
  values: Sample,
  { within, overall }: ProcessSpreads,
  limits: ProcessLimits,
  confidence: number,
): Capability {
  return {
    within: capabilityBySpread(within, limits, confidence),
    overall: capabilityBySpread(overall, limits, confidence),
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
