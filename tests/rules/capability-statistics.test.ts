import cdf from '@stdlib/stats-base-dists-normal-cdf';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { andersonDarling } from '../../src/statistics/anderson-darling.js';
import {
  consecutiveSpreads,
  individualsCapability,
  individualsSpreads,
  subgroupsCapability,
} from '../../src/statistics/capability.js';
import { expectedVerdictErrors } from '../../src/statistics/conformity-risk.js';
import { countOutside, observedOutside } from '../../src/statistics/fraction-outside.js';
import { histogram } from '../../src/statistics/histogram.js';
import { meanInterval } from '../../src/statistics/mean-interval.js';
import { lagOneAutocorrelation, moments } from '../../src/statistics/moments.js';
import { sortSample } from '../../src/statistics/sorted-sample.js';

/** Readings of one decimal, many of them equal. */
const readings = fc.array(
  fc.integer({ min: -300, max: 300 }).map((tenths) => tenths / 10),
  { minLength: 8, maxLength: 200 },
);

describe('counts outside limits', () => {
  it('of a sorted sample are those of one pass, a value on a limit within', () => {
    const limit = fc.option(fc.integer({ min: -300, max: 300 }));
    fc.assert(
      fc.property(readings, limit, limit, (values, low, high) => {
        fc.pre(low !== null || high !== null);
        fc.pre(low === null || high === null || low < high);
        const limits = {
          lower: low === null ? null : low / 10,
          upper: high === null ? null : high / 10,
        };
        const { below, above } = countOutside(sortSample(values), limits);
        const observed = observedOutside(values, limits);
        expect([below / values.length, above / values.length]).toEqual([
          observed.below,
          observed.above,
        ]);
      }),
    );
  });

  it('of the example are as documented, and need a limit', () => {
    const sample = sortSample([1, 2, 3, 4]);
    expect(countOutside(sample, { lower: 2, upper: 3 })).toEqual({ below: 1, above: 1 });
    expect(() => countOutside(sample, { lower: null, upper: null })).toThrow(RangeError);
  });
});

describe('the Anderson-Darling statistic', () => {
  it('of readings of which many are equal is the sum over each single one', () => {
    fc.assert(
      fc.property(readings, (values) => {
        const sorted = [...values].sort((a, b) => a - b);
        const n = sorted.length;
        const { mean, standardDeviation } = moments(sorted);
        fc.pre(standardDeviation > 0);
        // A² as Stephens writes it; the normal distribution of a general-purpose library.
        let sum = 0;
        for (const [i, value] of sorted.entries()) {
          const opposite = sorted[n - 1 - i] ?? 0;
          const below = cdf(value, mean, standardDeviation);
          const above = cdf(2 * mean - opposite, mean, standardDeviation);
          sum += (2 * i + 1) * (Math.log(below) + Math.log(above));
        }
        const test = andersonDarling(sortSample(values));
        expect(test?.statistic).toBeCloseTo(-n - sum / n, 9);
      }),
    );
  });

  it('is the same to twelve digits for a hundred thousand values, equal ones or none', () => {
    const distinct = Float64Array.from({ length: 100_000 }, (_, k) => Math.sin(k) + k / 1e5);
    const rounded = distinct.map((value) => Math.round(value * 100) / 100);
    for (const values of [distinct, rounded]) {
      const sorted = sortSample(values).ascending;
      const { mean, standardDeviation } = moments(sorted);
      let expected = 0;
      for (const [i, value] of sorted.entries()) {
        const z = (value - mean) / standardDeviation;
        const terms =
          (2 * i + 1) * Math.log(cdf(z, 0, 1)) +
          (2 * (sorted.length - i) - 1) * Math.log(cdf(-z, 0, 1));
        expected -= 1 + terms / sorted.length;
      }
      const statistic = andersonDarling({ ascending: sorted })?.statistic ?? 0;
      expect(Math.abs(statistic / expected - 1)).toBeLessThan(1e-12);
    }
  });

  it('takes moments that are known already', () => {
    const sample = sortSample([1, 2, 3, 4, 5, 6, 7, 9]);
    expect(andersonDarling(sample, moments(sample.ascending))).toEqual(andersonDarling(sample));
  });
});

