import { controlChartConstants } from './control-chart-constants.js';
import { type CentreAndLimits, sigmasOut } from './individuals-chart.js';
import { mean } from './mean.js';
import { moments } from './moments.js';
import {
  type ChartSignal,
  judgeRunRules,
  type RunRule,
  type RunRuleState,
  startRunRules,
} from './run-rules.js';

/** What stands for the spread inside a subgroup: an X-bar/R or an X-bar/S chart. */
export type SubgroupSpread = 'range' | 'standard-deviation';

/** The frozen yardstick of a chart for subgroups of one size, in the unit of the values. */
export interface XbarBaseline extends CentreAndLimits {
  /** The standard deviation of a single value within subgroups; that of a mean is sigma / √size. */
  sigma: number;
  spread: SubgroupSpread;
  /** Centre and limits of the range or of the standard deviation. */
  spreadChart: Readonly<CentreAndLimits>;
  /** The number of values in each subgroup. */
  size: number;
  /** How many subgroups it was set from. */
  count: number;
}

/** An X-bar chart between two subgroups: plain data. */
export interface XbarState {
  readonly baseline: Readonly<XbarBaseline>;
  readonly mean: RunRuleState;
  readonly spread: RunRuleState;
}

/** The answer to one subgroup. */
export interface XbarPoint {
  state: XbarState;
  mean: number;
  /** The subgroup's range or standard deviation, as the baseline has it. */
  spread: number;
  signals: ChartSignal<'mean' | SubgroupSpread>[];
}

/**
 * The baseline of an X-bar/R or X-bar/S chart.
 *
 * Method: centre = mean of the subgroup means; sigma = mean range / d2, or mean standard
 * deviation / c4; limits of the mean = centre ± A2 · mean range, or ± A3 · mean standard
 * deviation; those of the spread D3, D4 or B3, B4 times its mean.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.1 (from memory).
 * Variant: standard deviations with n - 1; factors unrounded. The range is the hand method and
 * wastes more the larger the subgroup: from about ten values on prefer the standard deviation.
 * Domain: at least one subgroup; all of one size, 2 to 25; values finite; not all spreads 0.
 * Accuracy: relative 1e-14; equal values have a spread of exactly 0.
 *
 * @example
 * xbarBaseline([[1, 3], [2, 4]], 'range').limits; // 2.5 ± 1.880 · 2
 *
 * @throws RangeError outside the domain.
 */
export function xbarBaseline(
  subgroups: readonly (readonly number[])[],
  spread: SubgroupSpread,
): Readonly<XbarBaseline> {
  const size = subgroups[0]?.length;
  if (size === undefined) throw new RangeError('an X-bar baseline needs at least one subgroup');
  const factors = controlChartConstants(size);
  let means = 0;
  let spreads = 0;
  for (const subgroup of subgroups) {
    checkSubgroup(subgroup, size);
    means += mean(subgroup);
    spreads += spreadOf(subgroup, spread);
  }
  if (spreads === 0) throw new RangeError('no subgroup has any spread, so there are no limits');
  const centre = means / subgroups.length;
  const meanSpread = spreads / subgroups.length;
  const [perSpread, reach, low, high] =
    spread === 'range'
      ? [factors.d2, factors.A2, factors.D3, factors.D4]
      : [factors.c4, factors.A3, factors.B3, factors.B4];
  return Object.freeze({
    centre,
    sigma: meanSpread / perSpread,
    limits: Object.freeze({
      lower: centre - reach * meanSpread,
      upper: centre + reach * meanSpread,
    }),
    spread,
    spreadChart: Object.freeze({
      centre: meanSpread,
      limits: Object.freeze({ lower: low * meanSpread, upper: high * meanSpread }),
    }),
    size,
    count: subgroups.length,
  });
}

/** An X-bar chart before its first subgroup; the rules are for the mean, the spread has its limits. */
export function startXbarChart(
  baseline: Readonly<XbarBaseline>,
  rules: readonly RunRule[] = ['beyond-three-sigma'],
): XbarState {
  return {
    baseline,
    mean: startRunRules(rules),
    spread: startRunRules(['beyond-three-sigma']),
  };
}

/**
 * Judges the next subgroup: its mean by the run rules, its spread by its limits.
 *
 * @throws RangeError when the subgroup has another size than the baseline or a value not finite.
 *
 * @example
 * judgeSubgroup(startXbarChart(xbarBaseline([[1, 3], [2, 4]], 'range')), [9, 9]).signals;
 * // [{ chart: 'mean', rule: 'beyond-three-sigma', direction: 'above', points: [0] }]
 */
export function judgeSubgroup(state: XbarState, values: readonly number[]): XbarPoint {
  const { baseline } = state;
  checkSubgroup(values, baseline.size);
  const subgroupMean = mean(values);
  const spread = spreadOf(values, baseline.spread);
  const sigmaOfMean = baseline.sigma / Math.sqrt(baseline.size);
  const means = judgeRunRules(state.mean, (subgroupMean - baseline.centre) / sigmaOfMean);
  const spreads = judgeRunRules(state.spread, sigmasOut(spread, baseline.spreadChart));
  return {
    state: { baseline, mean: means.state, spread: spreads.state },
    mean: subgroupMean,
    spread,
    signals: [
      ...means.signals.map((signal) => ({ chart: 'mean' as const, ...signal })),
      ...spreads.signals.map((signal) => ({ chart: baseline.spread, ...signal })),
    ],
  };
}

function checkSubgroup(values: readonly number[], size: number): void {
  if (values.length !== size) {
    throw new RangeError(`a subgroup has ${values.length} values where the others have ${size}`);
  }
  if (!values.every(Number.isFinite)) throw new RangeError('a subgroup has a value not finite');
}

function spreadOf(values: readonly number[], spread: SubgroupSpread): number {
  if (spread === 'range') return Math.max(...values) - Math.min(...values);
  return moments(values).standardDeviation;
}
