import { fTails } from './f-distribution.js';
import type { Moments } from './moments.js';

/** One line of a table of variance. */
export interface VarianceLine {
  sumOfSquares: number;
  degreesOfFreedom: number;
  meanSquare: number;
}

/** A one-way table of variance. */
export interface OneWayAnova {
  between: VarianceLine;
  within: VarianceLine;
  /** Both null if no group has any spread. */
  f: number | null;
  /** How often groups of one mean are at least so different. */
  pValue: number | null;
  /** The share of the total sum of squares between groups; null if all values are equal. */
  rSquared: number | null;
}

/**
 * The one-way analysis of variance: whether groups, such as the test cells, have one mean.
 *
 * Method: mean squares between and within groups, from the count, mean and standard
 * deviation of each; their ratio F, and the upper tail of its distribution.
 * Source: NIST/SEMATECH e-Handbook 7.4.3.3.
 * Variant: fixed effects; assumes one standard deviation for all groups. Where that is
 * doubtful, `welchAnova`.
 * Domain: at least two groups with moments of at least two values each.
 * Accuracy: relative 1e-14 times the ratio of the largest mean to the spread; values that
 * share 7 leading digits keep 8.
 * Cost: two passes over the groups.
 *
 * @example
 * oneWayAnova([moments([1, 2, 3]), moments([2, 3, 4])]); // F = 1.5 with 1 and 4, p = 0.288
 *
 * @throws RangeError outside the domain.
 */
export function oneWayAnova(groups: readonly Moments[]): OneWayAnova {
  checkGroups(groups);
  let count = 0;
  let weighted = 0;
  const [origin] = groups;
  const start = origin?.mean ?? 0;
  for (const group of groups) {
    count += group.count;
    // Distances to any one mean are small, so that means that share digits lose none.
    weighted += group.count * (group.mean - start);
  }
  const grand = weighted / count;
  let betweenSquares = 0;
  let withinSquares = 0;
  for (const group of groups) {
    betweenSquares += group.count * (group.mean - start - grand) ** 2;
    withinSquares += (group.count - 1) * group.standardDeviation ** 2;
  }
  const between = line(betweenSquares, groups.length - 1);
  const within = line(withinSquares, count - groups.length);
  const total = betweenSquares + withinSquares;
  const f = within.meanSquare === 0 ? null : between.meanSquare / within.meanSquare;
  return {
    between,
    within,
    f,
    pValue: f === null ? null : fTails(f, between.degreesOfFreedom, within.degreesOfFreedom).upper,
    rSquared: total === 0 ? null : betweenSquares / total,
  };
}

/** @throws RangeError unless there are two groups with usable moments. */
export function checkGroups(groups: readonly Moments[]): void {
  if (groups.length < 2)
    throw new RangeError(`a comparison needs two groups, not ${groups.length}`);
  for (const { count, mean, standardDeviation } of groups) {
    if (!Number.isSafeInteger(count) || count < 2) {
      throw new RangeError(`the count ${count} is not a whole number of at least 2`);
    }
    if (!Number.isFinite(mean)) throw new RangeError(`the mean ${mean} is not finite`);
    if (!(standardDeviation >= 0 && Number.isFinite(standardDeviation))) {
      throw new RangeError(
        `the standard deviation ${standardDeviation} is not finite and at least 0`,
      );
    }
  }
}

function line(sumOfSquares: number, degreesOfFreedom: number): VarianceLine {
  return { sumOfSquares, degreesOfFreedom, meanSquare: sumOfSquares / degreesOfFreedom };
}