describe('samples of doubles', () => {
  it('have the answers of plain numbers, and are not changed', () => {
    fc.assert(
      fc.property(readings, (values) => {
        const doubles = Float64Array.from(values);
        const limits = { lower: -25, upper: 25 };
        expect(sortSample(doubles)).toEqual(sortSample(values));
        expect(observedOutside(doubles, limits)).toEqual(observedOutside(values, limits));
        expect(individualsCapability(doubles, limits)).toEqual(
          individualsCapability(values, limits),
        );
        expect(lagOneAutocorrelation(doubles)).toBe(lagOneAutocorrelation(values));
        const rule = { tolerance: limits, acceptance: limits, standardUncertainty: 1 };
        expect(expectedVerdictErrors(doubles, rule)).toEqual(expectedVerdictErrors(values, rule));
        expect([...doubles]).toEqual(values);
      }),
    );
  });
});

describe('the two spreads', () => {
  it('of single values are those of the documented example', () => {
    const { within, overall } = individualsSpreads([49, 51, 50, 52]);
    expect(within.standardDeviation).toBeCloseTo(1.477, 4);
    expect(overall.standardDeviation).toBeCloseTo(Math.sqrt(5 / 3), 14);
  });

  it('of consecutive subgroups are those of the subgroups, the last one smaller', () => {
    const values = [1, 3, 11, 13, 7, 8, 5];
    const limits = { lower: 0, upper: 20 };
    for (const size of [2, 3, 4, 100]) {
      const parts = Array.from({ length: Math.ceil(values.length / size) }, (_, k) =>
        values.slice(k * size, (k + 1) * size),
      );
      const { within, overall } = subgroupsCapability(parts, limits);
      const spreads = consecutiveSpreads(Float64Array.from(values), size);
      expect(spreads.within.standardDeviation).toBe(within.standardDeviation);
      expect(spreads.within.degreesOfFreedom).toBe(within.degreesOfFreedom);
      expect(spreads.overall.standardDeviation).toBe(overall.standardDeviation);
    }
    expect(consecutiveSpreads(Float64Array.of(1, 3, 11, 13), 2).within.standardDeviation).toBe(
      Math.SQRT2,
    );
  });

  it('are refused for a size that is none, and for a single value', () => {
    for (const size of [1, 0, 2.5, Number.NaN]) {
      expect(() => consecutiveSpreads(Float64Array.of(1, 2, 3), size)).toThrow(/size/);
    }
    expect(() => consecutiveSpreads(Float64Array.of(1), 2)).toThrow(/two values/);
    expect(() => individualsSpreads([])).toThrow(RangeError);
  });
});

describe('the interval of a mean', () => {
  it('of the example is as documented, and as wide at any level as it should be', () => {
    const heat = { count: 195, mean: 9.26146, standardDeviation: 0.022789 };
    const { lower, upper } = meanInterval(heat);
    expect(lower).toBeCloseTo(9.258242, 5);
    expect(upper).toBeCloseTo(9.264679, 5);
    const narrow = meanInterval(heat, 0.5);
    expect(narrow.upper - narrow.lower).toBeLessThan((upper - lower) / 2);
  });

  it('of two values reaches 12.706 standard errors, as every table of t has it', () => {
    const { lower, upper } = meanInterval(moments([4, 6]));
    expect(upper - 5).toBeCloseTo(12.706, 3);
    expect(5 - lower).toBeCloseTo(12.706, 3);
    expect(meanInterval({ count: 3, mean: 2, standardDeviation: 0 })).toEqual({
      lower: 2,
      upper: 2,
    });
  });

  it('refuses a single value and levels that are none', () => {
    expect(() => meanInterval({ count: 1, mean: 2, standardDeviation: 0 })).toThrow(RangeError);
    for (const level of [0, 1, Number.NaN]) {
      expect(() => meanInterval({ count: 3, mean: 2, standardDeviation: 1 }, level)).toThrow();
    }
  });
});

describe('the histogram', () => {
  it('refuses ranges that cannot be divided, rather than to go on for ever', () => {
    expect(() => histogram(sortSample([-1e308, 1e308]))).toThrow(/too large/);
    expect(() => histogram(sortSample([0, 5e-324]))).toThrow(/too small/);
  });
});
