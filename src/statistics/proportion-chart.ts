import type { ControlLimits } from './individuals-chart.js';
import {
  judgeRunRules,
  type RunRule,
  type RunRuleState,
  type RunSignal,
  startRunRules,
} from './run-rules.js';

/** One sample of a p chart: so many of so many units did not conform. */
export interface ProportionSample {
  nonconforming: number;
  size: number;
}

/** The frozen yardstick of a p chart. Sigma and limits depend on the sample's size: `proportionLimits`. */
export interface ProportionBaseline {
  /** The share not conforming in all baseline samples together. */
  centre: number;
  /** The units in all of them. */
  units: number;
  /** How many samples it was set from. */
  count: number;
}

/** Sigma and limits for one sample of its own size. */
export interface SampleLimits extends ControlLimits {
  sigma: number;
}

/** A p chart between two samples: plain data. */
export interface ProportionState {
  readonly baseline: Readonly<ProportionBaseline>;
  readonly runs: RunRuleState;
}

/** The answer to one sample. */
export interface ProportionPoint {
  state: ProportionState;
  proportion: number;
  limits: Readonly<SampleLimits>;
  signals: RunSignal[];
}

/**
 * The baseline of a p chart, the share of units not conforming in samples of varying size.
 *
 * Method: centre = all nonconforming / all units, so that each unit weighs the same; with
 * equal sizes that is the mean of the proportions.
 * Source: NIST/SEMATECH e-Handbook 6.3.3.2.
 * Variant: binomial sigma from the sample's own size. Where units within a sample resemble
 * each other, or samples are very large, the limits are too narrow (overdispersion).
 * Domain: at least one sample; whole sizes >= 1 with whole nonconforming in 0..size; not all
 * units alike. Three-sigma limits want size · centre of some 5 or more (common practice, no source).
 * Accuracy: one rounding.
 *
 * @example
 * proportionBaseline([{ nonconforming: 3, size: 40 }, { nonconforming: 7, size: 60 }]).centre; // 0.1
 *
 * @throws RangeError outside the domain: a baseline without or of nothing but nonconforming
 * units sets no limits.
 */
export function proportionBaseline(
  samples: readonly ProportionSample[],
): Readonly<ProportionBaseline> {
  let nonconforming = 0;
  let units = 0;
  for (const sample of samples) {
    checkSample(sample);
    nonconforming += sample.nonconforming;
    units += sample.size;
  }
  if (nonconforming === 0 || nonconforming === units) {
    throw new RangeError('all units of the baseline are alike, so it sets no limits');
  }
  return Object.freeze({ centre: nonconforming / units, units, count: samples.length });
}

/**
 * Sigma and three-sigma limits of a sample of this size: √(p(1 - p)/size), cut off at 0 and 1.
 *
 * @throws RangeError when the size is not a whole number of at least 1.
 *
 * @example
 * proportionLimits({ centre: 0.1, units: 100, count: 2 }, 100); // { sigma: 0.03, lower: 0.01, upper: 0.19 }
 */
export function proportionLimits(
  { centre }: Readonly<ProportionBaseline>,
  size: number,
): Readonly<SampleLimits> {
  checkSample({ nonconforming: 0, size });
  const sigma = Math.sqrt((centre * (1 - centre)) / size);
  return Object.freeze({
    sigma,
    lower: Math.max(0, centre - 3 * sigma),
    upper: Math.min(1, centre + 3 * sigma),
  });
}

/** A p chart before its first sample. */
export function startProportionChart(
  baseline: Readonly<ProportionBaseline>,
  rules: readonly RunRule[] = ['beyond-three-sigma'],
): ProportionState {
  return { baseline, runs: startRunRules(rules) };
}

/**
 * Judges the next sample. The run rules see its distance from the centre in sigmas of its own
 * size, so that samples of different sizes can be told on one scale; a trend is one of these.
 *
 * @throws RangeError on counts outside the domain of `proportionBaseline`.
 *
 * @example
 * const chart = startProportionChart({ centre: 0.1, units: 100, count: 2 });
 * judgeProportion(chart, { nonconforming: 20, size: 100 }).signals[0]?.direction; // 'above'
 */
export function judgeProportion(state: ProportionState, sample: ProportionSample): ProportionPoint {
  checkSample(sample);
  const { baseline } = state;
  const proportion = sample.nonconforming / sample.size;
  const limits = proportionLimits(baseline, sample.size);
  const runs = judgeRunRules(state.runs, (proportion - baseline.centre) / limits.sigma);
  return { state: { baseline, runs: runs.state }, proportion, limits, signals: runs.signals };
}

function checkSample({ nonconforming, size }: ProportionSample): void {
  if (!Number.isSafeInteger(size) || size < 1) {
    throw new RangeError(`the sample size ${size} is not a whole number of at least 1`);
  }
  if (!Number.isSafeInteger(nonconforming) || nonconforming < 0 || nonconforming > size) {
    throw new RangeError(`nonconforming is ${nonconforming}, not a whole number from 0 to ${size}`);
  }
}
