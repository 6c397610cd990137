import type { ControlLimits } from './individuals-chart.js';

/** How an EWMA chart is to be drawn. */
export interface EwmaOptions {
  /** Lambda, the weight of the newest value, above 0 and at most 1; 0.2 when not given. */
  weight?: number;
  /** The limits, in standard deviations of the average; 3 when not given. */
  width?: number;
  /**
   * Each point's own variance, which grows to its asymptote over the first points, or the
   * asymptote from the start. Exact when not given.
   */
  variance?: 'exact' | 'asymptotic';
}

/** The frozen yardstick of an EWMA chart. */
export interface EwmaBaseline {
  /** The centre line, and the average before the first value. */
  centre: number;
  /** The standard deviation of a single value. */
  sigma: number;
  /** The asymptotic limits, which those of each point approach. */
  limits: Readonly<ControlLimits>;
  weight: number;
  width: number;
  variance: 'exact' | 'asymptotic';
}

/** An EWMA chart between two values: plain data. */
export interface EwmaState {
  readonly baseline: Readonly<EwmaBaseline>;
  readonly average: number;
  readonly count: number;
}

/** The average has left its limits at this point. */
export interface EwmaSignal {
  rule: 'beyond-limits';
  direction: 'above' | 'below';
  points: readonly [number];
}

/** The answer to one value. */
export interface EwmaPoint {
  state: EwmaState;
  average: number;
  limits: Readonly<ControlLimits>;
  signals: EwmaSignal[];
}

/**
 * The baseline of an exponentially weighted moving average, which finds small lasting shifts
 * that single values hide.
 *
 * Method: limits = centre ± width · sigma · √(λ/(2 - λ)), the asymptotic ones.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.4; Roberts, Technometrics 1 (1959) 239 (from memory).
 * Variant: starts on the centre line. Which limits judge a point is the `variance` option: the
 * handbook's example uses the asymptotic ones throughout.
 * Domain: centre finite, sigma above 0 and finite, 0 < weight <= 1, width above 0 and finite. Weight 1
 * is an individuals chart.
 * Accuracy: relative 1e-15.
 *
 * @param from centre and sigma as known, or an `individualsBaseline`.
 *
 * @example
 * ewmaBaseline({ centre: 50, sigma: 2.0539 }, { weight: 0.3 }).limits; // 47.4116, 52.5884
 *
 * @throws RangeError outside the domain.
 */
export function ewmaBaseline(
  from: Readonly<{ centre: number; sigma: number }>,
  { weight = 0.2, width = 3, variance = 'exact' }: EwmaOptions = {},
): Readonly<EwmaBaseline> {
  const { centre, sigma } = from;
  if (!Number.isFinite(centre)) throw new RangeError(`the centre ${centre} is not finite`);
  if (!(weight > 0 && weight <= 1)) {
    throw new RangeError(`the weight ${weight} is not above 0 and at most 1`);
  }
  for (const [name, size] of [
    ['sigma', sigma],
    ['width', width],
  ] as const) {
    if (!(size > 0 && Number.isFinite(size))) {
      throw new RangeError(`the ${name} ${size} is not above zero and finite`);
    }
  }
  const reach = width * sigma * Math.sqrt(weight / (2 - weight));
  const limits = Object.freeze({ lower: centre - reach, upper: centre + reach });
  return Object.freeze({ centre, sigma, limits, weight, width, variance });
}

/** An EWMA chart before its first value. */
export function startEwmaChart(baseline: Readonly<EwmaBaseline>): EwmaState {
  return { baseline, average: baseline.centre, count: 0 };
}

/**
 * Judges the next value: average = λ · value + (1 - λ) · average before.
 *
 * The variance of the i-th average is sigma² · λ/(2 - λ) · (1 - (1 - λ)^(2i)), or without
 * its last factor when the baseline is asymptotic. On a limit is not beyond it.
 *
 * @throws RangeError when the value is not finite.
 *
 * @example
 * const chart = startEwmaChart(ewmaBaseline({ centre: 50, sigma: 2.0539 }, { weight: 0.3 }));
 * judgeEwma(chart, 52).average; // 50.6
 */
export function judgeEwma(state: EwmaState, value: number): EwmaPoint {
  if (!Number.isFinite(value)) throw new RangeError(`the value ${value} is not finite`);
  const { baseline } = state;
  const count = state.count + 1;
  const average = baseline.weight * value + (1 - baseline.weight) * state.average;
  const limits = ewmaLimits(baseline, count);
  const signals: EwmaSignal[] = [];
  if (average > limits.upper || average < limits.lower) {
    const direction = average > limits.upper ? 'above' : 'below';
    signals.push({ rule: 'beyond-limits', direction, points: [state.count] });
  }
  return { state: { baseline, average, count }, average, limits, signals };
}

/** The limits of the i-th average, i from 1. */
function ewmaLimits(baseline: Readonly<EwmaBaseline>, i: number): Readonly<ControlLimits> {
  if (baseline.variance === 'asymptotic') return baseline.limits;
  const { centre, limits, weight } = baseline;
  const grown = Math.sqrt(1 - (1 - weight) ** (2 * i));
  const reach = (limits.upper - centre) * grown;
  return { lower: centre - reach, upper: centre + reach };
}
