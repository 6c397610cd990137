import { ExactDecimal, exactly, nearestDouble } from '../measurement/decimal.js';
import { type T95Table, t95For, t95Of1048 } from './t95-table.js';

/** The tests of one family and pollutant so far, summed up. */
export interface TestSample {
  tests: number;
  mean: number;
  /** The sample standard deviation, with n - 1; null with one test. */
  sigma: number | null;
}

/** How many tests the formula asks for after the tests so far. */
export interface RequiredSampleSize {
  /** The coefficient read from the table. */
  t95: number;
  /** N as the formula gives it, not rounded; null where it gives none, the mean being the standard. */
  formula: number | null;
  /** The smallest whole number of tests that is not below N; null with it. */
  tests: number | null;
}

/**
 * Number, mean and standard deviation of test results.
 *
 * Method: in decimals, with 50 digits, each figure rounded once to a double.
 * Domain: at least one finite result. They are not changed.
 *
 * @example
 * testSample([18.1, 19.4]); // { tests: 2, mean: 18.75, sigma: 0.919239 }
 *
 * @throws RangeError outside the domain.
 */
export function testSample(results: readonly number[]): TestSample {
  if (results.length === 0) throw new RangeError('there is no test');
  const exact = results.map(exactly);
  const sum = ExactDecimal.sum(...exact);
  const mean = sum.dividedBy(results.length);
  if (results.length === 1) return { tests: 1, mean: nearestDouble(mean), sigma: null };
  const squares = ExactDecimal.sum(...exact.map((result) => result.minus(mean).pow(2)));
  const variance = squares.dividedBy(results.length - 1);
  return {
    tests: results.length,
    mean: nearestDouble(mean),
    sigma: nearestDouble(variance.sqrt()),
  };
}

/**
 * The sample size that production-line testing of one family and pollutant asks for.
 *
 * AN AID ONLY: the regulation and the certifying authority decide what must be tested.
 *
 * Method: N = (t95 · sigma / (mean - standard))² + 1, after each test anew.
 * Source: 40 CFR 1045.310, which 1045.345(a)(8) names for it and which was not seen; the variables
 * and the table as 40 CFR 1048.310(c), the sister part, prints them (the equation itself is a
 * picture there and is from memory). For a family take the largest N over its pollutants.
 * Variant: N is not rounded by the formula; n >= N is the same as n >= `tests`. A mean equal to
 * the standard divides by zero: there is then no N (null) and testing goes on. A sigma of 0 gives 1.
 * Domain: at least two results, already deteriorated and rounded; standard finite and above 0.
 * Accuracy: relative 1e-15 of the figures as printed; the difference from the standard is exact.
 *
 * @example
 * requiredSampleSize([18.1, 19.4], 20); // { t95: 6.31, formula: 22.533, tests: 23 }
 *
 * @throws RangeError outside the domain.
 */
export function requiredSampleSize(
  results: readonly number[],
  standard: number,
  table: Readonly<T95Table> = t95Of1048,
): RequiredSampleSize {
  checkStandard(standard);
  const t95 = t95For(results.length, table);
  const { sigma } = testSample(results);
  if (sigma === null) throw new RangeError('a sample size needs at least two tests');
  const difference = meanMinus(results, standard);
  if (difference === 0) return { t95, formula: null, tests: null };
  const formula = ((t95 * sigma) / difference) ** 2 + 1;
  return { t95, formula, tests: Math.ceil(formula) };
}

/**
 * The mean less the standard, computed in decimals: its sign is right even where doubles
 * would see 20.099999 for 20.1.
 */
export function meanMinus(results: readonly number[], standard: number): number {
  const excess = ExactDecimal.sum(...results.map(exactly)).minus(
    exactly(standard).times(results.length),
  );
  return nearestDouble(excess.dividedBy(results.length));
}

/** @throws RangeError when the emission standard or limit is not finite and above 0. */
export function checkStandard(standard: number): void {
  if (!(standard > 0 && Number.isFinite(standard))) {
    throw new RangeError(`the standard ${standard} is not above zero and finite`);
  }
}
