import { describe, expect, it } from 'vitest';
import { betaQuantile } from '../../src/statistics/beta-quantile.js';
import { chiSquaredQuantile, chiSquaredTails } from '../../src/statistics/chi-squared.js';
import { fQuantile, fTails } from '../../src/statistics/f-distribution.js';
import { studentTCdf, studentTQuantile } from '../../src/statistics/student-t.js';

/** Our value over the reference, which is 1 to twelve or thirteen digits. */
const ratio = (ours: number, reference: number) => ours / reference;

describe('quantiles against mpmath 1.3.0 with 40 digits', () => {
  it.each([
    [0.025, 1, 0.000982069117175256],
    [0.95, 10, 18.307038053275143],
    [0.975, 19, 32.8523268617297],
    // NIST/SEMATECH e-Handbook 7.2.6.3 prints 23.650.
    [0.01, 42, 23.650094677826193],
    [0.001, 3.7, 0.06541446898331545],
    [0.999, 3.7, 17.82565169460846],
    [0.9, 0.6, 1.7696215467204881],
    [0.025, 1234.5, 1139.0192085488543],
    [0.025, 999_999, 997229.0885291945],
    [1e-12, 6, 0.0003634406292527489],
  ])('chi-squared: %f with %f degrees of freedom is at %f', (p, freedom, value) => {
    expect(ratio(chiSquaredQuantile(p, freedom), value)).toBeCloseTo(1, 13);
  });

  it.each([
    [0.975, 4, 2.7764451051977934],
    [0.975, 1, 12.706204736174692],
    [0.95, 17.776, 1.7352481910477702],
    [0.999, 2.5, 13.82219311086596],
    [1e-9, 6, -56.80143064036322],
    [0.51, 30, 0.025278783971765813],
    [0.9, 0.7, 5.009947959646406],
    [0.975, 999_999, 1.959966356816479],
    // SciPy 1.17.1.
    [0.975, 1e9, 1.959963986912325],
  ])('t: %f with %f degrees of freedom is at %f', (p, freedom, value) => {
    expect(ratio(studentTQuantile(p, freedom), value)).toBeCloseTo(1, 13);
    expect(ratio(studentTQuantile(1 - p, freedom), -value)).toBeCloseTo(1, p < 0.01 ? 6 : 12);
  });

  it.each([
    [0.95, 5, 10, 3.325834530413011],
    [0.95, 2, 57, 3.158842719260647],
    [0.05, 9, 18, 0.3378375486769351],
    [0.975, 2, 37.743, 4.074105032225175],
    [0.99, 1, 1, 4052.180695476822],
    [1e-8, 3, 4, 3.35980131902693e-6],
    [0.975, 5000, 7000.5, 1.05255122328885],
  ])('F: %f with %f and %f degrees of freedom is at %f', (p, d1, d2, value) => {
    expect(ratio(fQuantile(p, d1, d2), value)).toBeCloseTo(1, 13);
  });

  it.each([
    // The ends of the interval of Clopper and Pearson for 81 of 263: Newcombe (1998) prints .2527 .3676.
    [0.025, 81, 183, 0.25273674558527115],
    [0.975, 82, 182, 0.36762192260135135],
    [0.5, 0.5, 0.5, 0.5],
    [0.05, 2.5, 700, 0.0008169881096198985],
  ])('beta: %f with %f and %f is at %f', (p, a, b, value) => {
    expect(ratio(betaQuantile(p, a, b), value)).toBeCloseTo(1, 13);
  });
});

describe('tails against mpmath 1.3.0 with 40 digits', () => {
  it('keep their digits far out', () => {
    expect(ratio(chiSquaredTails(300, 10).upper, 1.5546747543803181e-58)).toBeCloseTo(1, 12);
    expect(ratio(chiSquaredTails(0.001, 10).lower, 2.6030818297031987e-19)).toBeCloseTo(1, 12);
    expect(ratio(studentTCdf(-30, 9), 1.2418523520791312e-10)).toBeCloseTo(1, 12);
    expect(ratio(fTails(60, 4, 40).upper, 2.2737613536614285e-16)).toBeCloseTo(1, 12);
  });

  it('keep their digits with very many degrees of freedom', () => {
    // The density integrated with 40 digits.
    expect(ratio(studentTCdf(-6, 1e6), 9.869249061772174e-10)).toBeCloseTo(1, 12);
    expect(ratio(studentTCdf(-1.96, 1e9), 0.0249978952868648)).toBeCloseTo(1, 13);
    expect(ratio(fTails(2.6, 9, 1e6).upper, 0.005358185066239603)).toBeCloseTo(1, 12);
    expect(ratio(fTails(1.01, 1e6, 3e5).upper, 0.000367193396377954)).toBeCloseTo(1, 11);
    expect(ratio(fTails(1.0001, 1e9, 5e8).upper, 0.09836672852524966)).toBeCloseTo(1, 11);
  });
});

describe('the one-sided 95 % t table of 40 CFR 1048.310 (edition of July 2007)', () => {
  // By number of tests n, so with n - 1 degrees of freedom. It prints 1.90 at n = 8, for 1.8946.
  it.each([
    [2, 6.31],
    [3, 2.92],
    [4, 2.35],
    [5, 2.13],
    [6, 2.02],
    [7, 1.94],
    [9, 1.86],
    [10, 1.83],
    [11, 1.81],
    [12, 1.8],
    [13, 1.78],
    [14, 1.77],
    [15, 1.76],
    [16, 1.75],
    [17, 1.75],
    [18, 1.74],
    [19, 1.73],
    [20, 1.73],
    [21, 1.72],
    [22, 1.72],
    [23, 1.72],
    [25, 1.71],
    [28, 1.7],
    [30, 1.7],
  ])('has for %d tests %f', (n, printed) => {
    expect(Math.abs(studentTQuantile(0.95, n - 1) - printed)).toBeLessThanOrEqual(0.00501);
  });
});
