import { describe, expect, it } from 'vitest';
import { andersonDarling } from '../../src/statistics/anderson-darling.js';
import { lagOneAutocorrelation, moments } from '../../src/statistics/moments.js';
import { sortSample } from '../../src/statistics/sorted-sample.js';

// Data and certified values of the Statistical Reference Datasets of NIST, univariate summary
// statistics, read in a public copy of the files.

/** Lew: deflections of a beam. */
const lew = Object.freeze([
  -213, -564, -35, -15, 141, 115, -420, -360, 203, -338, -431, 194, -220, -513, 154, -125, -559, 92,
  -21, -579, -52, 99, -543, -175, 162, -457, -346, 204, -300, -474, 164, -107, -572, -8, 83, -541,
  -224, 180, -420, -374, 201, -236, -531, 83, 27, -564, -112, 131, -507, -254, 199, -311, -495, 143,
  -46, -579, -90, 136, -472, -338, 202, -287, -477, 169, -124, -568, 17, 48, -568, -135, 162, -430,
  -422, 172, -74, -577, -13, 92, -534, -243, 194, -355, -465, 156, -81, -578, -64, 139, -449, -384,
  193, -198, -538, 110, -44, -577, -6, 66, -552, -164, 161, -460, -344, 205, -281, -504, 134, -28,
  -576, -118, 156, -437, -381, 200, -220, -540, 83, 11, -568, -160, 172, -414, -408, 188, -125,
  -572, -32, 139, -492, -321, 205, -262, -504, 142, -83, -574, 0, 48, -571, -106, 137, -501, -266,
  190, -391, -406, 194, -186, -553, 83, -13, -577, -49, 103, -515, -280, 201, 300, -506, 131, -45,
  -578, -80, 138, -462, -361, 201, -211, -554, 32, 74, -533, -235, 187, -372, -442, 182, -147, -566,
  25, 68, -535, -244, 194, -351, -463, 174, -125, -570, 15, 72, -550, -190, 172, -424, -385, 198,
  -218, -536, 96,
]);

/** Michelso: the speed of light, hundredths above 299. */
const michelso = Object.freeze(
  [
    85, 74, 90, 107, 93, 85, 95, 98, 98, 88, 100, 98, 93, 65, 76, 81, 100, 100, 96, 96, 96, 94, 96,
    94, 88, 80, 85, 88, 90, 84, 83, 79, 81, 88, 88, 83, 80, 79, 76, 80, 88, 88, 88, 86, 72, 72, 62,
    86, 97, 95, 88, 91, 85, 87, 84, 84, 85, 84, 84, 84, 89, 81, 81, 82, 80, 77, 76, 74, 75, 76, 91,
    92, 89, 86, 88, 72, 84, 85, 85, 78, 89, 84, 78, 81, 76, 81, 79, 81, 82, 85, 87, 87, 81, 74, 81,
    94, 95, 80, 81, 87,
  ].map((hundredths) => (29900 + hundredths) / 100),
);

/** Mavro: transmittance, ten-thousandths above 2. */
const mavro = Object.freeze(
  [
    18, 17, 18, 19, 18, 17, 15, 14, 15, 15, 17, 18, 18, 19, 19, 21, 20, 16, 14, 13, 13, 15, 15, 16,
    15, 14, 13, 14, 15, 14, 15, 16, 15, 16, 19, 20, 20, 21, 22, 23, 24, 25, 27, 26, 26, 26, 27, 26,
    25, 24,
  ].map((tenThousandths) => (20000 + tenThousandths) / 10000),
);

/** One value, then 500 pairs. */
function pairs(first: number, low: number, high: number): readonly number[] {
  return Object.freeze([first, ...Array.from({ length: 1000 }, (_, k) => (k % 2 ? high : low))]);
}

/** Correct digits, as NIST counts them: minus the decimal logarithm of the relative error. */
function digits(ours: number | null, certified: number): number {
  return -Math.log10(Math.abs((ours ?? Number.NaN) - certified) / Math.abs(certified) + 1e-16);
}

