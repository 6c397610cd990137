import { Decimal } from 'decimal.js';
import { ExactDecimal, exactly, nearestDouble } from '../measurement/decimal.js';
import {
  checkStandard,
  meanMinus,
  type RequiredSampleSize,
  requiredSampleSize,
  testSample,
} from './sample-size.js';
import { type T95Table, t95Of1048 } from './t95-table.js';

/** What stands above every figure of this folder, to be shown with it. */
export const emissionsAidNotice =
  'An aid for planning. The regulation and the certifying authority decide whether an engine family complies.';

/** How emissions are expected to grow over the useful life, as certified for the family. */
export type DeteriorationFactor =
  | { readonly kind: 'multiplicative'; readonly factor: number }
  | { readonly kind: 'additive'; readonly amount: number };

/** What one family is judged against for one pollutant. */
export interface LotStandard {
  /** The emission standard or family emission limit. */
  readonly standard: number;
  readonly table: Readonly<T95Table>;
}

export type LotDecision = 'pass' | 'fail' | 'continue';

/** The CumSum of one family and pollutant between two tests: plain data. */
export interface LotState extends LotStandard {
  /** The final deteriorated results, in the order of testing. */
  readonly results: readonly number[];
  readonly cumSum: number;
  /** Whether the newest test's CumSum exceeded its action limit. */
  readonly exceeded: boolean;
  /** The test, from 1, at which the family failed; null while it has not. */
  readonly failedAt: number | null;
}

/** The answer to one test. */
export interface LotTest {
  state: LotState;
  /** Its number, from 1. */
  test: number;
  mean: number;
  sigma: number | null;
  cumSum: number;
  /** H; null at the first test, which has no sigma. */
  actionLimit: number | null;
  exceeded: boolean;
  required: RequiredSampleSize | null;
  decision: LotDecision;
}

/**
 * A final deteriorated test result of one engine for one pollutant.
 *
 * AN AID ONLY: the regulation and the certifying authority decide.
 *
 * Method: repeat tests of the engine are averaged and rounded to one more decimal than the
 * standard; the deterioration factor is applied, and the result rounded so again.
 * Source: 40 CFR 1051.315(a) and 1048.315(a), sister parts; 40 CFR 1045.320(a) refers to final
 * deteriorated results by 1045.315(a); of that section only (b) and (f) were seen. A multiplicative
 * factor below 1 counts as 1 (40 CFR 1051.240(c)(1)); an additive one below 0 as 0 (from memory).
 * Variant: a half is rounded to even, in decimals (40 CFR part 1065's convention, from memory).
 * Domain: at least one finite measurement; standardDecimals whole, 0 to 10; a finite factor.
 * Accuracy: exact.
 *
 * @example
 * // A standard of 16.2 has one decimal, so results have two.
 * finalDeterioratedResult([14.131, 14.27], { kind: 'multiplicative', factor: 1.05 }, 1); // 14.91
 *
 * @throws RangeError outside the domain.
 */
export function finalDeterioratedResult(
  measurements: readonly number[],
  deterioration: DeteriorationFactor,
  standardDecimals: number,
): number {
  if (measurements.length === 0) throw new RangeError('the engine has no measurement');
  if (!Number.isInteger(standardDecimals) || standardDecimals < 0 || standardDecimals > 10) {
    throw new RangeError(
      `${standardDecimals} decimals of the standard are not a whole number from 0 to 10`,
    );
  }
  const rounded = (value: Decimal) =>
    value.toDecimalPlaces(standardDecimals + 1, Decimal.ROUND_HALF_EVEN);
  const mean = ExactDecimal.sum(...measurements.map(exactly)).dividedBy(measurements.length);
  const final = rounded(mean);
  const deteriorated =
    deterioration.kind === 'multiplicative'
      ? final.times(Decimal.max(1, exactly(deterioration.factor)))
      : final.plus(Decimal.max(0, exactly(deterioration.amount)));
  return nearestDouble(rounded(deteriorated));
}

