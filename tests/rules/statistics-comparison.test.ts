import { describe, expect, it } from 'vitest';
import { gaugeStudy } from '../../src/statistics/gauge-study.js';
import { gaugeStudyByRange, rangeFactor } from '../../src/statistics/gauge-study-range.js';
import { moments } from '../../src/statistics/moments.js';
import { oneWayAnova } from '../../src/statistics/one-way-anova.js';
import { welchAnova } from '../../src/statistics/welch-anova.js';
import { pairwiseWelchIntervals, welchInterval } from '../../src/statistics/welch-interval.js';

const infinity = Number.POSITIVE_INFINITY;
const low = moments([1, 2, 3]);
const high = moments([2, 3, 4]);
const flat = { count: 5, mean: 2, standardDeviation: 0 };
const notConfidences = [0, 1, -0.5, Number.NaN];

describe('the comparison of groups', () => {
  it('of the examples is as documented', () => {
    const { between, within, f, pValue } = oneWayAnova([low, high]);
    expect([f, between.degreesOfFreedom, within.degreesOfFreedom]).toEqual([1.5, 1, 4]);
    expect(pValue).toBeCloseTo(0.288, 3);
    const welch = welchAnova([low, high]);
    expect([welch?.f, welch?.degreesOfFreedomBetween, welch?.degreesOfFreedomWithin]).toEqual([
      1.5, 1, 4,
    ]);
    const interval = welchInterval(high, low);
    expect(interval?.difference).toBe(1);
    expect(interval?.lower).toBeCloseTo(-1.267, 3);
    expect(interval?.upper).toBeCloseTo(3.267, 3);
    expect(interval?.pValue).toBeCloseTo(0.288, 3);
    expect(pairwiseWelchIntervals([high, low])).toEqual([{ ...interval, first: 0, second: 1 }]);
  });

  it('of groups without spread is not decided', () => {
    expect(oneWayAnova([flat, { ...flat, mean: 3 }])).toMatchObject({
      f: null,
      pValue: null,
      rSquared: 1,
    });
    expect(oneWayAnova([flat, flat])).toMatchObject({ f: null, pValue: null, rSquared: null });
    expect(oneWayAnova([flat, low]).f).toBe(0);
    expect(welchAnova([flat, low])).toBeNull();
    expect(welchInterval(flat, flat)).toBeNull();
    expect(welchInterval(flat, low)?.degreesOfFreedom).toBe(2);
  });

  it('of pairs divides the error among them, and leaves out pairs without spread', () => {
    const pairs = pairwiseWelchIntervals([low, high, moments([5, 7, 9])], 0.95);
    expect(pairs.map(({ first, second }) => [first, second])).toEqual([
      [0, 1],
      [0, 2],
      [1, 2],
    ]);
    const alone = welchInterval(low, high, 1 - 0.05 / 3);
    expect(pairs[0]?.lower).toBeCloseTo(alone?.lower ?? 0, 12);
    expect(pairs[0]?.pValue).toBeCloseTo(3 * (alone?.pValue ?? 0), 12);
    const [, , third] = pairs;
    expect(third?.difference).toBe(-4);
    expect(
      pairwiseWelchIntervals([flat, flat, low]).map(({ first, second }) => [first, second]),
    ).toEqual([
      [0, 2],
      [1, 2],
    ]);
    for (const { pValue } of pairwiseWelchIntervals([low, low, low])) expect(pValue).toBe(1);
  });

  it('refuses fewer than two groups, and what are no moments and no confidence', () => {
    for (const compare of [oneWayAnova, welchAnova, pairwiseWelchIntervals]) {
      expect(() => compare([low])).toThrow(/two groups/);
      for (const wrong of [
        { count: 1 },
        { count: 2.5 },
        { mean: infinity },
        { standardDeviation: -1 },
      ]) {
        expect(() => compare([low, { ...high, ...wrong }])).toThrow(RangeError);
      }
    }
    for (const c of notConfidences) {
      expect(() => welchInterval(low, high, c)).toThrow(RangeError);
      expect(() => pairwiseWelchIntervals([low, high], c)).toThrow(RangeError);
    }
  });
});