describe('NIST StRD, univariate summary statistics', () => {
  it.each([
    // Whole numbers, and decimals that doubles hold to 16 digits: all digits are to be had.
    ['NumAcc1', [10000001, 10000003, 10000002], 10000002, 1, -0.5, [15, 15, 15]],
    ['NumAcc2', pairs(1.2, 1.1, 1.3), 1.2, 0.1, -0.999, [15, 14, 14]],
    ['Lew', lew, -177.435, 277.332168044316, -0.307304800605679, [14, 14, 14]],
    ['Michelso', michelso, 299.8524, 0.0790105478190518, 0.535199668621283, [15, 13, 13]],
    ['Mavro', mavro, 2.001856, 0.000429123454003053, 0.937989183438248, [15, 12, 12]],
    // Doubles near 1e6 and 1e7 hold the tenths to 10 and 9 digits only, so the deviation too.
    ['NumAcc3', pairs(1000000.2, 1000000.1, 1000000.3), 1000000.2, 0.1, -0.999, [15, 9, 9]],
    ['NumAcc4', pairs(10000000.2, 10000000.1, 10000000.3), 10000000.2, 0.1, -0.999, [15, 8, 8]],
  ] as const)(
    '%s has its certified mean, deviation and autocorrelation',
    (_, data, mean, deviation, lag, least) => {
      const ours = moments(data);
      expect(ours.count).toBe(data.length);
      expect(digits(ours.mean, mean)).toBeGreaterThan(least[0]);
      expect(digits(ours.standardDeviation, deviation)).toBeGreaterThan(least[1]);
      expect(digits(lagOneAutocorrelation(data), lag)).toBeGreaterThan(least[2]);
    },
  );
});

describe('the Anderson-Darling statistic', () => {
  it.each([
    ['Lew, which swings between two ends', lew, 6.000646915775917],
    ['Michelso', michelso, 0.46076385565194755],
    ['Mavro, which drifts', mavro, 1.6684654846545612],
    ['1 to 8', [1, 2, 3, 4, 5, 6, 7, 8], 0.13400045881773792],
  ] as const)('of %s is that of SciPy 1.17.1, stats.anderson', (_, data, statistic) => {
    expect(andersonDarling(sortSample(data))?.statistic).toBeCloseTo(statistic, 10);
  });

  it('has the p values of the formulas in two public implementations', () => {
    // The four branches of table 4.9 in Stephens (1986), worked with 15 digits from the statistic.
    const modified = (a: number, n: number) => a * (1 + 0.75 / n + 2.25 / n ** 2);
    const small = modified(0.13400045881773792, 8);
    expect(andersonDarling(sortSample([1, 2, 3, 4, 5, 6, 7, 8]))?.pValue).toBeCloseTo(
      1 - Math.exp(-13.436 + 101.14 * small - 223.73 * small ** 2),
      12,
    );
    // 0.3253, near the end of its branch at 0.34.
    const next = modified(0.2881974708294983, 8);
    const skewed = andersonDarling(sortSample([1, 2, 3, 4, 5, 7, 9, 13.5]));
    expect(skewed?.modified).toBeCloseTo(next, 12);
    expect(skewed?.pValue).toBeCloseTo(
      1 - Math.exp(-8.318 + 42.796 * next - 59.938 * next ** 2),
      12,
    );
    const middle = modified(0.46076385565194755, 100);
    expect(andersonDarling(sortSample(michelso))?.pValue).toBeCloseTo(
      Math.exp(0.9177 - 4.279 * middle - 1.38 * middle ** 2),
      12,
    );
    const large = modified(1.6684654846545612, 50);
    const mavroTest = andersonDarling(sortSample(mavro));
    expect(mavroTest?.modified).toBeCloseTo(large, 10);
    expect(
      (mavroTest?.pValue ?? 0) / Math.exp(1.2937 - 5.709 * large + 0.0186 * large ** 2),
    ).toBeCloseTo(1, 9);
  });
});