/**
 * A family and pollutant before its first test of the period.
 *
 * @throws RangeError when the standard is not finite and above 0.
 */
export function startLot(standard: number, table: Readonly<T95Table> = t95Of1048): LotState {
  checkStandard(standard);
  return { standard, table, results: [], cumSum: 0, exceeded: false, failedAt: null };
}

/**
 * Adds the next engine's result to the family's CumSum and says where the family stands.
 *
 * AN AID ONLY: the regulation and the certifying authority decide. In the sister part a failed
 * family must be reported to the agency within ten working days.
 *
 * Method: C = max(0, C before + X - (standard + 0.25 sigma)), 0 at the first test; action limit
 * H = 5 sigma, sigma the standard deviation (n - 1) of all results so far.
 * fail: C exceeded H in two consecutive tests, from then on.
 * pass: at least N tests (`requiredSampleSize`), mean at or below the standard, and no fail.
 * continue: neither yet.
 * Source: C and 5 sigma as 73 FR 73789 prints them, correcting 40 CFR 1045.315(b) and (f); the
 * first test's 0 in 40 CFR 1051.315(b) and the two tests in 40 CFR 1048.315, the sister parts.
 * The pass rule is from memory (40 CFR 1045.310, not seen; should it ask for more than N tests
 * in place of at least N, that differs only where N is a whole number): read it.
 * Variant: an earlier C keeps the sigma of its own time; each C is compared with the H of its own
 * test. A pass is not final: further tests count and can still fail the family. The
 * regulation's further ends of testing (thirty engines, a share of production; from memory) are left
 * to the reader: there this goes on saying continue.
 * Domain: a finite final deteriorated result, in the unit and to the decimals of the standard and one more.
 * Accuracy: relative 1e-14; mean against standard exactly.
 *
 * @returns the state to keep and the figures of this test; the given state is not changed.
 *
 * @example
 * judgeLotTest(startLot(20), 18.1); // { test: 1, cumSum: 0, actionLimit: null, decision: 'continue', ... }
 *
 * @throws RangeError when the result is not finite.
 */
export function judgeLotTest(state: LotState, result: number): LotTest {
  const { standard, table } = state;
  const results = [...state.results, result];
  const { tests, mean, sigma } = testSample(results);
  const allowed = standard + 0.25 * (sigma ?? 0);
  const cumSum = sigma === null ? 0 : Math.max(0, state.cumSum + (result - allowed));
  const actionLimit = sigma === null ? null : 5 * sigma;
  const exceeded = actionLimit !== null && cumSum > actionLimit;
  const failedAt = state.failedAt ?? (exceeded && state.exceeded ? tests : null);
  const required = sigma === null ? null : requiredSampleSize(results, standard, table);
  const next: LotState = { standard, table, results, cumSum, exceeded, failedAt };
  const decision = failedAt === null ? unfailed(results, standard, required) : 'fail';
  return {
    state: next,
    test: tests,
    mean,
    sigma,
    cumSum,
    actionLimit,
    exceeded,
    required,
    decision,
  };
}

function unfailed(
  results: readonly number[],
  standard: number,
  required: RequiredSampleSize | null,
): 'pass' | 'continue' {
  const enough = required !== null && required.tests !== null && results.length >= required.tests;
  return enough && meanMinus(results, standard) <= 0 ? 'pass' : 'continue';
}

/**
 * Where the family stands over all its pollutants: it fails with one of them and passes with all.
 *
 * @throws RangeError when there is none.
 *
 * @example
 * familyDecision(['pass', 'continue']); // 'continue'
 */
export function familyDecision(decisions: readonly LotDecision[]): LotDecision {
  if (decisions.length === 0) throw new RangeError('the family has no pollutant');
  if (decisions.includes('fail')) return 'fail';
  return decisions.includes('continue') ? 'continue' : 'pass';
}
