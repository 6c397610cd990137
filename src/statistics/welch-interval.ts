import { checkConfidence } from './degrees-of-freedom.js';
import type { Moments } from './moments.js';
import { checkGroups } from './one-way-anova.js';
import { studentTCdf, studentTQuantile } from './student-t.js';
import type { Interval } from './wilson-interval.js';

/** The difference of two means, the first less the second, with its confidence interval. */
export interface MeanDifference extends Interval {
  difference: number;
  standardError: number;
  degreesOfFreedom: number;
  /** How often two groups of one mean are at least so far apart, either way. */
  pValue: number;
}

/** Two of several groups, by their places in the list. */
export interface PairwiseDifference extends MeanDifference {
  first: number;
  second: number;
}

/**
 * The difference of two means, however different the spreads of the groups.
 *
 * Method: the standard error √(s1²/n1 + s2²/n2) with Welch and Satterthwaite's degrees of freedom.
 * Source: NIST/SEMATECH e-Handbook 7.3.1; Welch, Biometrika 34 (1947) 28.
 * Variant: two-sided, unequal variances.
 * Domain: moments of at least two values each, 0 < confidence < 1.
 * Accuracy: relative 1e-13 times the ratio of the larger mean to the difference.
 *
 * @returns null if neither group has any spread.
 *
 * @example
 * welchInterval(moments([2, 3, 4]), moments([1, 2, 3]));
 * // difference 1, from -1.267 to 3.267 with 4 degrees of freedom, p = 0.288
 *
 * @throws RangeError outside the domain.
 */
export function welchInterval(
  first: Moments,
  second: Moments,
  confidence = 0.95,
): MeanDifference | null {
  checkGroups([first, second]);
  checkConfidence(confidence);
  const variance1 = first.standardDeviation ** 2 / first.count;
  const variance2 = second.standardDeviation ** 2 / second.count;
  const variance = variance1 + variance2;
  if (variance === 0) return null;
  // Shares, rather than squared variances, so that nothing vanishes.
  const share1 = variance1 / variance;
  const share2 = variance2 / variance;
  const degreesOfFreedom = 1 / (share1 ** 2 / (first.count - 1) + share2 ** 2 / (second.count - 1));
  const difference = first.mean - second.mean;
  const standardError = Math.sqrt(variance);
  const reach = studentTQuantile((1 + confidence) / 2, degreesOfFreedom) * standardError;
  return {
    difference,
    standardError,
    degreesOfFreedom,
    lower: difference - reach,
    upper: difference + reach,
    pValue: 2 * studentTCdf(-Math.abs(difference / standardError), degreesOfFreedom),
  };
}

/**
 * The differences between all pairs of groups: with the given confidence all intervals hold
 * together, and a p value at or below 1 - confidence is real together with all others.
 *
 * Method: `welchInterval` for each of the m pairs at the confidence 1 - (1 - confidence)/m,
 * p values times m, at most 1.
 * Source: Bonferroni's inequality.
 * Variant: Bonferroni, which holds whatever the dependence of the pairs. Games and Howell's
 * intervals, from the studentized range, are a few per cent narrower.
 * Domain: at least two groups, as `welchInterval`.
 * Accuracy: as `welchInterval`.
 *
 * @returns each pair once, the one that comes first in the list first; a pair of which
 * neither has any spread is left out, and counts towards m all the same.
 *
 * @example
 * pairwiseWelchIntervals([moments([2, 3, 4]), moments([1, 2, 3])]); // one pair, as `welchInterval`
 *
 * @throws RangeError outside the domain.
 */
export function pairwiseWelchIntervals(
  groups: readonly Moments[],
  confidence = 0.95,
): PairwiseDifference[] {
  checkGroups(groups);
  checkConfidence(confidence);
  const pairs = (groups.length * (groups.length - 1)) / 2;
  const each = 1 - (1 - confidence) / pairs;
  const differences: PairwiseDifference[] = [];
  for (const [first, one] of groups.entries()) {
    for (const [offset, other] of groups.slice(first + 1).entries()) {
      const pair = welchInterval(one, other, each);
      if (pair === null) continue;
      const pValue = Math.min(1, pair.pValue * pairs);
      differences.push({ ...pair, pValue, first, second: first + 1 + offset });
    }
  }
  return differences;
}
