/**
 * The arithmetic mean.
 *
 * Method: a compensated sum, in which what each addition rounds away is kept apart and
 * added at the end, divided by the count.
 * Source: Neumaier, Z. Angew. Math. Mech. 54 (1974) 39 (from memory).
 * Domain: at least one value, all finite, with a sum below 1e308. The sample is not changed.
 * Accuracy: two roundings, whatever the count and the order, where a plain sum of a
 * million readings loses five or six digits in the worst order; exact for equal values.
 * Cost: one pass.
 *
 * @example
 * mean([1e16, 1, -1e16]); // 1/3; a plain sum gives 0
 *
 * @throws RangeError outside the domain.
 */
export function mean(sample: readonly number[] | Float64Array): number {
  if (sample.length === 0) throw new RangeError('the sample is empty');
  let sum = 0;
  let lost = 0;
  const [first] = sample;
  let equal = true;
  for (const value of sample) {
    equal &&= value === first;
    const next = sum + value;
    lost += Math.abs(sum) >= Math.abs(value) ? sum - next + value : value - next + sum;
    sum = next;
  }
  const total = sum + lost;
  // Anything not finite in the sample, and an overflow, ends up here.
  if (!Number.isFinite(total))
    throw new RangeError('the sample has a value not finite, or its sum is too large');
  // The quotient may miss equal values by a last digit, which would pass for a spread about them.
  return equal && first !== undefined ? first : total / sample.length;
}
