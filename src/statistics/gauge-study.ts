import { fTails } from './f-distribution.js';
import {
  type GaugeLayout,
  type GaugeReadings,
  type GaugeVariation,
  gaugeLayout,
  gaugeVariation,
} from './gauge-variation.js';
import { mean } from './mean.js';
import type { VarianceLine } from './one-way-anova.js';

/** A line of the table with its test; both null if what it is tested against has no spread. */
export interface TestedLine extends VarianceLine {
  f: number | null;
  pValue: number | null;
}

/** The two-way table of a gauge study. */
export interface GaugeAnova {
  part: TestedLine;
  appraiser: TestedLine;
  /** Also when it was pooled: its p value is the reason. */
  interaction: TestedLine;
  /** Without the interaction. */
  repeatability: VarianceLine;
  total: Omit<VarianceLine, 'meanSquare'>;
}

/** How the interaction of parts and appraisers is treated. */
export interface GaugeStudyOptions {
  /** True adds it to the repeatability, as is usual where its p value is above 0.25 (`common practice, no source`). */
  poolInteraction: boolean;
  /** Upper less lower limit; null where there are not two. */
  tolerance: number | null;
}

/** A gauge study by analysis of variance. */
export interface GaugeStudy extends GaugeVariation {
  table: GaugeAnova;
}

/**
 * Repeatability and reproducibility of a measurement from a crossed study: every appraiser
 * (test cell) measures every part (reference motor) equally often.
 *
 * Method: the two-way table of variance with random effects. With mean squares MS of n parts,
 * k appraisers and r trials: EV² = MS_e, INT² = (MS_pa - MS_e)/r, AV² = (MS_a - MS_pa)/nr,
 * PV² = (MS_p - MS_pa)/kr; pooled: MS_pa and MS_e are both their pooled mean square, and
 * there is no INT. GRR² = EV² + AV² + INT², TV² = GRR² + PV².
 * Source: the measurement systems analysis manual of the automotive industry, 4th edition,
 * appendix A (from memory); NIST/SEMATECH e-Handbook 2.4 for the idea.
 * Variant: a negative variance is taken as 0, as the manual says; part and appraiser are
 * tested against the interaction, or against the pooled mean square; tolerance in 6σ (the
 * manual's earlier editions had 5.15σ); ndc truncated.
 * Domain: a balanced study of at least two parts, appraisers and trials, all readings finite.
 * Accuracy: sums of squares relative 1e-13 times the ratio of the readings to their spread.
 * Cost: a few passes.
 *
 * @example
 * // Parts 0 and 2, two appraisers one apart, trials half apart: EV 0.316, AV 0.689, PV 1.405.
 * gaugeStudy([[[0, 0.5], [1, 1.5]], [[2, 2.5], [3, 3.5]]], { poolInteraction: true, tolerance: null });
 *
 * @throws RangeError outside the domain, and unless a tolerance is above zero.
 */
export function gaugeStudy(
  readings: GaugeReadings,
  { poolInteraction, tolerance }: GaugeStudyOptions,
): GaugeStudy {
  const layout = gaugeLayout(readings);
  const { parts: n, appraisers: k, trials: r } = layout;
  const squares = sumsOfSquares(readings, layout);
  const partFreedom = n - 1;
  const appraiserFreedom = k - 1;
  const interactionFreedom = partFreedom * appraiserFreedom;
  const repeatability = line(squares.repeatability, n * k * (r - 1));
  const interaction = line(squares.interaction, interactionFreedom);
  const pooled = line(
    squares.repeatability + squares.interaction,
    repeatability.degreesOfFreedom + interactionFreedom,
  );
  const error = poolInteraction ? pooled : interaction;
  const part = line(squares.part, partFreedom);
  const appraiser = line(squares.appraiser, appraiserFreedom);
  const over = (upper: number, lower: number, values: number) =>
    Math.max(0, (upper - lower) / values);
  const variation = gaugeVariation(
    {
      repeatability: poolInteraction ? pooled.meanSquare : repeatability.meanSquare,
      reproducibility: over(appraiser.meanSquare, error.meanSquare, n * r),
      interaction: poolInteraction
        ? null
        : over(interaction.meanSquare, repeatability.meanSquare, r),
      part: over(part.meanSquare, error.meanSquare, k * r),
    },
    tolerance,
  );
  return {
    ...variation,
    table: {
      part: tested(part, error),
      appraiser: tested(appraiser, error),
      interaction: tested(interaction, repeatability),
      repeatability,
      total: { sumOfSquares: squares.total, degreesOfFreedom: n * k * r - 1 },
    },
  };
}

/** Each from its own distances to means, never as a difference of sums. */
function sumsOfSquares(readings: GaugeReadings, { parts, appraisers, trials }: GaugeLayout) {
  const cells = readings.map((part) => part.map(mean));
  const partMeans = cells.map(mean);
  const appraiserMeans = Array.from({ length: appraisers }, (_, a) =>
    mean(cells.map((part) => part[a] ?? 0)),
  );
  const grand = mean(partMeans);
  let [part, appraiser, interaction, repeatability, total] = [0, 0, 0, 0, 0];
  for (const partMean of partMeans) part += appraisers * trials * (partMean - grand) ** 2;
  for (const one of appraiserMeans) appraiser += parts * trials * (one - grand) ** 2;
  for (const [p, row] of readings.entries()) {
    const partMean = partMeans[p] ?? 0;
    for (const [a, cell] of row.entries()) {
      const cellMean = cells[p]?.[a] ?? 0;
      const alone = cellMean - partMean - (appraiserMeans[a] ?? 0) + grand;
      interaction += trials * alone ** 2;
      for (const reading of cell) {
        repeatability += (reading - cellMean) ** 2;
        total += (reading - grand) ** 2;
      }
    }
  }
  return { part, appraiser, interaction, repeatability, total };
}

function line(sumOfSquares: number, degreesOfFreedom: number): VarianceLine {
  return { sumOfSquares, degreesOfFreedom, meanSquare: sumOfSquares / degreesOfFreedom };
}

function tested(source: VarianceLine, error: VarianceLine): TestedLine {
  if (error.meanSquare === 0) return { ...source, f: null, pValue: null };
  const f = source.meanSquare / error.meanSquare;
  return { ...source, f, pValue: fTails(f, source.degreesOfFreedom, error.degreesOfFreedom).upper };
}
