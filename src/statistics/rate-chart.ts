import type { SampleLimits } from './proportion-chart.js';
import {
  judgeRunRules,
  type RunRule,
  type RunRuleState,
  type RunSignal,
  startRunRules,
} from './run-rules.js';

/** One sample of a u chart: so many defects in so many units, or metres, or hours. */
export interface RateSample {
  defects: number;
  units: number;
}

/** The frozen yardstick of a u chart. Sigma and limits depend on the sample's units: `rateLimits`. */
export interface RateBaseline {
  /** Defects per unit in all baseline samples together. */
  centre: number;
  /** The units in all of them. */
  units: number;
  /** How many samples it was set from. */
  count: number;
}

/** A u chart between two samples: plain data. */
export interface RateState {
  readonly baseline: Readonly<RateBaseline>;
  readonly runs: RunRuleState;
}

/** The answer to one sample. */
export interface RatePoint {
  state: RateState;
  rate: number;
  limits: Readonly<SampleLimits>;
  signals: RunSignal[];
}

/**
 * The baseline of a u chart, defects per unit in samples of varying size.
 *
 * Method: centre = all defects / all units.
 * Source: NIST/SEMATECH e-Handbook 6.3.3.1, where the sample is always one inspection unit
 * (from memory); varying units as in Montgomery, Introduction to Statistical Quality Control
 * (from memory).
 * Variant: Poisson sigma √(u/units) from the sample's own units. A unit may have several defects;
 * where it either conforms or not, use `proportionBaseline`.
 * Domain: at least one sample; whole defects >= 0, together at least one; units finite and above 0.
 * Accuracy: relative 1e-16 times the number of samples.
 *
 * @example
 * rateBaseline([{ defects: 5, units: 40 }, { defects: 7, units: 60 }]).centre; // 0.12
 *
 * @throws RangeError outside the domain: a baseline without any defect sets no limits.
 */
export function rateBaseline(samples: readonly RateSample[]): Readonly<RateBaseline> {
  let defects = 0;
  let units = 0;
  for (const sample of samples) {
    checkSample(sample);
    defects += sample.defects;
    units += sample.units;
  }
  if (defects === 0) throw new RangeError('the baseline has no defect, so it sets no limits');
  return Object.freeze({ centre: defects / units, units, count: samples.length });
}

/**
 * Sigma and three-sigma limits of a sample of so many units; the lower one is cut off at 0.
 *
 * @throws RangeError when the units are not finite and above 0.
 *
 * @example
 * rateLimits({ centre: 0.16, units: 100, count: 2 }, 4); // { sigma: 0.2, lower: 0, upper: 0.76 }
 */
export function rateLimits(
  { centre }: Readonly<RateBaseline>,
  units: number,
): Readonly<SampleLimits> {
  checkSample({ defects: 0, units });
  const sigma = Math.sqrt(centre / units);
  return Object.freeze({
    sigma,
    lower: Math.max(0, centre - 3 * sigma),
    upper: centre + 3 * sigma,
  });
}

/** A u chart before its first sample. */
export function startRateChart(
  baseline: Readonly<RateBaseline>,
  rules: readonly RunRule[] = ['beyond-three-sigma'],
): RateState {
  return { baseline, runs: startRunRules(rules) };
}

/**
 * Judges the next sample. The run rules see its distance from the centre in sigmas of its own units.
 *
 * @throws RangeError on a sample outside the domain of `rateBaseline`.
 *
 * @example
 * const chart = startRateChart({ centre: 0.16, units: 100, count: 2 });
 * judgeRate(chart, { defects: 4, units: 4 }).signals[0]?.direction; // 'above'
 */
export function judgeRate(state: RateState, sample: RateSample): RatePoint {
  checkSample(sample);
  const { baseline } = state;
  const rate = sample.defects / sample.units;
  const limits = rateLimits(baseline, sample.units);
  const runs = judgeRunRules(state.runs, (rate - baseline.centre) / limits.sigma);
  return { state: { baseline, runs: runs.state }, rate, limits, signals: runs.signals };
}

function checkSample({ defects, units }: RateSample): void {
  if (!(units > 0 && Number.isFinite(units))) {
    throw new RangeError(`the units ${units} are not above zero and finite`);
  }
  if (!Number.isSafeInteger(defects) || defects < 0) {
    throw new RangeError(`defects is ${defects}, not a whole number of at least 0`);
  }
}
