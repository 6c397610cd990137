import { describe, expect, it } from 'vitest';
import { moments } from '../../src/statistics/moments.js';
import { oneWayAnova } from '../../src/statistics/one-way-anova.js';
import { welchAnova } from '../../src/statistics/welch-anova.js';
import { pairwiseWelchIntervals, welchInterval } from '../../src/statistics/welch-interval.js';

/** NIST StRD, AtmWtAg: the atomic weight of silver by two instruments, ten-millionths above 107.868. */
const silver = [
  [
    1568, 1465, 1572, 1785, 1446, 1903, 1526, 1494, 1616, 1587, 1519, 1486, 1419, 1569, 1508, 1672,
    1385, 1518, 1662, 1424, 1360, 1333, 1610, 1477,
  ],
  [
    1079, 1344, 1513, 1197, 1604, 1385, 1642, 1365, 1151, 1082, 1517, 1448, 1198, 1482, 1334, 1609,
    1101, 1512, 1469, 1360, 1254, 1261, 1450, 1368,
  ],
].map((one) => one.map((digits) => (1078680000 + digits) / 1e7));

/** NIST StRD, SiRstv: the resistance of silicon by five instruments. */
const silicon = [
  [196.3052, 196.124, 196.189, 196.2569, 196.3403],
  [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
  [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
  [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
  [196.2119, 196.1051, 196.185, 196.0052, 196.209],
];

/** NIST StRD, SmLs01 to 06: nine groups, each a first value and pairs 0.1 below and above it. */
function simonLesage(offset: number, pairs: number): number[][] {
  return [4, 3, 5, 3, 5, 3, 5, 3, 5].map((tenths) => {
    const at = (t: number) => (offset * 10 + t) / 10;
    const rest = Array.from({ length: 2 * pairs }, (_, k) => at(tenths + (k % 2 ? 1 : -1)));
    return [at(tenths), ...rest];
  });
}

/** The tooth lengths of R's data set ToothGrowth by dose; that F agrees shows they are the same. */
const teeth = [
  [
    4.2, 11.5, 7.3, 5.8, 6.4, 10, 11.2, 11.2, 5.2, 7, 15.2, 21.5, 17.6, 9.7, 14.5, 10, 8.2, 9.4,
    16.5, 9.7,
  ],
  [
    16.5, 16.5, 15.2, 17.3, 22.5, 17.3, 13.6, 14.5, 18.8, 15.5, 19.7, 23.3, 23.6, 26.4, 20, 25.2,
    25.8, 21.2, 14.5, 27.3,
  ],
  [
    23.6, 18.5, 33.9, 25.5, 26.4, 32.5, 26.7, 21.5, 23.3, 29.5, 25.5, 26.4, 22.4, 24.5, 24.8, 30.9,
    26.4, 27.3, 29.4, 23,
  ],
].map(moments);

const ofEach = (groups: readonly (readonly number[])[]) => groups.map((group) => moments(group));

describe('NIST StRD, one-way analysis of variance, certified values', () => {
  it('SiRstv', () => {
    const { between, within, f, rSquared } = oneWayAnova(ofEach(silicon));
    expect([between.degreesOfFreedom, within.degreesOfFreedom]).toEqual([4, 20]);
    expect(between.sumOfSquares / 5.11462616e-2).toBeCloseTo(1, 11);
    expect(within.sumOfSquares / 2.1663656e-1).toBeCloseTo(1, 11);
    expect(f).toBeCloseTo(1.18046237440255, 11);
    expect(rSquared).toBeCloseTo(0.190999039051129, 12);
  });

  it('AtmWtAg, with seven constant leading digits', () => {
    const { between, within, f } = oneWayAnova(ofEach(silver));
    expect(between.sumOfSquares / 3.638341875e-9).toBeCloseTo(1, 8);
    expect(within.sumOfSquares / 1.04951729166667e-8).toBeCloseTo(1, 8);
    expect(f).toBeCloseTo(15.946733567793, 7);
  });

  it.each([
    // Offset, pairs a group, F certified, digits that doubles near the offset leave.
    ['SmLs01', 1, 10, 21, 1.68, 1.8, 12],
    ['SmLs02', 1, 100, 201, 16.08, 18, 12],
    ['SmLs03', 1, 1000, 2001, 160.08, 180, 12],
    ['SmLs04', 1e6, 10, 21, 1.68, 1.8, 7],
    ['SmLs06', 1e6, 1000, 2001, 160.08, 180, 7],
  ])('%s', (_, offset, pairs, f, between, within, digits) => {
    const ours = oneWayAnova(ofEach(simonLesage(offset, pairs)));
    expect((ours.f ?? 0) / f).toBeCloseTo(1, digits);
    expect(ours.between.sumOfSquares / between).toBeCloseTo(1, digits);
    expect(ours.within.sumOfSquares / within).toBeCloseTo(1, digits);
  });
});

describe('NIST/SEMATECH e-Handbook 7.4.3.3, resistance of three levels', () => {
  it('has F 9.59', () => {
    // Data in a public test that cites the page; F from memory, p by SciPy 1.17.1.
    const levels = [
      [6.9, 5.4, 5.8, 4.6, 4],
      [8.3, 6.8, 7.8, 9.2, 6.5],
      [8, 10.5, 8.1, 6.9, 9.3],
    ];
    const { f, pValue } = oneWayAnova(ofEach(levels));
    expect(f).toBeCloseTo(9.59, 2);
    expect(pValue).toBeCloseTo(0.003248222600859306, 12);
  });
});

describe("R's ToothGrowth by dose", () => {
  it("has the F of the public test of R's package jmv, and more digits and the p of SciPy 1.17.1", () => {
    const { f, pValue } = oneWayAnova(teeth);
    expect(f).toBeCloseTo(67.416, 3);
    expect(f).toBeCloseTo(67.4157378567425, 10);
    expect((pValue ?? 0) / 9.532727011699893e-16).toBeCloseTo(1, 10);
  });

  it('has the same of Welch', () => {
    const welch = welchAnova(teeth);
    expect(welch?.f).toBeCloseTo(68.401, 3);
    expect(welch?.degreesOfFreedomBetween).toBe(2);
    expect(welch?.degreesOfFreedomWithin).toBeCloseTo(37.743, 3);
    expect((welch?.pValue ?? 0) / 2.8124e-13).toBeCloseTo(1, 4);
    expect(welch?.f).toBeCloseTo(68.4009767771839, 10);
    expect((welch?.pValue ?? 0) / 2.8123845436149813e-13).toBeCloseTo(1, 10);
  });
});

describe("Welch's interval", () => {
  it("of R's data set sleep is -3.3655 to 0.2055 with 17.776 degrees of freedom", () => {
    // As R's manual shows it (from memory); digits by SciPy 1.17.1, ttest_ind.
    const first = moments([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2]);
    const second = moments([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]);
    const interval = welchInterval(first, second);
    expect(interval?.degreesOfFreedom).toBeCloseTo(17.776473516178488, 11);
    expect(interval?.lower).toBeCloseTo(-3.3654832307117104, 12);
    expect(interval?.upper).toBeCloseTo(0.20548323071171137, 12);
    expect(interval?.pValue).toBeCloseTo(0.0793941401873583, 12);
  });

  it("has the t and p that a public database's manual prints for its own Welch test", () => {
    const interval = welchInterval(moments([20.3, 22.1, 21.9]), moments([18.9, 20.3, 19]));
    const t = (interval?.difference ?? 0) / (interval?.standardError ?? 1);
    expect(t).toBeCloseTo(2.7988719532211235, 12);
    expect(interval?.pValue).toBeCloseTo(0.051807360348581945, 12);
  });

  it('has the standard error, t and degrees of freedom that the manual of statpsych prints', () => {
    const group = (mean: number, standardDeviation: number) => ({
      count: 20,
      mean,
      standardDeviation,
    });
    const groups = [group(12.86, 13.185), group(17.57, 12.995), group(26.29, 14.773)];
    const [pair] = pairwiseWelchIntervals(groups);
    expect(pair?.standardError).toBeCloseTo(4.13953, 5);
    expect((pair?.difference ?? 0) / (pair?.standardError ?? 1)).toBeCloseTo(-1.1378102, 7);
    expect(pair?.degreesOfFreedom).toBeCloseTo(37.992, 3);
  });
});
