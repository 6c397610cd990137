import { type Moments, moments } from './moments.js';
import { normalLogTails } from './normal-log-tails.js';
import type { SortedSample } from './sorted-sample.js';

/** The smallest sample for which the approximation of the p value is published. */
export const andersonDarlingCountMin = 8;

/** Past this the published parabola has no data behind it, and would turn up again further out. */
const modifiedMax = 10;

/** How far a sample is from normal. */
export interface AndersonDarling {
  /** A². */
  statistic: number;
  /** A² scaled so that one set of critical values serves every count. */
  modified: number;
  /** How often a normal sample is at least so far from normal; at most 4e-24 is reported as that. */
  pValue: number;
}

/**
 * The Anderson-Darling test of normality with mean and standard deviation estimated from
 * the sample. It weighs the tails, where the fraction outside limits is decided.
 *
 * Method: A² = -n - (1/n) Σ (2i - 1) [ln Φ(z_i) + ln(1 - Φ(z_(n+1-i)))] over the sorted,
 * standardised values; modified A² (1 + 0.75/n + 2.25/n²); p by four exponentials of parabolas.
 * Source: Stephens in D'Agostino and Stephens, Goodness-of-Fit Techniques (1986), 4.8.5 and
 * table 4.9, as two public implementations and a numerical library's manual quote them.
 * Variant: both parameters estimated, standard deviation with divisor n - 1.
 * Domain: at least andersonDarlingCountMin values, below 1e150 in size.
 * Accuracy: statistic absolute 1e-15 times the count at worst; p as published, within some 2 % of itself between
 * 0.005 and 0.15, with steps of up to 0.005 where the parabolas meet.
 * With very many readings even a rounding to one decimal is found not to be normal: look
 * at the statistic beside the p value.
 * Cost: Φ and two logarithms for each different value: 0.1 s for a million that all differ.
 *
 * @param known the moments of the sample, where the caller has them already.
 * @returns null if all values are equal.
 *
 * @example
 * andersonDarling(sortSample([1, 2, 3, 4, 5, 6, 7, 8])); // A² = 0.1340, modified 0.1513, p = 0.961
 *
 * @throws RangeError outside the domain.
 */
export function andersonDarling(
  { ascending }: SortedSample,
  known?: Moments,
): AndersonDarling | null {
  const n = ascending.length;
  if (n < andersonDarlingCountMin) {
    throw new RangeError(`the test needs ${andersonDarlingCountMin} values, not ${n}`);
  }
  const { mean, standardDeviation } = known ?? moments(ascending);
  if (standardDeviation === 0) return null;
  let statistic = 0;
  for (let from = 0, until = 0; from < n; from = until) {
    const value = ascending[from] as number;
    // Readings are rounded, so that many are equal: their weights add up to one product.
    do until++;
    while (ascending[until] === value);
    const { lower, upper } = normalLogTails((value - mean) / standardDeviation);
    // Both terms of a value, from either end, with its share of -n, so that no large sum builds up.
    const term = 1 + ((from + until) * lower + (2 * n - from - until) * upper) / n;
    statistic -= (until - from) * term;
  }
  const modified = statistic * (1 + 0.75 / n + 2.25 / (n * n));
  return { statistic, modified, pValue: pValueOf(modified) };
}

/** The four parabolas of table 4.9. */
function pValueOf(modified: number): number {
  const a = Math.min(modified, modifiedMax);
  if (a < 0.2) return 1 - Math.exp(-13.436 + 101.14 * a - 223.73 * a * a);
  if (a < 0.34) return 1 - Math.exp(-8.318 + 42.796 * a - 59.938 * a * a);
  if (a < 0.6) return Math.exp(0.9177 - 4.279 * a - 1.38 * a * a);
  return Math.exp(1.2937 - 5.709 * a + 0.0186 * a * a);
}
