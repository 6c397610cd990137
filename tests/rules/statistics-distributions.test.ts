import { describe, expect, it } from 'vitest';
import { betaLogOddsQuantile, betaQuantile } from '../../src/statistics/beta-quantile.js';
import { betaTails } from '../../src/statistics/beta-tails.js';
import { bracketedNewton } from '../../src/statistics/bracketed-newton.js';
import { chiSquaredQuantile, chiSquaredTails } from '../../src/statistics/chi-squared.js';
import {
  degreesOfFreedomMax,
  degreesOfFreedomMin,
} from '../../src/statistics/degrees-of-freedom.js';
import { fQuantile, fTails } from '../../src/statistics/f-distribution.js';
import { gammaTails } from '../../src/statistics/gamma-tails.js';
import { integrate } from '../../src/statistics/integrate.js';
import { studentTCdf, studentTQuantile } from '../../src/statistics/student-t.js';

const infinity = Number.POSITIVE_INFINITY;

describe('the distributions', () => {
  it('have the closed forms of their examples', () => {
    expect(gammaTails(1, 2).upper).toBeCloseTo(Math.exp(-2), 15);
    expect(betaTails(0.3, 0.7, 1, 1).lower).toBeCloseTo(0.3, 15);
    expect(chiSquaredTails(18.307, 10).upper).toBeCloseTo(0.05, 5);
    expect(chiSquaredQuantile(0.95, 10)).toBeCloseTo(18.307, 3);
    expect(fTails(3.3258, 5, 10).upper).toBeCloseTo(0.05, 5);
    expect(fQuantile(0.95, 5, 10)).toBeCloseTo(3.3258, 4);
    expect(studentTCdf(1, 1)).toBeCloseTo(0.75, 15);
    expect(studentTQuantile(0.975, 4)).toBeCloseTo(2.776, 3);
    expect(betaQuantile(0.025, 1, 100)).toBeCloseTo(1 - 0.975 ** (1 / 100), 15);
    expect(betaLogOddsQuantile({ lower: 0.25, upper: 0.75 }, 1, 1)).toBeCloseTo(
      Math.log(1 / 3),
      14,
    );
    expect(bracketedNewton((u) => ({ value: Math.exp(u) - 2, slope: Math.exp(u) }), 0)).toBeCloseTo(
      Math.LN2,
      15,
    );
    expect(integrate((x) => x * x, 0, 3)).toBeCloseTo(9, 14);
  });

  it('come from an integration that follows a peak it cannot see from afar', () => {
    const peak = integrate((x) => 1 / (1 + 1e4 * x * x), -1, 1);
    expect(peak / (Math.atan(100) / 50)).toBeCloseTo(1, 13);
  });

  it('hold at their ends', () => {
    expect(chiSquaredTails(0, 3)).toEqual({ lower: 0, upper: 1 });
    expect(chiSquaredTails(infinity, 3)).toEqual({ lower: 1, upper: 0 });
    expect(fTails(0, 3, 4)).toEqual({ lower: 0, upper: 1 });
    expect(fTails(infinity, 3, 4)).toEqual({ lower: 1, upper: 0 });
    expect([-infinity, 0, infinity].map((t) => studentTCdf(t, 3))).toEqual([0, 0.5, 1]);
    expect(studentTQuantile(0.5, 3)).toBe(0);
  });

  it('take degrees of freedom up to both ends and refuse any beyond', () => {
    for (const freedom of [degreesOfFreedomMin, degreesOfFreedomMax]) {
      expect(chiSquaredTails(chiSquaredQuantile(0.3, freedom), freedom).lower).toBeCloseTo(0.3, 9);
      expect(studentTCdf(studentTQuantile(0.3, freedom), freedom)).toBeCloseTo(0.3, 12);
    }
    for (const freedom of [0.49, 1.1e9, 0, -1, Number.NaN]) {
      expect(() => chiSquaredTails(1, freedom)).toThrow(RangeError);
      expect(() => chiSquaredQuantile(0.5, freedom)).toThrow(RangeError);
      expect(() => studentTCdf(1, freedom)).toThrow(RangeError);
      expect(() => studentTQuantile(0.4, freedom)).toThrow(RangeError);
      for (const [d1, d2] of [
        [freedom, 3],
        [3, freedom],
      ] as const) {
        expect(() => fTails(1, d1, d2)).toThrow(RangeError);
        expect(() => fQuantile(0.5, d1, d2)).toThrow(RangeError);
        expect(() => betaQuantile(0.5, d1 / 2, d2 / 2)).toThrow(RangeError);
      }
    }
  });

  it('refuse what is no probability and no value', () => {
    for (const p of [0, 1, -0.1, 1.1, Number.NaN]) {
      expect(() => chiSquaredQuantile(p, 3)).toThrow(RangeError);
      expect(() => studentTQuantile(p, 3)).toThrow(RangeError);
      expect(() => fQuantile(p, 3, 3)).toThrow(RangeError);
      expect(() => betaQuantile(p, 3, 3)).toThrow(RangeError);
    }
    for (const value of [-1, Number.NaN]) {
      expect(() => chiSquaredTails(value, 3)).toThrow(RangeError);
      expect(() => fTails(value, 3, 3)).toThrow(RangeError);
    }
    expect(() => studentTCdf(Number.NaN, 3)).toThrow(RangeError);
  });

  it('are found where the start is far off, and a function without zero is given up', () => {
    const cliff = (u: number) => ({ value: u < 50 ? -infinity : u - 100, slope: u < 50 ? 0 : 1 });
    expect(bracketedNewton(cliff, -1_000)).toBeCloseTo(100, 12);
    expect(() => bracketedNewton(() => ({ value: 1, slope: 0 }), 0)).toThrow(/no zero/);
  });
});
