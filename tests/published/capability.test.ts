import { describe, expect, it } from 'vitest';
import {
  individualsCapability,
  movingRangeDegreesOfFreedom,
} from '../../src/statistics/capability.js';
import { capabilityIndices } from '../../src/statistics/capability-indices.js';
import { expectedOutside } from '../../src/statistics/fraction-outside.js';
import { percentileCapability } from '../../src/statistics/percentile-capability.js';
import { sortSample } from '../../src/statistics/sorted-sample.js';

/** The flow rates of NIST/SEMATECH e-Handbook 6.3.2.2. */
const flowRates = Object.freeze([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]);

describe('NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, deviation 2 (from memory)', () => {
  const limits = { lower: 8, upper: 20 };
  const spread = { count: 50, mean: 16, standardDeviation: 2, degreesOfFreedom: 49 };

  it('has Cp 1.0, Cpl 1.3333, Cpu and Cpk 0.6667', () => {
    const indices = capabilityIndices(spread, limits);
    expect(indices?.both?.estimate).toBeCloseTo(1, 14);
    expect(indices?.lower?.estimate).toBeCloseTo(1.3333, 4);
    expect(indices?.upper?.estimate).toBeCloseTo(0.6667, 4);
    expect(indices?.nearest.estimate).toBeCloseTo(0.6667, 4);
  });

  it('has Cpk = (1 - k) Cp with k = |14 - 16| / 6', () => {
    const indices = capabilityIndices(spread, limits);
    expect(indices?.nearest.estimate).toBeCloseTo((1 - 2 / 6) * 1, 14);
  });

  it('leaves 2.275 % above and 0.003 % below', () => {
    // The areas beyond 2 and 4 standard deviations, in any table of the normal distribution.
    const outside = expectedOutside(spread, limits);
    expect(outside?.above).toBeCloseTo(0.02275, 5);
    expect(outside?.below).toBeCloseTo(0.0000317, 7);
    expect(outside?.total).toBeCloseTo(0.0227818, 7);
  });
});

describe('the confidence interval of Cp', () => {
  it('is 1.57 to 3.01 for 20 values with deviation 1.75 and limits 38 and 62 (from memory)', () => {
    // A textbook example of statistical quality control; chi-squared 8.91 and 32.85 are in its tables.
    const spread = { count: 20, mean: 50, standardDeviation: 1.75, degreesOfFreedom: 19 };
    const both = capabilityIndices(spread, { lower: 38, upper: 62 })?.both;
    expect(both?.estimate).toBeCloseTo(2.29, 2);
    // It multiplies the rounded 2.29.
    expect(Math.abs((both?.lower ?? 0) - 1.57)).toBeLessThan(0.006);
    expect(both?.upper).toBeCloseTo(3.01, 2);
  });
});

describe("Bissell's interval of Cpk", () => {
  it('is Cpk (1 ± 1.96 √(1/(9n Cpk²) + 1/(2(n-1)))), as J. Qual. Technol. 24 (1992) quotes it', () => {
    // The exercise with n = 30, mean 97, deviation 1.6 and limits 90 and 100; figures by hand.
    const spread = { count: 30, mean: 97, standardDeviation: 1.6, degreesOfFreedom: 29 };
    const nearest = capabilityIndices(spread, { lower: 90, upper: 100 })?.nearest;
    expect(nearest?.estimate).toBeCloseTo(0.625, 12);
    const reach = 0.625 * 1.959964 * Math.sqrt(1 / (9 * 30 * 0.625 ** 2) + 1 / 58);
    expect(nearest?.lower).toBeCloseTo(0.625 - reach, 6);
    expect(nearest?.upper).toBeCloseTo(0.625 + reach, 6);
    expect(reach).toBeCloseTo(0.2, 2);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.2.2: the moving ranges of the flow rates', () => {
  it('give mean 50.81 and deviation 1.8778 / 1.128 within', () => {
    const { within } = individualsCapability(flowRates, { lower: 44, upper: 56 });
    expect(within.mean).toBeCloseTo(50.81, 12);
    // Three of them, with the handbook's rounded 1.128, are the limits 55.8041 and 45.8159.
    expect((within.standardDeviation * (2 / Math.sqrt(Math.PI))) / 1.128).toBeCloseTo(
      (55.8041 - 45.8159) / 6,
      3,
    );
  });

  it('have the coefficient of variation of Cryer and Ryan, J. Qual. Technol. 22 (1990) 187 (from memory)', () => {
    for (const n of [2, 10, 100, 10_000]) {
      const squared = (0.826 * n - 1.082) / (n - 1) ** 2;
      expect(2 * movingRangeDegreesOfFreedom(n) * squared).toBeCloseTo(1, 2);
    }
  });
});

describe('the percentile method with the names of ISO 22514-2 (from memory)', () => {
  it('is the ordinary method where the points are those of a normal distribution', () => {
    // 100,001 values at 0, 1, 2, ...: uniform, so X0.135% is at 135 and X99.865% at 99,865.
    const uniform = sortSample(Array.from({ length: 100_001 }, (_, k) => k));
    const indices = percentileCapability(uniform, { lower: -49_730, upper: 149_730 });
    expect(indices.lowerPoint).toBeCloseTo(135, 6);
    expect(indices.median).toBe(50_000);
    expect(indices.upperPoint).toBeCloseTo(99_865, 6);
    expect(indices.pp).toBeCloseTo(2, 10);
    expect(indices.ppl).toBeCloseTo(2, 10);
    expect(indices.ppu).toBeCloseTo(2, 10);
    expect(indices.resolved).toBe(true);
  });
});
