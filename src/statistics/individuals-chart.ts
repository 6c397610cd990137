import { controlChartConstants } from './control-chart-constants.js';
import { mean } from './mean.js';
import {
  type ChartSignal,
  judgeRunRules,
  type RunRule,
  type RunRuleState,
  startRunRules,
} from './run-rules.js';

/** The lines between which a plotted figure is called in control. */
export interface ControlLimits {
  lower: number;
  upper: number;
}

/** A centre line with its limits. */
export interface CentreAndLimits {
  centre: number;
  limits: Readonly<ControlLimits>;
}

/** The frozen yardstick of an individuals chart, in the unit of its values. */
export interface IndividualsBaseline extends CentreAndLimits {
  /** The standard deviation from one value to the next. */
  sigma: number;
  movingRange: Readonly<CentreAndLimits>;
  /** How many values it was set from. */
  count: number;
}

/** An individuals chart between two points: plain data. */
export interface IndividualsState {
  readonly baseline: Readonly<IndividualsBaseline>;
  readonly individual: RunRuleState;
  readonly movingRange: RunRuleState;
  /** The value before, null at the start. */
  readonly previous: number | null;
}

/** The answer to one value. */
export interface IndividualsPoint {
  state: IndividualsState;
  value: number;
  /** Null at the first value, which has no neighbour. */
  movingRange: number | null;
  signals: ChartSignal<'individual' | 'moving-range'>[];
}

/**
 * The baseline of a chart for single values: centre, sigma and three-sigma limits, and
 * those of the moving range.
 *
 * Method: centre = mean; sigma = mean moving range of neighbours / d2(2); limits = centre ± 3 sigma.
 * The moving range has centre MR and limits D3(2) · MR = 0 and D4(2) · MR.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.2.
 * Variant: d2 = 2/√π unrounded; the handbook rounds it to 1.128. Sigma comes from neighbours,
 * not from all values, so that a shift inside the baseline does not widen the limits.
 * Domain: at least two finite values, not all equal, in order of time. They are not changed.
 * Accuracy: relative 1e-15 times the number of values.
 *
 * @example
 * const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
 * individualsBaseline(flow).limits; // { lower: 45.8176, upper: 55.8024 }
 *
 * @throws RangeError outside the domain: without variation there are no limits.
 */
export function individualsBaseline(values: readonly number[]): Readonly<IndividualsBaseline> {
  const [first, ...rest] = values;
  if (first === undefined || rest.length === 0) {
    throw new RangeError('an individuals baseline needs at least two values');
  }
  if (!values.every(Number.isFinite)) throw new RangeError('the baseline has a value not finite');
  let ranges = 0;
  let before = first;
  for (const value of rest) {
    ranges += Math.abs(value - before);
    before = value;
  }
  if (ranges === 0) throw new RangeError('the baseline has no variation, so it sets no limits');
  const { d2, D3, D4 } = controlChartConstants(2);
  const centre = mean(values);
  const meanRange = ranges / rest.length;
  const sigma = meanRange / d2;
  return Object.freeze({
    centre,
    sigma,
    limits: Object.freeze({ lower: centre - 3 * sigma, upper: centre + 3 * sigma }),
    movingRange: Object.freeze({
      centre: meanRange,
      limits: Object.freeze({ lower: D3 * meanRange, upper: D4 * meanRange }),
    }),
    count: values.length,
  });
}

/**
 * An individuals chart before its first point.
 *
 * @param rules for the individual values; the moving range is judged by its limit alone.
 * @param previous the value just before the first one to be judged, if it counts as its neighbour.
 */
export function startIndividualsChart(
  baseline: Readonly<IndividualsBaseline>,
  rules: readonly RunRule[] = ['beyond-three-sigma'],
  previous: number | null = null,
): IndividualsState {
  return {
    baseline,
    individual: startRunRules(rules),
    movingRange: startRunRules(['beyond-three-sigma']),
    previous,
  };
}

/**
 * Judges the next value against the baseline: by the run rules, and its distance
 * from the value before by the limit of the moving range.
 *
 * Points of both charts are numbered by value, from 0. The moving range's limits are three
 * of its own sigmas, so that its signal bears the name of that rule.
 *
 * @throws RangeError when the value is not finite.
 *
 * @example
 * judgeIndividual(startIndividualsChart(individualsBaseline([1, 2, 1, 2])), 9).signals;
 * // [{ chart: 'individual', rule: 'beyond-three-sigma', direction: 'above', points: [0] }]
 */
export function judgeIndividual(state: IndividualsState, value: number): IndividualsPoint {
  if (!Number.isFinite(value)) throw new RangeError(`the value ${value} is not finite`);
  const { baseline, previous } = state;
  const individual = judgeRunRules(state.individual, (value - baseline.centre) / baseline.sigma);
  const movingRange = previous === null ? null : Math.abs(value - previous);
  // A first value keeps the numbers of both charts in step with a range that cannot signal.
  const ranges = judgeRunRules(
    state.movingRange,
    sigmasOut(movingRange ?? baseline.movingRange.centre, baseline.movingRange),
  );
  return {
    state: {
      baseline,
      individual: individual.state,
      movingRange: ranges.state,
      previous: value,
    },
    value,
    movingRange,
    signals: [
      ...individual.signals.map((signal) => ({ chart: 'individual' as const, ...signal })),
      ...ranges.signals.map((signal) => ({ chart: 'moving-range' as const, ...signal })),
    ],
  };
}

/**
 * How many of its sigmas a range or standard deviation lies from its centre line, by its
 * upper limit, which is three of them out. (The lower one may have been cut off at 0.)
 */
export function sigmasOut(spread: number, { centre, limits }: CentreAndLimits): number {
  return (3 * (spread - centre)) / (limits.upper - centre);
}
