/** Values as the statistics take them; a series comes as doubles and is not copied. */
export type Sample = readonly number[] | Float64Array;

/** Values in ascending order: sorted once for everything that needs them so. */
export interface SortedSample {
  readonly ascending: Float64Array;
}

/**
 * The values of a sample in ascending order.
 *
 * Domain: at least one value, all finite. The sample is not changed.
 * Cost: a sort of a copy: 0.13 s for a million.
 *
 * @example
 * sortSample([3, 1, 2]).ascending; // 1, 2, 3
 *
 * @throws RangeError outside the domain.
 */
export function sortSample(sample: Sample): SortedSample {
  if (sample.length === 0) throw new RangeError('the sample is empty');
  const ascending = new Float64Array(sample).sort();
  // What is not finite stands at an end: a typed array sorts NaN behind Infinity.
  if (!Number.isFinite(ascending[0]) || !Number.isFinite(ascending.at(-1))) {
    throw new RangeError('the sample has a value not finite');
  }
  return { ascending };
}

/**
 * `quantile` without its sort.
 *
 * Variant and accuracy: as `quantile`, Hyndman and Fan's definition 7.
 *
 * @example
 * sortedQuantile(sortSample([7, 1, 3, 5]), 0.5); // 4
 *
 * @throws RangeError unless 0 <= probability <= 1.
 */
export function sortedQuantile({ ascending }: SortedSample, probability: number): number {
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`the probability ${probability} is not between 0 and 1`);
  }
  const position = (ascending.length - 1) * probability;
  const index = Math.floor(position);
  const below = ascending[index] ?? Number.NaN;
  const above = ascending[index + 1] ?? below;
  return below + (position - index) * (above - below);
}
