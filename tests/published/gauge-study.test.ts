import { describe, expect, it } from 'vitest';
import { gaugeStudy } from '../../src/statistics/gauge-study.js';
import { gaugeStudyByRange, rangeFactor } from '../../src/statistics/gauge-study-range.js';

// The study of 10 parts, 3 appraisers and 3 trials of the measurement systems analysis manual,
// read in three public copies that agree. The manual's own figures are from memory.
const rows = [
  [0.29, 0.41, 0.64, 0.08, 0.25, 0.07, 0.04, -0.11, -0.15],
  [-0.56, -0.68, -0.58, -0.47, -1.22, -0.68, -1.38, -1.13, -0.96],
  [1.34, 1.17, 1.27, 1.19, 0.94, 1.34, 0.88, 1.09, 0.67],
  [0.47, 0.5, 0.64, 0.01, 1.03, 0.2, 0.14, 0.2, 0.11],
  [-0.8, -0.92, -0.84, -0.56, -1.2, -1.28, -1.46, -1.07, -1.45],
  [0.02, -0.11, -0.21, -0.2, 0.22, 0.06, -0.29, -0.67, -0.49],
  [0.59, 0.75, 0.66, 0.47, 0.55, 0.83, 0.02, 0.01, 0.21],
  [-0.31, -0.2, -0.17, -0.63, 0.08, -0.34, -0.46, -0.56, -0.49],
  [2.26, 1.99, 2.01, 1.8, 2.12, 2.19, 1.77, 1.45, 1.87],
  [-1.36, -1.25, -1.31, -1.68, -1.62, -1.5, -1.49, -1.77, -2.16],
];
const readings = Object.freeze(
  rows.map((row) => [row.slice(0, 3), row.slice(3, 6), row.slice(6, 9)]),
);

describe('the 10 x 3 x 3 study by analysis of variance', () => {
  const pooled = gaugeStudy(readings, { poolInteraction: true, tolerance: 6 });
  const separate = gaugeStudy(readings, { poolInteraction: false, tolerance: null });

  it('has the sums of squares and the F of the manual (from memory; recomputed)', () => {
    const { part, appraiser, interaction, repeatability, total } = separate.table;
    expect(part.sumOfSquares).toBeCloseTo(88.36193, 5);
    expect(appraiser.sumOfSquares).toBeCloseTo(3.167262, 6);
    expect(interaction.sumOfSquares).toBeCloseTo(0.358982, 6);
    expect(repeatability.sumOfSquares).toBeCloseTo(2.758933, 6);
    expect(total.sumOfSquares).toBeCloseTo(94.647112, 6);
    expect(
      [part, appraiser, interaction, repeatability, total].map((l) => l.degreesOfFreedom),
    ).toEqual([9, 2, 18, 60, 89]);
    expect(interaction.f).toBeCloseTo(0.4337, 4);
    expect(interaction.pValue).toBeCloseTo(0.974, 3);
    expect(part.f).toBeCloseTo(492.29, 2);
    expect(appraiser.f).toBeCloseTo(79.41, 2);
    expect(pooled.table.part.f).toBeCloseTo(245.61, 2);
    expect(pooled.table.appraiser.f).toBeCloseTo(39.62, 2);
  });

  it('with the interaction pooled has the deviations that the manual prints', () => {
    expect(pooled.repeatability.standardDeviation).toBeCloseTo(0.199933, 6);
    expect(pooled.reproducibility.standardDeviation).toBeCloseTo(0.226838, 6);
    // The manual's 0.302373 is one more in the last place.
    expect(pooled.gauge.standardDeviation).toBeCloseTo(0.302372, 6);
    expect(pooled.part.standardDeviation).toBeCloseTo(1.042327, 6);
    expect(pooled.total.standardDeviation).toBeCloseTo(1.0853, 5);
    expect(pooled.interaction).toBeNull();
  });

  it('has the shares of the total variation and of the total variance', () => {
    const of = ['repeatability', 'reproducibility', 'gauge', 'part'] as const;
    const variation = of.map((source) => pooled[source].percentOfTotalVariation?.toFixed(1));
    expect(variation).toEqual(['18.4', '20.9', '27.9', '96.0']);
    const variance = of.map((source) => pooled[source].percentContribution?.toFixed(1));
    expect(variance).toEqual(['3.4', '4.4', '7.8', '92.2']);
    // A tolerance of 6 makes six deviations over it the deviation itself, in per cent.
    expect(pooled.gauge.percentOfTolerance).toBeCloseTo(30.2372, 4);
    expect(separate.gauge.percentOfTolerance).toBeNull();
  });

  it('tells 4.861 categories apart, which is 4', () => {
    const { part, gauge } = pooled;
    expect((1.41 * part.standardDeviation) / gauge.standardDeviation).toBeCloseTo(4.861, 3);
    expect(pooled.distinctCategories).toBe(4);
  });

  it('without pooling takes the negative variance of the interaction, -0.00868, as 0', () => {
    const { interaction, repeatability } = separate.table;
    expect((interaction.meanSquare - repeatability.meanSquare) / 3).toBeCloseTo(-0.00868, 5);
    expect(separate.interaction?.standardDeviation).toBe(0);
    expect(separate.repeatability.standardDeviation ** 2).toBeCloseTo(0.045982, 6);
    // Worked from the mean squares above: √((1.583631 - 0.019943)/30), √((9.817993 - 0.019943)/9).
    expect(separate.reproducibility.standardDeviation).toBeCloseTo(0.228304, 5);
    expect(separate.part.standardDeviation).toBeCloseTo(1.043396, 5);
  });
});

describe('the 10 x 3 x 3 study by averages and ranges', () => {
  const study = gaugeStudyByRange(readings, null);

  it('has the averages of the printed sheet', () => {
    expect(study.meanRanges.map((range) => range.toFixed(3))).toEqual(['0.184', '0.513', '0.328']);
    expect(study.appraiserMeans.map((one) => one.toFixed(4))).toEqual([
      '0.1903',
      '0.0683',
      '-0.2543',
    ]);
    expect(study.appraiserDifference).toBeCloseTo(0.4447, 4);
    expect(study.partRange).toBeCloseTo(3.511, 3);
  });

  it('has the deviations that the manual prints, to its rounding of factors and ranges', () => {
    const printed = [0.20188, 0.22963, 0.30575, 1.10456, 1.1461];
    const { repeatability, reproducibility, gauge, part, total } = study;
    const ours = [repeatability, reproducibility, gauge, part, total];
    for (const [place, one] of ours.entries()) {
      expect(Math.abs(one.standardDeviation - (printed[place] ?? 0))).toBeLessThan(1.5e-4);
    }
    expect(gauge.percentOfTotalVariation).toBeCloseTo(26.68, 1);
    expect(study.distinctCategories).toBe(5);
  });

  it('uses the factors K of the manual (from memory)', () => {
    expect(rangeFactor(2, 30)).toBeCloseTo(0.8862, 4);
    expect(rangeFactor(3, 30)).toBeCloseTo(0.5908, 4);
    expect(rangeFactor(2, 1)).toBeCloseTo(Math.SQRT1_2, 14); // 0.7071
    expect(rangeFactor(3, 1)).toBeCloseTo(0.5231, 4);
    const parts = [0.4467, 0.403, 0.3742, 0.3534, 0.3375, 0.3249, 0.3146];
    for (const [offset, k3] of parts.entries()) {
      expect(Math.abs(rangeFactor(4 + offset, 1) - k3)).toBeLessThan(1e-4);
    }
  });
});
