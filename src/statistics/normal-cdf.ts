import cdf from '@stdlib/stats-base-dists-normal-cdf';

/**
 * The probability that a normally distributed quantity is at most x.
 *
 * Method: half the complementary error function of (mean - x) / (sd √2), which
 * keeps its relative accuracy in the lower tail; for an upper tail ask
 * normalCdf(mean - (x - mean)).
 * Source: @stdlib/stats-base-dists-normal-cdf.
 * Variant: cumulative from minus infinity, P(X <= x).
 * Domain: x any number or ±Infinity, mean finite, standardDeviation > 0 and finite.
 * Accuracy: relative 2e-16 from one standard deviation below the mean upwards,
 * 3e-15 at 5, 1e-14 at 9 and 2e-13 at 37 below it (measured against 50-digit
 * arithmetic).
 *
 * @example
 * normalCdf(1.4); // 0.919243..., the share below 1.4 standard deviations
 *
 * @throws RangeError outside the domain.
 */
export function normalCdf(x: number, mean = 0, standardDeviation = 1): number {
  if (Number.isNaN(x)) throw new RangeError('x is not a number');
  if (!Number.isFinite(mean)) throw new RangeError(`the mean ${mean} is not finite`);
  if (!Number.isFinite(standardDeviation) || standardDeviation <= 0) {
    throw new RangeError(
      `the standard deviation ${standardDeviation} is not above zero and finite`,
    );
  }
  return cdf(x, mean, standardDeviation);
}
