import type { Moments } from './moments.js';
import { normalCdf } from './normal-cdf.js';
import type { Sample, SortedSample } from './sorted-sample.js';

/** The limits that a process is held against; at least one of them, the lower below the upper. */
export interface ProcessLimits {
  lower: number | null;
  upper: number | null;
}

/** Shares of the values beyond a limit, 0..1; a value on a limit is not beyond it. */
export interface FractionOutside {
  below: number;
  above: number;
  total: number;
}

/**
 * The shares of a normal process beyond its limits.
 *
 * Source: NIST/SEMATECH e-Handbook 6.1.6.
 * Domain: as `capabilityIndices`.
 * Accuracy: that of `normalCdf`, also far out.
 *
 * @returns null if the standard deviation is 0.
 *
 * @example
 * expectedOutside({ mean: 16, standardDeviation: 2 }, { lower: 8, upper: 20 });
 * // { below: 0.0000317, above: 0.02275, total: 0.02278 }
 *
 * @throws RangeError outside the domain.
 */
export function expectedOutside(
  { mean: centre, standardDeviation }: Pick<Moments, 'mean' | 'standardDeviation'>,
  limits: ProcessLimits,
): FractionOutside | null {
  checkLimits(limits);
  if (standardDeviation === 0) return null;
  const { lower, upper } = limits;
  const below = lower === null ? 0 : normalCdf(lower - centre, 0, standardDeviation);
  const above = upper === null ? 0 : normalCdf(centre - upper, 0, standardDeviation);
  return { below, above, total: below + above };
}

/**
 * The shares of a sample beyond limits.
 *
 * Variant: a value on a limit is within it.
 * Domain: at least one value, all finite; limits as `ProcessLimits`.
 * Accuracy: one rounding each.
 *
 * @example
 * observedOutside([1, 2, 3, 4], { lower: 2, upper: 3 }); // { below: 0.25, above: 0.25, total: 0.5 }
 *
 * @throws RangeError outside the domain.
 */
export function observedOutside(values: Sample, limits: ProcessLimits): FractionOutside {
  checkLimits(limits);
  const { lower, upper } = limits;
  if (values.length === 0) throw new RangeError('the sample is empty');
  let below = 0;
  let above = 0;
  for (const value of values) {
    if (!Number.isFinite(value)) throw new RangeError('the sample has a value not finite');
    if (lower !== null && value < lower) below++;
    if (upper !== null && value > upper) above++;
  }
  const n = values.length;
  return { below: below / n, above: above / n, total: (below + above) / n };
}

/** Values beyond each limit. */
export interface CountOutside {
  below: number;
  above: number;
}

/**
 * `observedOutside` of a sorted sample, as counts.
 *
 * Variant: a value on a limit is within it.
 * Domain: limits as `ProcessLimits`.
 * Cost: two binary searches, whatever the count.
 *
 * @example
 * countOutside(sortSample([1, 2, 3, 4]), { lower: 2, upper: 3 }); // { below: 1, above: 1 }
 *
 * @throws RangeError outside the domain.
 */
export function countOutside({ ascending }: SortedSample, limits: ProcessLimits): CountOutside {
  checkLimits(limits);
  const { lower, upper } = limits;
  return {
    below: lower === null ? 0 : placeOf(ascending, (value) => value >= lower),
    above: upper === null ? 0 : ascending.length - placeOf(ascending, (value) => value > upper),
  };
}

/** The place of the first value that is far enough; the length where none is. */
function placeOf(ascending: Float64Array, farEnough: (value: number) => boolean): number {
  let from = 0;
  let until = ascending.length;
  while (from < until) {
    const middle = (from + until) >>> 1;
    if (farEnough(ascending[middle] ?? Number.POSITIVE_INFINITY)) until = middle;
    else from = middle + 1;
  }
  return from;
}

/** @throws RangeError unless there is a limit, and the lower is below the upper. */
export function checkLimits({ lower, upper }: ProcessLimits): void {
  if (lower === null && upper === null) throw new RangeError('there is no limit');
  for (const limit of [lower, upper]) {
    if (limit !== null && !Number.isFinite(limit)) {
      throw new RangeError(`the limit ${limit} is not finite`);
    }
  }
  if (lower !== null && upper !== null && !(lower < upper)) {
    throw new RangeError(`the lower limit ${lower} is not below the upper limit ${upper}`);
  }
}
