import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, setMotor, specify } from '../support/scenario.js';

// The study of 10 parts, 3 appraisers and 3 trials of the measurement systems analysis manual,
// read in three public copies that agree; the manual's own figures are from memory. The same
// figures stand in gauge-study.test.ts, where they go straight into the arithmetic: here
// they are measured, by ten reference motors in three cells.
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
const cells = ['A', 'B', 'C'];

interface Component {
  standardDeviation: number;
  percentOfTotalVariation: number;
  percentContribution: number;
  percentOfTolerance: number;
}
type Source = 'repeatability' | 'reproducibility' | 'gauge' | 'part' | 'total';
type Components = Record<Source, Component> & { distinctCategories: number };
interface Line {
  sumOfSquares: number;
  degreesOfFreedom: number;
  f: number;
  pValue: number;
}
interface Study {
  motors: unknown[];
  cells: string[];
  trials: number;
  leftOut: number;
  tolerance: number;
  notPossible: string | null;
  runs: { referenceRun: number; value: number }[];
  byVariance: Components & {
    interaction: null;
    interactionPooled: boolean;
    table: Record<'part' | 'appraiser' | 'interaction' | 'repeatability' | 'total', Line>;
  };
  byRange: Components & { appraiserDifference: number; partRange: number };
}

describe('the 10 x 3 x 3 study, measured by reference runs', () => {
  let plant: TestPlant;
  let study: Study;

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    // A tolerance of 6 makes six deviations over it the deviation itself, in per cent.
    await specify(plant, {
      model: 'F100L',
      note: 'One characteristic',
      prompts: [
        {
          text: 'Measure',
          characteristics: [
            {
              kind: 'measured',
              code: 'gap',
              name: 'Gap from nominal',
              unit: 'mm',
              lower: -3,
              upper: 3,
              decimals: 2,
            },
          ],
        },
      ],
    });
    const motors: string[] = [];
    for (const _row of rows) {
      const { motor } = await setMotor(plant);
      await plant.make('quality', '/v1/reference-motors', {
        motor,
        intervalHours: 24,
        cells,
        reason: 'Gauge study',
      });
      motors.push(motor);
    }
    const run = async (motor: string | undefined, cell: string | undefined, value: number) => {
      plant.wait(60_000);
      const readings = [{ code: 'gap', value }];
      await plant.make('cell', '/v1/reference-runs', { motor, cell, readings });
    };
    // One more run of one pair before the study, which the balance leaves out.
    await run(motors[0], 'A', 2.5);
    for (let trial = 0; trial < 3; trial += 1) {
      for (const [m, row] of rows.entries()) {
        for (const [c, cell] of cells.entries())
          await run(motors[m], cell, row[3 * c + trial] ?? 0);
      }
    }
    const answer = await plant.get('read', '/v1/gauge-study?model=F100L&characteristic=gap');
    study = answer.body as Study;
  });
  afterAll(() => plant.stop());

  it('takes ninety runs, and leaves the one out that no other pair matches', () => {
    expect(study.notPossible).toBeNull();
    expect(study.motors).toHaveLength(10);
    expect(study).toMatchObject({ cells, trials: 3, leftOut: 1, tolerance: 6 });
    // By motor, cell and time, as the manual's sheet goes.
    expect(study.runs.map((one) => one.value)).toEqual(rows.flat());
    expect(study.runs.map((one) => one.referenceRun)).not.toContain(1);
  });

  it('has the sums of squares and the F of the manual (from memory; recomputed)', () => {
    const { part, appraiser, interaction, repeatability, total } = study.byVariance.table;
    expect(part.sumOfSquares).toBeCloseTo(88.36193, 5);
    expect(appraiser.sumOfSquares).toBeCloseTo(3.167262, 6);
    expect(interaction.sumOfSquares).toBeCloseTo(0.358982, 6);
    expect(repeatability.sumOfSquares).toBeCloseTo(2.758933, 6);
    expect(total.sumOfSquares).toBeCloseTo(94.647112, 6);
    expect(interaction.f).toBeCloseTo(0.4337, 4);
    expect(interaction.pValue).toBeCloseTo(0.974, 3);
    expect(part.f).toBeCloseTo(245.61, 2);
    expect(appraiser.f).toBeCloseTo(39.62, 2);
  });

  it('pools the interaction, and has the deviations that the manual prints', () => {
    const { byVariance } = study;
    expect(byVariance.interactionPooled).toBe(true);
    expect(byVariance.interaction).toBeNull();
    expect(byVariance.repeatability.standardDeviation).toBeCloseTo(0.199933, 6);
    expect(byVariance.reproducibility.standardDeviation).toBeCloseTo(0.226838, 6);
    // The manual's 0.302373 is one more in the last place.
    expect(byVariance.gauge.standardDeviation).toBeCloseTo(0.302372, 6);
    expect(byVariance.part.standardDeviation).toBeCloseTo(1.042327, 6);
    expect(byVariance.total.standardDeviation).toBeCloseTo(1.0853, 5);
  });

  it('has its shares, of the total variation, of the variance and of the tolerance', () => {
    const { byVariance } = study;
    const of = ['repeatability', 'reproducibility', 'gauge', 'part'] as const;
    expect(of.map((one) => byVariance[one].percentOfTotalVariation.toFixed(1))).toEqual([
      '18.4',
      '20.9',
      '27.9',
      '96.0',
    ]);
    expect(of.map((one) => byVariance[one].percentContribution.toFixed(1))).toEqual([
      '3.4',
      '4.4',
      '7.8',
      '92.2',
    ]);
    expect(byVariance.gauge.percentOfTolerance).toBeCloseTo(30.2372, 4);
    // 4.861 with its decimals cut off.
    expect(byVariance.distinctCategories).toBe(4);
  });

  it('has the printed deviations by averages and ranges, to the rounding of factors and ranges', () => {
    const { byRange } = study;
    const printed = [0.20188, 0.22963, 0.30575, 1.10456, 1.1461];
    const of = ['repeatability', 'reproducibility', 'gauge', 'part', 'total'] as const;
    for (const [place, one] of of.entries()) {
      const off = Math.abs(byRange[one].standardDeviation - (printed[place] ?? 0));
      expect(off).toBeLessThan(1.5e-4);
    }
    expect(byRange.appraiserDifference).toBeCloseTo(0.4447, 4);
    expect(byRange.partRange).toBeCloseTo(3.511, 3);
    expect(byRange.distinctCategories).toBe(5);
  });
});
