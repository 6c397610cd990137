/** Readings by part, then appraiser, then trial: reference motor, test cell, run. */
export type GaugeReadings = readonly (readonly (readonly number[])[])[];

/** How many standard deviations of the gauge are held against the tolerance. */
const toleranceWidth = 6;

/** Distinct categories per ratio of part to gauge spread: √2, as the trade rounds it. */
const categoryFactor = 1.41;

/** One source of variation, in the unit of the readings and as shares. */
export interface VariationComponent {
  standardDeviation: number;
  /** Of the total standard deviation; the percentages of the sources do not add up to 100. Null if there is no variation. */
  percentOfTotalVariation: number | null;
  /** Of the total variance; these add up to 100. Null if there is no variation. */
  percentContribution: number | null;
  /** Six standard deviations over the tolerance; null without one. */
  percentOfTolerance: number | null;
}

/** What a gauge study says. */
export interface GaugeVariation {
  /** EV, equipment: one part measured again by the same appraiser. */
  repeatability: VariationComponent;
  /** AV: the appraisers' means. */
  reproducibility: VariationComponent;
  /** Appraisers who differ by part; null if it was pooled or cannot be told. */
  interaction: VariationComponent | null;
  /** GRR, the measurement: the three above together. */
  gauge: VariationComponent;
  /** PV: the parts themselves. */
  part: VariationComponent;
  /** TV. */
  total: VariationComponent;
  /** ndc, 1.41 PV / GRR without its decimals; null if the gauge has no variation. */
  distinctCategories: number | null;
}

/** The counts of a balanced, crossed study. */
export interface GaugeLayout {
  parts: number;
  appraisers: number;
  trials: number;
}

/**
 * The parts, appraisers and trials of a study.
 *
 * @throws RangeError unless every appraiser measured every part equally often, with at least
 * two parts, appraisers and trials, and all readings are finite.
 */
export function gaugeLayout(readings: GaugeReadings): GaugeLayout {
  const parts = readings.length;
  const appraisers = readings[0]?.length ?? 0;
  const trials = readings[0]?.[0]?.length ?? 0;
  if (parts < 2 || appraisers < 2 || trials < 2) {
    throw new RangeError(
      `a gauge study needs two parts, appraisers and trials, not ${parts}, ${appraisers} and ${trials}`,
    );
  }
  for (const part of readings) {
    if (part.length !== appraisers) throw new RangeError('a part lacks an appraiser');
    for (const cell of part) {
      if (cell.length !== trials) throw new RangeError('an appraiser lacks a trial');
      if (!cell.every(Number.isFinite)) throw new RangeError('a reading is not finite');
    }
  }
  return { parts, appraisers, trials };
}

/** The variances of the sources, none of them negative, as components with the gauge and the total. */
export function gaugeVariation(
  variances: {
    repeatability: number;
    reproducibility: number;
    interaction: number | null;
    part: number;
  },
  tolerance: number | null,
): GaugeVariation {
  if (tolerance !== null && !(tolerance > 0 && Number.isFinite(tolerance))) {
    throw new RangeError(`the tolerance ${tolerance} is not above zero and finite`);
  }
  const { repeatability, reproducibility, interaction, part } = variances;
  const gauge = repeatability + reproducibility + (interaction ?? 0);
  const total = gauge + part;
  const component = (variance: number): VariationComponent => {
    const standardDeviation = Math.sqrt(variance);
    return {
      standardDeviation,
      percentOfTotalVariation: total === 0 ? null : 100 * Math.sqrt(variance / total),
      percentContribution: total === 0 ? null : 100 * (variance / total),
      percentOfTolerance:
        tolerance === null ? null : (100 * toleranceWidth * standardDeviation) / tolerance,
    };
  };
  return {
    repeatability: component(repeatability),
    reproducibility: component(reproducibility),
    interaction: interaction === null ? null : component(interaction),
    gauge: component(gauge),
    part: component(part),
    total: component(total),
    distinctCategories: gauge === 0 ? null : Math.floor(categoryFactor * Math.sqrt(part / gauge)),
  };
}
