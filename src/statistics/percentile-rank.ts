/**
 * Where a value stands in a population: 0.5 is the 50th percentile, in the middle.
 *
 * Method: the mean of the strict rank (the share of the population below the value)
 * and the weak rank (the share at or below it).
 * Source: the usual definition of a percentile rank; "mean" among the four kinds of
 * scipy.stats.percentileofscore.
 * Variant: ties count half, so that turning the scale around gives 1 minus the rank.
 * Its companion is `quantile`, Hyndman and Fan's definition 7: the k-th of n distinct
 * values has rank (k - 1/2)/n here and is the quantile at (k - 1)/(n - 1) there, so
 * one undoes the other to within 1/(2n). (The exact inverse is their definition 5.)
 * Domain: at least one member, no member and no value NaN. The population may come in
 * any order and is not changed; the value may or may not be a member.
 * Accuracy: one rounding.
 * Cost: one pass.
 *
 * @returns a share in 0..1, not a percentage.
 *
 * @example
 * percentileRank([1, 2, 3, 3, 4], 3); // 0.6: two below, four at or below
 *
 * @throws RangeError outside the domain.
 */
export function percentileRank(population: readonly number[], value: number): number {
  if (Number.isNaN(value)) throw new RangeError('the value is not a number');
  if (population.length === 0) throw new RangeError('the population is empty');
  let below = 0;
  let equal = 0;
  for (const member of population) {
    if (Number.isNaN(member)) throw new RangeError('the population has a member not a number');
    if (member < value) below++;
    else if (member === value) equal++;
  }
  return (2 * below + equal) / (2 * population.length);
}
