import { fTails } from './f-distribution.js';
import type { Moments } from './moments.js';
import { checkGroups } from './one-way-anova.js';

/** Welch's comparison of several means. */
export interface WelchAnova {
  f: number;
  /** Of the numerator, the groups less one. */
  degreesOfFreedomBetween: number;
  /** Of the denominator, not whole. */
  degreesOfFreedomWithin: number;
  /** How often groups of one mean are at least so different. */
  pValue: number;
}

/**
 * Welch's analysis of variance: whether groups have one mean, however different their spreads.
 *
 * Method: squared distances of the group means to their mean, all weighted by n/s², over
 * 1 + 2(k - 2)Λ/(k² - 1), with Λ = Σ (1 - w/Σw)²/(n - 1); F with k - 1 and (k² - 1)/3Λ.
 * Source: Welch, Biometrika 38 (1951) 330; the default of R's oneway.test.
 * Variant: with two groups it is Welch's t test, F = t².
 * Domain: at least two groups with moments of at least two values each.
 * Accuracy: relative 1e-13 times the ratio of the largest mean to the spread.
 *
 * @returns null if a group has no spread: its weight would be without bounds.
 *
 * @example
 * welchAnova([moments([1, 2, 3]), moments([2, 3, 4])]); // F = 1.5 with 1 and 4, p = 0.288
 *
 * @throws RangeError outside the domain.
 */
export function welchAnova(groups: readonly Moments[]): WelchAnova | null {
  checkGroups(groups);
  if (groups.some((group) => group.standardDeviation === 0)) return null;
  const k = groups.length;
  const start = groups[0]?.mean ?? 0;
  const weightOf = (group: Moments) => group.count / group.standardDeviation ** 2;
  let weights = 0;
  let weighted = 0;
  for (const group of groups) {
    weights += weightOf(group);
    weighted += weightOf(group) * (group.mean - start);
  }
  const centre = weighted / weights;
  let squares = 0;
  let lambda = 0;
  for (const group of groups) {
    const weight = weightOf(group);
    squares += weight * (group.mean - start - centre) ** 2;
    lambda += (1 - weight / weights) ** 2 / (group.count - 1);
  }
  const f = squares / (k - 1) / (1 + (2 * (k - 2) * lambda) / (k * k - 1));
  const degreesOfFreedomWithin = (k * k - 1) / (3 * lambda);
  return {
    f,
    degreesOfFreedomBetween: k - 1,
    degreesOfFreedomWithin,
    pValue: fTails(f, k - 1, degreesOfFreedomWithin).upper,
  };
}
