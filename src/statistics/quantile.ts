/**
 * The value below which a given fraction of a sample lies: 0.5 is the median, 0.9 the p90.
 *
 * Method: the sorted sample, interpolated linearly at position (n - 1)·p counted from zero.
 * Source: Hyndman and Fan, American Statistician 50 (1996) 361.
 * Variant: their definition 7, which puts the smallest value at 0 and the largest
 * at 1. Definition 6 (position (n + 1)·p, as in the NIST/SEMATECH e-Handbook)
 * gives wider tails on small samples: do not compare the two.
 * Domain: at least one value, all finite, 0 <= probability <= 1. The sample is not changed.
 * Accuracy: one rounding per interpolation, relative 3e-16; exact on a sample value.
 * Cost: a sort of a copy.
 *
 * @example
 * quantile([7, 1, 3, 5], 0.5); // 4
 * quantile([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 0.9); // 9.1
 *
 * @throws RangeError outside the domain.
 */
export function quantile(sample: readonly number[], probability: number): number {
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`the probability ${probability} is not between 0 and 1`);
  }
  if (!sample.every(Number.isFinite)) throw new RangeError('the sample has a value not finite');
  const sorted = Float64Array.from(sample).sort();
  const position = (sorted.length - 1) * probability;
  const index = Math.floor(position);
  const below = sorted[index];
  if (below === undefined) throw new RangeError('the sample is empty');
  const above = sorted[index + 1] ?? below;
  return below + (position - index) * (above - below);
}
