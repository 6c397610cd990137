import { describe, expect, it } from 'vitest';
import { binomialCdf, binomialUpperTail } from '../../src/statistics/binomial-cdf.js';
import { clopperPearsonInterval } from '../../src/statistics/clopper-pearson-interval.js';

describe('Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 5 (Clopper-Pearson)', () => {
  // The paper's table from memory; the same figures come out of SciPy 1.17.1's beta quantiles.
  it.each([
    [81, 263, 0.2527, 0.3676],
    [15, 148, 0.0578, 0.1617],
    [0, 20, 0, 0.1684],
    [1, 29, 0.0009, 0.1776],
  ])('%d of %d is %d to %d', (successes, trials, lower, upper) => {
    const interval = clopperPearsonInterval(successes, trials);
    expect(Number(interval.lower.toFixed(4))).toBe(lower);
    expect(Number(interval.upper.toFixed(4))).toBe(upper);
  });
});

describe('published output of exact binomial tests', () => {
  // R's binom.test in a public note: 2 of 12, 0.02086253 to 0.48413775.
  it('2 of 12 is 0.02086253 to 0.48413775', () => {
    const { lower, upper } = clopperPearsonInterval(2, 12);
    expect(Number(lower.toFixed(8))).toBe(0.02086253);
    expect(Number(upper.toFixed(8))).toBe(0.48413775);
  });

  // The same note: the two-sided test of one half has p = 0.03857; at one half both tails are equal.
  it('2 of 12 against one half is 0.03857', () => {
    const twoSided = binomialCdf(2, 12, 0.5) + binomialUpperTail(10, 12, 0.5);
    expect(Number(twoSided.toFixed(5))).toBe(0.03857);
  });

  // The documentation of the ruby gem viral_seq, which asks R: 3 of 923, 0.00067 to 0.00947.
  it('3 of 923 is 0.00067 to 0.00947', () => {
    const { lower, upper } = clopperPearsonInterval(3, 923);
    expect(Number(lower.toFixed(5))).toBe(0.00067);
    expect(Number(upper.toFixed(5))).toBe(0.00947);
  });

  // R's manual, ?binom.test, Mendel's 682 of 925 after Conover (interval from memory).
  it('682 of 925 is 0.7076683 to 0.7654066', () => {
    const { lower, upper } = clopperPearsonInterval(682, 925);
    expect(Number(lower.toFixed(7))).toBe(0.7076683);
    expect(Number(upper.toFixed(7))).toBe(0.7654066);
  });
});

describe('a million motors', () => {
  it.each([
    // SciPy 1.17.1, beta quantiles.
    [500_000, 0.49901951919531184, 0.5009804808046882],
    // 40-digit arithmetic by another program, ours.
    [3, 6.186725501906399e-7, 8.767247788145224e-6],
  ])('%d of 1,000,000 keeps twelve digits', (successes, lower, upper) => {
    const interval = clopperPearsonInterval(successes, 1_000_000);
    expect(interval.lower / lower).toBeCloseTo(1, 12);
    expect(interval.upper / upper).toBeCloseTo(1, 12);
  });

  // 60-digit arithmetic by another program, ours.
  it('has these binomial tails', () => {
    expect(binomialCdf(499_000, 1_000_000, 0.5) / 0.02280414993269104).toBeCloseTo(1, 12);
    const far = binomialUpperTail(503_000, 1_000_000, 0.5) / 9.925748819615104e-10;
    expect(far).toBeCloseTo(1, 11);
    const rare = binomialUpperTail(30, 1_000_000, 3e-6) / 4.275540811365954e-20;
    expect(rare).toBeCloseTo(1, 12);
  });
});
