import { checkLimits, type ProcessLimits } from './fraction-outside.js';
import { type SortedSample, sortedQuantile } from './sorted-sample.js';

/** The share below the mean less three standard deviations of a normal process, as ISO 22514-2 rounds it. */
const outerShare = 0.00135;

/** From this count on both outer points lie between values of the sample: 1/0.00135, rounded up. */
export const percentileCountMin = 741;

/** Performance indices that assume no distribution. */
export interface PercentileCapability {
  count: number;
  /** X0.135%, the point that 0.135 % of the values are below. */
  lowerPoint: number;
  /** X50%. */
  median: number;
  /** X99.865%. */
  upperPoint: number;
  /** Hyndman and Fan's definition of the three points. */
  quantileType: 7;
  /** False below percentileCountMin: the outer points then hug the extremes and flatter the process. */
  resolved: boolean;
  /** Pp; null with one limit only, or if the points coincide. */
  pp: number | null;
  /** Ppl and Ppu; null without that limit, or if the points coincide. */
  ppl: number | null;
  ppu: number | null;
  /** Ppk, the smaller of Ppl and Ppu that are not null. */
  ppk: number | null;
}

/**
 * The performance of a process that is not normal, by the percentile method.
 *
 * Method: the points X0.135%, X50% and X99.865% stand for mean - 3σ, mean and mean + 3σ:
 * Pp = (U - L)/(X99.865% - X0.135%), Ppl = (X50% - L)/(X50% - X0.135%), Ppu = (U - X50%)/(X99.865% - X50%).
 * Source: ISO 22514-2, general geometric method (from memory); the formulas agree with two
 * public implementations.
 * Variant: the points are those of the sample itself, by definition 7 as `quantile`; no
 * distribution is fitted. The standard has them of a fitted one too, which reaches further
 * than a small sample: see `resolved`.
 * Domain: at least two values; limits as `ProcessLimits`.
 * Accuracy: relative 1e-15 in the points. At 741 values an outer point rests on two of them.
 *
 * @example
 * percentileCapability(sortSample([0, 1, 2, 3, 4]), { lower: -2, upper: 8 }).pp; // 10 / 3.9892 = 2.507
 *
 * @throws RangeError outside the domain.
 */
export function percentileCapability(
  sample: SortedSample,
  limits: ProcessLimits,
): PercentileCapability {
  checkLimits(limits);
  const count = sample.ascending.length;
  if (count < 2) throw new RangeError(`a spread needs two values, not ${count}`);
  const { lower, upper } = limits;
  const lowerPoint = sortedQuantile(sample, outerShare);
  const median = sortedQuantile(sample, 0.5);
  const upperPoint = sortedQuantile(sample, 1 - outerShare);
  const ppl = lower === null ? null : ratio(median - lower, median - lowerPoint);
  const ppu = upper === null ? null : ratio(upper - median, upperPoint - median);
  const sides = [ppl, ppu].filter((index) => index !== null);
  return {
    count,
    lowerPoint,
    median,
    upperPoint,
    quantileType: 7,
    resolved: count >= percentileCountMin,
    pp: lower === null || upper === null ? null : ratio(upper - lower, upperPoint - lowerPoint),
    ppl,
    ppu,
    ppk: sides.length === 0 ? null : Math.min(...sides),
  };
}

function ratio(room: number, spread: number): number | null {
  return spread === 0 ? null : room / spread;
}
