import { mean } from './mean.js';
import type { Sample } from './sorted-sample.js';

/** What a comparison of groups needs to know of each: a roll-up can hold it as well as a sample. */
export interface Moments {
  count: number;
  mean: number;
  /** With the divisor count - 1; exactly 0 if all values are equal. */
  standardDeviation: number;
}

/**
 * The count, mean and standard deviation of a sample.
 *
 * Method: two passes: the mean first, then the squared distances to it, less the square of
 * their sum over the count, which takes back the rounding of the mean.
 * Source: Chan, Golub and LeVeque, Amer. Statist. 37 (1983) 242, the corrected two-pass
 * algorithm.
 * Variant: sample standard deviation, divisor count - 1.
 * Domain: at least two values, all finite and below 1e150 in size. The sample is not changed.
 * Accuracy: relative 1e-15 times the root of the count; on top of that, what reading the
 * values into doubles has cost: 0.1 about 10,000,000 is known to 8 digits only.
 * Cost: three passes.
 *
 * @example
 * moments([10000001, 10000003, 10000002]); // { count: 3, mean: 10000002, standardDeviation: 1 }
 *
 * @throws RangeError outside the domain.
 */
export function moments(sample: Sample): Moments {
  if (sample.length < 2) throw new RangeError(`a spread needs two values, not ${sample.length}`);
  const centre = mean(sample);
  let squares = 0;
  let rest = 0;
  for (const value of sample) {
    const distance = value - centre;
    squares += distance * distance;
    rest += distance;
  }
  const variance = (squares - (rest * rest) / sample.length) / (sample.length - 1);
  if (!Number.isFinite(variance)) throw new RangeError('the sample has a value of 1e150 or more');
  return {
    count: sample.length,
    mean: centre,
    standardDeviation: Math.sqrt(Math.max(0, variance)),
  };
}

/**
 * How much each value resembles the one before it, -1..1: near 0 for a process without
 * memory, near 1 for one that drifts.
 *
 * Method: the sum of the products of neighbouring distances to the mean, over the sum of
 * the squared distances.
 * Source: NIST/SEMATECH e-Handbook 1.3.5.12; NIST StRD, univariate statistics.
 * Variant: one mean for both neighbours, and the full sum of squares below.
 * Domain: at least two values, all finite and below 1e150 in size, in the order of time.
 * Accuracy: relative 1e-14 of the largest possible value, 1.
 *
 * @returns null if all values are equal, when there is nothing to resemble.
 *
 * @example
 * lagOneAutocorrelation([1, 3, 2]); // -0.5
 *
 * @throws RangeError outside the domain.
 */
export function lagOneAutocorrelation(sample: Sample): number | null {
  const { mean: centre, standardDeviation } = moments(sample);
  if (standardDeviation === 0) return null;
  let products = 0;
  let squares = 0;
  let before = 0;
  for (const value of sample) {
    const distance = value - centre;
    products += before * distance;
    squares += distance * distance;
    before = distance;
  }
  return products / squares;
}
