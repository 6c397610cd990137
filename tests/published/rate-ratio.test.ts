import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../src/statistics/normal-cdf.js';
import { poissonRateRatio, riskRatio } from '../../src/statistics/rate-ratio.js';

const z = 1.959963984540054; // the 97.5 % point
const high = { events1: 7, trials1: 34, events2: 1, trials2: 34 };

// Fagerland, Lydersen and Laake, Statistical Analysis of Contingency Tables, chapter 4:
// high against standard dose epinephrine (Perondi 2004), 7/34 against 1/34. The figures are
// the expected output of the book's own R package.
describe('Fagerland, Lydersen and Laake, chapter 4, 7/34 against 1/34', () => {
  it('has ratio 7 and the Koopman interval 1.2209 to 42.5757', () => {
    const { ratio, lower, upper } = riskRatio(high);
    expect(ratio).toBe(7);
    expect(Number(lower.toFixed(4))).toBe(1.2209);
    expect(Number(upper.toFixed(4))).toBe(42.5757);
  });

  it('has the Miettinen-Nurminen interval 1.2086 to 43.033 once z carries their N/(N - 1)', () => {
    const confidence = 2 * normalCdf(z * Math.sqrt(68 / 67)) - 1;
    const { lower, upper } = riskRatio(high, confidence);
    expect(Number(lower.toFixed(4))).toBe(1.2086);
    expect(Number(upper.toFixed(4))).toBe(43.033);
  });
});

describe('Koopman, Biometrics 40 (1984) 513', () => {
  it('36/40 against 16/80 is 2.94 to 7.15 (from memory)', () => {
    const { ratio, lower, upper } = riskRatio({
      events1: 36,
      trials1: 40,
      events2: 16,
      trials2: 80,
    });
    expect(ratio).toBeCloseTo(4.5, 14);
    expect(Number(lower.toFixed(2))).toBe(2.94);
    expect(Number(upper.toFixed(2))).toBe(7.15);
  });
});

describe("Koopman's chi-squared equation", () => {
  // Its roots in 40-digit arithmetic by another program, ours.
  it.each([
    [7, 34, 1, 34, 1.220852853514812, 42.5757176097604],
    [104, 11_037, 189, 11_034, 0.4338935316068802, 0.6973968469266254],
    [36, 40, 16, 80, 2.939569192214994, 7.15222343486603],
    [1, 1_000_000, 999_999, 1_000_000, 1.7652475327000118e-7, 5.664917469232877e-6],
  ])('%d/%d against %d/%d has these ends', (events1, trials1, events2, trials2, lower, upper) => {
    const ours = riskRatio({ events1, trials1, events2, trials2 });
    expect(ours.lower / lower).toBeCloseTo(1, 12);
    expect(ours.upper / upper).toBeCloseTo(1, 12);
  });

  it('has the upper end 0.961902 for 0/16 against 15/72', () => {
    const { ratio, lower, upper } = riskRatio({
      events1: 0,
      trials1: 16,
      events2: 15,
      trials2: 72,
    });
    expect([ratio, lower]).toEqual([0, 0]);
    expect(upper).toBeCloseTo(0.9619020510079472, 12);
  });
});

describe('the exact interval of a ratio of Poisson rates', () => {
  // Fay, vignette "Testing the Ratio of Two Poisson Rates" of the R package rateratio.test
  // (2014): 2 events in 17,877 against 9 in 16,660.
  it('of 2 in 17,877 against 9 in 16,660 is 0.02177406 to 1.00054910', () => {
    const { ratio, lower, upper } = poissonRateRatio({
      events1: 2,
      exposure1: 17_877,
      events2: 9,
      exposure2: 16_660,
    });
    expect(ratio).toBeCloseTo(0.2070941557, 10);
    expect(Number(lower.toFixed(8))).toBe(0.02177406);
    expect(Number(upper.toFixed(8))).toBe(1.0005491);
  });

  // The same ends: from the beta quantiles of SciPy 1.17.1, then in 40-digit arithmetic, ours.
  it.each([
    [40_000, 3e6, 60_000, 5e6, 1.0971151977303502, 1.1252766294500245],
    [999_999, 1, 1, 1, 179479.6694646355, 39497889.70520721],
  ])('of %d in %d against %d in %d keeps its digits', (e1, x1, e2, x2, lower, upper) => {
    const rates = { events1: e1, exposure1: x1, events2: e2, exposure2: x2 };
    expect(poissonRateRatio(rates).lower / lower).toBeCloseTo(1, 12);
    expect(poissonRateRatio(rates).upper / upper).toBeCloseTo(1, 12);
  });
});
