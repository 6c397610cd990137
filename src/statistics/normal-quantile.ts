import quantile from '@stdlib/stats-base-dists-normal-quantile';

/**
 * The value that a normally distributed quantity stays below with a given probability.
 *
 * Method: mean + sd √2 erfinv(2p - 1).
 * Source: @stdlib/stats-base-dists-normal-quantile.
 * Variant: lower tail, so normalQuantile(0.975) is the 1.96 of a two-sided 95 % interval.
 * Domain: 0 < probability < 1, mean finite, standardDeviation > 0 and finite.
 * Accuracy: relative 2e-15 for p above 0.001, 1e-13 at 1e-5, 1e-12 at 1e-6 and
 * 7e-10 at 1e-9, where 2p - 1 has lost digits (measured against 50-digit
 * arithmetic).
 *
 * @example
 * normalQuantile(0.95); // 1.644854, the one-sided 95 % point
 *
 * @throws RangeError outside the domain.
 */
export function normalQuantile(probability: number, mean = 0, standardDeviation = 1): number {
  if (!(probability > 0 && probability < 1)) {
    throw new RangeError(`the probability ${probability} is not strictly between 0 and 1`);
  }
  if (!Number.isFinite(mean)) throw new RangeError(`the mean ${mean} is not finite`);
  if (!Number.isFinite(standardDeviation) || standardDeviation <= 0) {
    throw new RangeError(
      `the standard deviation ${standardDeviation} is not above zero and finite`,
    );
  }
  return quantile(probability, mean, standardDeviation);
}