describe('the gauge study', () => {
  const readings = [
    [
      [0, 0.5],
      [1, 1.5],
    ],
    [
      [2, 2.5],
      [3, 3.5],
    ],
  ];
  const pooled = { poolInteraction: true, tolerance: null };

  it('of the examples is as documented', () => {
    const study = gaugeStudy(Object.freeze(readings), pooled);
    expect(study.repeatability.standardDeviation).toBeCloseTo(Math.sqrt(0.1), 12);
    expect(study.reproducibility.standardDeviation).toBeCloseTo(Math.sqrt(0.475), 12);
    expect(study.part.standardDeviation).toBeCloseTo(Math.sqrt(1.975), 12);
    const byRange = gaugeStudyByRange(readings, null);
    expect(byRange.repeatability.standardDeviation).toBeCloseTo(0.5 * rangeFactor(2, 4), 12);
    expect(byRange.reproducibility.standardDeviation).toBeCloseTo(0.676, 3);
    expect(byRange.part.standardDeviation).toBeCloseTo(Math.SQRT2, 12);
  });

  it('with an interaction has it beside repeatability and within the gauge', () => {
    const crossed = [
      [
        [0, 1],
        [5, 6],
      ],
      [
        [5, 6],
        [0, 1],
      ],
    ];
    const { interaction, repeatability, gauge, part, distinctCategories } = gaugeStudy(crossed, {
      poolInteraction: false,
      tolerance: 10,
    });
    // MS_pa = 2 · 4 · 2.5² = 50, MS_e = 0.5.
    expect(interaction?.standardDeviation).toBeCloseTo(Math.sqrt(49.5 / 2), 12);
    expect(gauge.standardDeviation).toBeCloseTo(Math.sqrt(0.5 + 49.5 / 2), 12);
    expect(repeatability.percentOfTolerance).toBeCloseTo(60 * Math.SQRT1_2, 12);
    expect(part.standardDeviation).toBe(0);
    expect(distinctCategories).toBe(0);
  });

  it('without any variation of the gauge has no number of categories, and no test', () => {
    const exact = [
      [
        [1, 1],
        [1, 1],
      ],
      [
        [2, 2],
        [2, 2],
      ],
    ];
    const study = gaugeStudy(exact, pooled);
    expect(study.distinctCategories).toBeNull();
    expect(study.table.part).toMatchObject({ f: null, pValue: null });
    expect(study.part.percentContribution).toBe(100);
    const nothing = gaugeStudy(
      [
        [
          [1, 1],
          [1, 1],
        ],
        [
          [1, 1],
          [1, 1],
        ],
      ],
      pooled,
    );
    expect(nothing.total).toMatchObject({
      percentOfTotalVariation: null,
      percentContribution: null,
    });
  });

  it('by averages and ranges takes a negative reproducibility as 0', () => {
    const noisy = [
      [
        [0, 9],
        [9, 0],
      ],
      [
        [1, 10],
        [10, 1],
      ],
    ];
    expect(gaugeStudyByRange(noisy, 6).reproducibility.standardDeviation).toBe(0);
    expect(gaugeStudy(noisy, pooled).reproducibility.standardDeviation).toBe(0);
  });

  it('refuses a study that is not balanced, too small, or has no tolerance', () => {
    for (const wrong of [
      [],
      [
        [
          [0, 1],
          [1, 2],
        ],
      ],
      [[[0, 1]], [[1, 2]]],
      [
        [[0], [1]],
        [[1], [2]],
      ],
      [
        [
          [0, 1],
          [1, 2],
        ],
        [[1, 2]],
      ],
      [
        [
          [0, 1],
          [1, 2],
        ],
        [[1, 2], [3]],
      ],
      [
        [
          [0, 1],
          [1, 2],
        ],
        [
          [1, 2],
          [3, Number.NaN],
        ],
      ],
    ]) {
      expect(() => gaugeStudy(wrong, pooled)).toThrow(RangeError);
      expect(() => gaugeStudyByRange(wrong, null)).toThrow(RangeError);
    }
    for (const tolerance of [0, -1, infinity, Number.NaN]) {
      expect(() => gaugeStudy(readings, { poolInteraction: true, tolerance })).toThrow(RangeError);
      expect(() => gaugeStudyByRange(readings, tolerance)).toThrow(RangeError);
    }
  });
});
