import { describe, expect, it } from 'vitest';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';

describe('Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3 (Wilson)', () => {
  // The values as quoted from the table in a public test suite; the paper's table was not seen.
  it.each([
    [81, 263, 0.2553, 0.3662],
    [15, 148, 0.0624, 0.1605],
    [0, 20, 0, 0.1611],
    [1, 29, 0.0061, 0.1718],
    [29, 29, 0.883, 1],
  ])('%d of %d is %d to %d', (successes, trials, lower, upper) => {
    const interval = wilsonInterval(successes, trials);
    expect(Number(interval.lower.toFixed(4))).toBe(lower);
    expect(Number(interval.upper.toFixed(4))).toBe(upper);
  });

  it('is z²/(n + z²) at no successes, its closed form', () => {
    const zSquared = 3.841458820694124; // chi-squared, 1 degree of freedom, 95 %
    for (const trials of [1, 8, 20, 1000]) {
      expect(wilsonInterval(0, trials).lower).toBe(0);
      expect(wilsonInterval(0, trials).upper).toBeCloseTo(zSquared / (trials + zSquared), 14);
    }
  });
});
