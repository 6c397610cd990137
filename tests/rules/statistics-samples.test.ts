import { describe, expect, it } from 'vitest';
import { andersonDarling } from '../../src/statistics/anderson-darling.js';
import { histogram, histogramClassesMax } from '../../src/statistics/histogram.js';
import { mean } from '../../src/statistics/mean.js';
import { lagOneAutocorrelation, moments } from '../../src/statistics/moments.js';
import { normalLogTails } from '../../src/statistics/normal-log-tails.js';
import { sortedQuantile, sortSample } from '../../src/statistics/sorted-sample.js';

const infinity = Number.POSITIVE_INFINITY;
const notSamples = [[], [Number.NaN, 1], [infinity, 1], [1, -infinity]];

describe('the mean', () => {
  it('keeps what a plain sum loses, and is exact for equal values', () => {
    expect(mean([1e16, 1, -1e16])).toBe(1 / 3);
    expect(mean([-1e16, 1, 1e16])).toBe(1 / 3);
    for (const n of [3, 7, 10, 49, 1000]) expect(mean(new Array(n).fill(0.1))).toBe(0.1);
  });

  it('refuses an empty sample, what is not finite and a sum that overflows', () => {
    for (const bad of notSamples) expect(() => mean(bad)).toThrow(RangeError);
    expect(() => mean([1e308, 1e308])).toThrow(/too large/);
  });
});

describe('the moments', () => {
  it('of the examples are as documented', () => {
    const sample = Object.freeze([10000001, 10000003, 10000002]);
    expect(moments(sample)).toEqual({ count: 3, mean: 10000002, standardDeviation: 1 });
    expect(lagOneAutocorrelation(sample)).toBe(-0.5);
    expect(lagOneAutocorrelation([1, 3, 2])).toBe(-0.5);
  });

  it('have a spread that the rounding of the mean has not touched', () => {
    // Doubles near 1e16 are 2 apart, and the mean 4/3 is not among them; deviations -4/3, 2/3, 2/3.
    expect(moments([1e16, 1e16 + 2, 1e16 + 2]).standardDeviation).toBeCloseTo(Math.sqrt(4 / 3), 14);
  });

  it('of equal values have no spread at all, and no autocorrelation', () => {
    for (const n of [2, 3, 10, 49]) {
      const equal = new Array<number>(n).fill(0.1);
      expect(moments(equal)).toEqual({ count: n, mean: 0.1, standardDeviation: 0 });
      expect(lagOneAutocorrelation(equal)).toBeNull();
    }
  });

  it('refuse a single value, what is not finite and what is too large to square', () => {
    expect(() => moments([1])).toThrow(/two values/);
    for (const bad of notSamples) expect(() => moments(bad)).toThrow(RangeError);
    expect(() => moments([1e200, -1e200])).toThrow(/1e150/);
  });
});

describe('the sorted sample', () => {
  it('leaves the sample as it is, and has the quantile of definition 7', () => {
    const sample = Object.freeze([7, 1, 3, 5]);
    expect([...sortSample(sample).ascending]).toEqual([1, 3, 5, 7]);
    expect(sortedQuantile(sortSample(sample), 0.5)).toBe(4);
    expect(sortedQuantile(sortSample(sample), 0)).toBe(1);
    expect(sortedQuantile(sortSample(sample), 1)).toBe(7);
    for (const bad of notSamples) expect(() => sortSample(bad)).toThrow(RangeError);
    for (const p of [-0.1, 1.1, Number.NaN]) {
      expect(() => sortedQuantile(sortSample(sample), p)).toThrow(RangeError);
    }
  });
});

