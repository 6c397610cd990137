import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../src/statistics/normal-cdf.js';
import { normalQuantile } from '../../src/statistics/normal-quantile.js';
import { quantile } from '../../src/statistics/quantile.js';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';

describe('the normal distribution', () => {
  // 40-digit arithmetic by another program, ours.
  it.each([
    [-37, 5.725571222524577e-300],
    [-8, 6.220960574271784e-16],
    [-3, 0.001349898031630095],
    [-1, 0.15865525393145705],
    [0, 0.5],
    [1.4, 0.9192433407662289],
    [3, 0.9986501019683699],
  ])('has %d or less with probability %d', (x, probability) => {
    expect(normalCdf(x) / probability).toBeCloseTo(1, 12);
  });

  it.each([
    [0.0001, -3.71901648545568],
    [0.25, -0.6744897501960817],
    [0.9, 1.2815515655446],
    [0.975, 1.9599639845400543],
    [0.995, 2.575829303548901],
  ])('stays below its %d quantile, %d', (probability, x) => {
    expect(normalQuantile(probability)).toBeCloseTo(x, 13);
  });

  it('has a quantile that undoes its distribution function', () => {
    for (let p = 0.01; p < 1; p += 0.01) {
      expect(normalCdf(normalQuantile(p, 12, 0.4), 12, 0.4)).toBeCloseTo(p, 13);
    }
  });

  it('ends at 0 and 1', () => {
    expect(normalCdf(Number.NEGATIVE_INFINITY)).toBe(0);
    expect(normalCdf(Number.POSITIVE_INFINITY)).toBe(1);
  });

  it('refuses what is outside its domain', () => {
    expect(() => normalCdf(Number.NaN)).toThrow(RangeError);
    expect(() => normalCdf(1, Number.NaN)).toThrow(RangeError);
    for (const deviation of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(() => normalCdf(1, 0, deviation)).toThrow(RangeError);
      expect(() => normalQuantile(0.5, 0, deviation)).toThrow(RangeError);
    }
    for (const probability of [0, 1, -0.1, 1.1, Number.NaN]) {
      expect(() => normalQuantile(probability)).toThrow(RangeError);
    }
    expect(() => normalQuantile(0.5, Number.POSITIVE_INFINITY)).toThrow(RangeError);
  });
});

describe('the Wilson interval', () => {
  it('stays inside 0 to 1 and around the proportion for every small count', () => {
    for (let trials = 1; trials <= 40; trials++) {
      for (let successes = 0; successes <= trials; successes++) {
        const { lower, upper } = wilsonInterval(successes, trials);
        expect(lower).toBeGreaterThanOrEqual(0);
        expect(upper).toBeLessThanOrEqual(1);
        expect(lower).toBeLessThanOrEqual(successes / trials);
        expect(upper).toBeGreaterThanOrEqual(successes / trials);
      }
    }
  });

  it('solves the score equation at both ends, its definition', () => {
    const z = 1.959963984540054; // the 97.5 % point
    const { lower, upper } = wilsonInterval(81, 263);
    for (const p of [lower, upper]) {
      expect(Math.abs(81 / 263 - p) / Math.sqrt((p * (1 - p)) / 263)).toBeCloseTo(z, 12);
    }
  });

  it('is the mirror image for failures, and wider with more confidence', () => {
    const passes = wilsonInterval(95, 100);
    const failures = wilsonInterval(5, 100);
    expect(passes.lower).toBeCloseTo(1 - failures.upper, 15);
    expect(passes.upper).toBeCloseTo(1 - failures.lower, 15);
    expect(wilsonInterval(95, 100, 0.99).lower).toBeLessThan(passes.lower);
  });

  it('refuses what is no count or no confidence', () => {
    expect(() => wilsonInterval(0, 0)).toThrow(/trials is 0/);
    expect(() => wilsonInterval(-1, 10)).toThrow(RangeError);
    expect(() => wilsonInterval(11, 10)).toThrow(RangeError);
    expect(() => wilsonInterval(1.5, 10)).toThrow(RangeError);
    expect(() => wilsonInterval(1, 10.5)).toThrow(RangeError);
    for (const confidence of [0, 1, Number.NaN]) {
      expect(() => wilsonInterval(1, 10, confidence)).toThrow(RangeError);
    }
  });
});

describe('the sample quantile', () => {
  it('interpolates at (n - 1)p', () => {
    // R manual, ?quantile, type 7 (from memory): quantile(1:10, 0.9) is 9.1.
    expect(quantile([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 0.9)).toBe(9.1);
    expect(quantile([1, 2, 3, 4], 0.25)).toBe(1.75);
    expect(quantile([7, 1, 3, 5], 0.5)).toBe(4);
    expect(quantile([3, 1, 2], 0.5)).toBe(2);
  });

  it('is the k-th smallest value at (k - 1)/(n - 1), what defines type 7', () => {
    // Hyndman and Fan 1996, definition 7 (from memory).
    const sample = [12.5, -3, 8, 40, 0.25];
    const sorted = [-3, 0.25, 8, 12.5, 40];
    for (const [index, value] of sorted.entries()) {
      expect(quantile(sample, index / 4)).toBe(value);
    }
  });

  it('sorts numbers as numbers and leaves the sample alone', () => {
    const sample = [10, 9, 100];
    expect(quantile(sample, 0.5)).toBe(10);
    expect(sample).toEqual([10, 9, 100]);
  });

  it('of one value is that value', () => {
    for (const p of [0, 0.3, 1]) expect(quantile([4.2], p)).toBe(4.2);
  });

  it('refuses an empty sample, a value not finite and a probability outside 0 to 1', () => {
    expect(() => quantile([], 0.5)).toThrow(/empty/);
    expect(() => quantile([1, Number.NaN], 0.5)).toThrow(RangeError);
    expect(() => quantile([1, Number.POSITIVE_INFINITY], 0.5)).toThrow(RangeError);
    for (const p of [-0.1, 1.1, Number.NaN]) expect(() => quantile([1, 2], p)).toThrow(RangeError);
  });
});
