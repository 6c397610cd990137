import { controlChartConstants } from './control-chart-constants.js';
import {
  type GaugeReadings,
  type GaugeVariation,
  gaugeLayout,
  gaugeVariation,
} from './gauge-variation.js';
import { mean } from './mean.js';

/** Past this number of subgroups the trade takes the mean range's factor as exact. */
const manySubgroups = 15;

/** A gauge study by averages and ranges. */
export interface GaugeRangeStudy extends GaugeVariation {
  /** The mean range of each appraiser, over the parts. */
  meanRanges: number[];
  /** The mean of all readings of each appraiser. */
  appraiserMeans: number[];
  /** Largest less smallest mean of an appraiser. */
  appraiserDifference: number;
  /** Largest less smallest mean of a part. */
  partRange: number;
}

/**
 * Repeatability and reproducibility by the average and range method, for comparison with
 * studies worked by hand; it cannot see an interaction, so prefer `gaugeStudy`.
 *
 * Method: EV = K1·R, R the mean range; AV² = (K2·difference of appraisers)² - EV²/nr;
 * PV = K3·range of part means. K1 to K3 are 1/d2*, with d2*² = d2² + d3²/g for g ranges.
 * Source: the measurement systems analysis manual of the automotive industry, 4th edition
 * (from memory); d2* by Duncan (from memory), computed here.
 * Variant: above 15 subgroups K1 is 1/d2; K factors not rounded (print: four digits); a
 * negative AV² is taken as 0; ndc truncated.
 * Domain: as `gaugeStudy`, with at most 25 parts, appraisers and trials.
 * Accuracy: relative 1e-14.
 *
 * @example
 * // Trials half apart, appraisers one, parts two: EV 0.415, AV 0.676, PV 2/√2 = 1.414.
 * gaugeStudyByRange([[[0, 0.5], [1, 1.5]], [[2, 2.5], [3, 3.5]]], null);
 *
 * @throws RangeError outside the domain, and unless a tolerance is above zero.
 */
export function gaugeStudyByRange(
  readings: GaugeReadings,
  tolerance: number | null,
): GaugeRangeStudy {
  const { parts, appraisers, trials } = gaugeLayout(readings);
  const meanRanges: number[] = [];
  const appraiserMeans: number[] = [];
  for (let a = 0; a < appraisers; a++) {
    const cells = readings.map((part) => part[a] ?? []);
    meanRanges.push(mean(cells.map(rangeOf)));
    appraiserMeans.push(mean(cells.flat()));
  }
  const appraiserDifference = rangeOf(appraiserMeans);
  const partRange = rangeOf(readings.map((part) => mean(part.flat())));
  const equipment = rangeFactor(trials, parts * appraisers) * mean(meanRanges);
  const appraiser = rangeFactor(appraisers, 1) * appraiserDifference;
  const variation = gaugeVariation(
    {
      repeatability: equipment ** 2,
      reproducibility: Math.max(0, appraiser ** 2 - equipment ** 2 / (parts * trials)),
      interaction: null,
      part: (rangeFactor(parts, 1) * partRange) ** 2,
    },
    tolerance,
  );
  return { ...variation, meanRanges, appraiserMeans, appraiserDifference, partRange };
}

/**
 * What turns the mean of some ranges into a standard deviation, 1/d2*: K1, K2 and K3 of the
 * average and range method.
 *
 * @throws RangeError unless a range is of 2 to 25 values.
 */
export function rangeFactor(values: number, ranges: number): number {
  const { d2, d3 } = controlChartConstants(values);
  return ranges > manySubgroups ? 1 / d2 : 1 / Math.sqrt(d2 * d2 + (d3 * d3) / ranges);
}

function rangeOf(values: readonly number[]): number {
  return Math.max(...values) - Math.min(...values);
}