describe('the logarithms of the normal tails', () => {
  it('keep their digits at 0, on both sides and where the tail itself vanishes', () => {
    expect(normalLogTails(0)).toEqual({ lower: Math.log(0.5), upper: Math.log(0.5) });
    // mpmath 1.3.0, log of ncdf: -10, -30.5 and -100.
    expect(normalLogTails(-10).lower / -53.23128515051247).toBeCloseTo(1, 13);
    expect(normalLogTails(-30.5).lower).toBeCloseTo(-469.4627373229121, 11);
    expect(normalLogTails(-100).lower / -5005.524208694205).toBeCloseTo(1, 13);
    expect(normalLogTails(9).lower / -1.128588405953841e-19).toBeCloseTo(1, 12);
    expect(normalLogTails(100)).toEqual({ lower: -0, upper: normalLogTails(-100).lower });
    expect(normalLogTails(infinity)).toEqual({ lower: -0, upper: -infinity });
    expect(() => normalLogTails(Number.NaN)).toThrow(RangeError);
  });

  it('go on smoothly where the series takes over', () => {
    const step = normalLogTails(30.000001).upper - normalLogTails(29.999999).upper;
    expect(step / 2e-6).toBeCloseTo(-30.0333, 3); // minus the density over the tail
  });
});

describe('the Anderson-Darling test', () => {
  it('of the example is as documented', () => {
    const test = andersonDarling(sortSample([1, 2, 3, 4, 5, 6, 7, 8]));
    expect(test?.statistic).toBeCloseTo(0.134, 4);
    expect(test?.modified).toBeCloseTo(0.1513, 4);
    expect(test?.pValue).toBeCloseTo(0.961, 3);
  });

  it('survives a value so far out that Φ vanishes, and reports the smallest p value', () => {
    const sample = [...Array.from({ length: 9_999 }, (_, k) => (k % 10) / 10), 1e9];
    const test = andersonDarling(sortSample(sample));
    expect(Number.isFinite(test?.statistic)).toBe(true);
    expect(test?.pValue).toBeGreaterThan(0);
    expect(test?.pValue).toBeLessThan(4e-24);
  });

  it('says nothing of equal values, and refuses fewer than eight', () => {
    expect(andersonDarling(sortSample(new Array(8).fill(3)))).toBeNull();
    expect(() => andersonDarling(sortSample([1, 2, 3, 4, 5, 6, 7]))).toThrow(/8 values/);
  });
});

describe('the histogram', () => {
  it('of the example is as documented', () => {
    expect(histogram(sortSample([1.2, 1.4, 1.6, 1.8, 2.1, 2.2, 2.3, 3.7]))).toEqual({
      edges: [1, 1.5, 2, 2.5, 3, 3.5, 4],
      counts: [2, 2, 3, 0, 0, 1],
    });
  });

  it('has ends that read as round numbers, also below 1 and below 0', () => {
    const tenths = histogram(sortSample([-0.3, -0.25, -0.1, 0, 0.05, 0.1, 0.3]));
    expect(tenths.edges).toEqual([-0.4, -0.2, 0, 0.2, 0.4]);
    expect(tenths.counts).toEqual([2, 1, 3, 1]);
    const fine = histogram(sortSample(Array.from({ length: 31 }, (_, k) => (k + 90) / 1000)));
    expect(fine.edges.every((edge) => String(edge).length <= 5)).toBe(true);
  });

  it('of equal values is one class without width', () => {
    expect(histogram(sortSample([2.5, 2.5]))).toEqual({ edges: [2.5, 2.5], counts: [2] });
  });

  it('with one value far out stays within histogramClassesMax', () => {
    const sample = [...Array.from({ length: 1_000 }, (_, k) => k / 1_000), 1e6];
    const { counts } = histogram(sortSample(sample));
    expect(counts.length).toBeLessThanOrEqual(histogramClassesMax);
    expect(counts.at(0)).toBe(1_000);
  });

  it('where half of the values are equal still has classes', () => {
    const sample = [...new Array<number>(90).fill(5), 0, 1, 2, 3, 4, 6, 7, 8, 9, 10];
    expect(histogram(sortSample(sample)).counts.length).toBeGreaterThan(10);
  });

  it('refuses values that doubles cannot tell apart', () => {
    expect(() => histogram(sortSample([1e16, 1e16 + 2]))).toThrow(/too large/);
  });
});
