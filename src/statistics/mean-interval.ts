import { checkConfidence } from './degrees-of-freedom.js';
import type { Moments } from './moments.js';
import { studentTQuantile } from './student-t.js';
import type { Interval } from './wilson-interval.js';

/**
 * The confidence interval of a mean.
 *
 * Method: mean ± t s/√n with n - 1 degrees of freedom.
 * Source: NIST/SEMATECH e-Handbook 1.3.5.2.
 * Variant: two-sided, for a mean whose standard deviation is not known.
 * Domain: moments of at least two values, 0 < confidence < 1.
 * Accuracy: relative 1e-13 of the half width.
 *
 * @returns the mean twice if there is no spread.
 *
 * @example
 * meanInterval({ count: 195, mean: 9.26146, standardDeviation: 0.022789 }); // 9.258242 to 9.264679
 *
 * @throws RangeError outside the domain.
 */
export function meanInterval(
  { count, mean, standardDeviation }: Moments,
  confidence = 0.95,
): Interval {
  checkConfidence(confidence);
  if (!Number.isSafeInteger(count) || count < 2) {
    throw new RangeError(`the count ${count} is not a whole number of at least 2`);
  }
  const t = studentTQuantile((1 + confidence) / 2, count - 1);
  const reach = (t * standardDeviation) / Math.sqrt(count);
  return { lower: mean - reach, upper: mean + reach };
}
