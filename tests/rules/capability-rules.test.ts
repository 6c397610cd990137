import { describe, expect, it } from 'vitest';
import {
  byCell,
  cellFigures,
  differencesOf,
  meanFigures,
} from '../../src/capability/comparison-rules.js';
import { capabilityFigures, extremePlaces } from '../../src/capability/rules.js';
import { individualsCapability } from '../../src/statistics/capability.js';
import { normalQuantile } from '../../src/statistics/normal-quantile.js';
import { percentileCapability } from '../../src/statistics/percentile-capability.js';
import { sortSample } from '../../src/statistics/sorted-sample.js';

const limits = { lower: 40, upper: 60, guardBand: 2, nominal: null };
const none = { estimate: expect.any(Number), lower: expect.any(Number), upper: expect.any(Number) };

/** As many values as said, spread as evenly as a normal distribution with mean 50 would be. */
function evenlyNormal(count: number, spread = 3): Float64Array {
  return Float64Array.from(
    { length: count },
    (_, k) => 50 + spread * normalQuantile((((k * 7919) % count) + 0.5) / count),
  );
}

/** As many values with a long tail upwards. */
function skewed(count: number): Float64Array {
  return Float64Array.from({ length: count }, (_, k) => 45 - 2 * Math.log1p(-(k + 0.5) / count));
}

describe('the figures of capability', () => {
  it('are those of the statistics, against both pairs of limits apart', () => {
    const values = evenlyNormal(50);
    const figures = capabilityFigures(values, limits, null);
    const specification = individualsCapability(values, { lower: 40, upper: 60 });
    const acceptance = individualsCapability(values, { lower: 42, upper: 58 });
    expect(figures.specification.within.cpk).toEqual(specification.within.indices?.nearest);
    expect(figures.specification.overall.pp).toEqual(specification.overall.indices?.both);
    expect(figures.acceptance.within.cp).toEqual(acceptance.within.indices?.both);
    expect(figures.acceptance.overall.ppk).toEqual(acceptance.overall.indices?.nearest);
    expect(figures.acceptance.overall.expectedOutside).toEqual(acceptance.overall.expectedOutside);
    expect([figures.acceptance.lower, figures.acceptance.upper]).toEqual([42, 58]);
    const { pp } = figures.specification.overall;
    // The acceptance zone is 16 wide, the specification 20.
    expect((figures.acceptance.overall.pp?.estimate ?? 0) / (pp?.estimate ?? 1)).toBeCloseTo(0.8);
    expect(figures.count).toBe(50);
    expect(figures.reason).toBeNull();
  });

  it('say of no value, of one, and of equal ones why there is nothing to say', () => {
    const empty = capabilityFigures(new Float64Array(0), limits, null);
    expect(empty).toMatchObject({
      count: 0,
      reason: 'There is no value.',
      moments: { mean: null, standardDeviation: null, lowest: null, highest: null },
      method: { read: 'none', why: 'There is no value.' },
      histogram: { classes: null, reason: 'There is no value.' },
    });
    expect(empty.specification.overall).toMatchObject({ ppk: null, reason: 'There is no value.' });
    expect(empty.specification.observedOutside).toBeNull();
    const one = capabilityFigures(Float64Array.of(61), limits, null);
    expect(one.reason).toMatch(/one value only/);
    expect(one.moments).toMatchObject({ mean: 61, lowest: 61, highest: 61 });
    expect(one.moments.standardDeviation).toBeNull();
    expect(one.specification.observedOutside?.total).toEqual({ count: 1, fraction: 1 });
    expect(one.method.read).toBe('none');
    const equal = capabilityFigures(new Float64Array(9).fill(50), limits, 3);
    expect(equal.reason).toBeNull();
    expect(equal.moments.standardDeviation).toBe(0);
    expect(equal.specification.within).toMatchObject({
      cpk: null,
      expectedOutside: null,
      reason: 'The values have no spread.',
    });
    expect(equal.normality).toMatchObject({ normal: null, reason: 'The values have no spread.' });
    expect(equal.method).toEqual({ read: 'none', why: 'The values have no spread.' });
    expect(equal.histogram.classes).toEqual({ edges: [50, 50], counts: [9] });
  });

  it('against one limit have no index of both, and say so', () => {
    const values = evenlyNormal(40);
    const figures = capabilityFigures(values, { ...limits, lower: null, nominal: 50 }, null);
    expect(figures.specification.within).toMatchObject({ cp: null, cpl: null, cpu: none });
    expect(figures.specification.within.cpk).toEqual(figures.specification.within.cpu);
    expect(figures.specification.within.reason).toBe('There is one limit only.');
    expect(figures.specification.within.expectedOutside?.below).toBeNull();
    expect(figures.specification.observedOutside?.below).toBeNull();
    expect(figures.acceptance.upper).toBe(58);
  });

  it('without limits keep the moments, and say that there is no limit', () => {
    const free = { lower: null, upper: null, guardBand: 0, nominal: null };
    const figures = capabilityFigures(evenlyNormal(40), free, null);
    expect(figures.moments.mean).toBeCloseTo(50, 12);
    expect(figures.normality.normal).toBe(true);
    expect(figures.specification.overall.reason).toBe('There is no limit to be capable of.');
    expect(figures.method.read).toBe('none');
  });

  it('of values whose squares would not be finite are none', () => {
    for (const huge of [1e200, -1e308]) {
      const figures = capabilityFigures(Float64Array.of(1, 2, huge), limits, null);
      expect(figures.reason).toMatch(/1e\+150 or more/);
      expect(figures.moments.mean).toBeNull();
      expect(figures.histogram.classes).toBeNull();
      expect(figures.specification.observedOutside?.total.count).toBe(3);
    }
    const both = capabilityFigures(Float64Array.of(-1e308, 1e308), limits, null);
    expect(both.moments).toMatchObject({ lowest: -1e308, highest: 1e308 });
  });

  it('of values with next to no spread hold no figure that is not finite', () => {
    const tiny = capabilityFigures(Float64Array.of(0, 1e-160, 0, 3e-160), limits, null);
    expect(tiny.specification.overall.ppk).toBeNull();
    expect(tiny.specification.overall.reason).toBe('The values have no spread.');
    expect(JSON.stringify(tiny)).not.toMatch(/Infinity|NaN/);
    const near = capabilityFigures(Float64Array.of(1e16, 1e16 + 2, 1e16), limits, null);
    expect(near.histogram.reason).toMatch(/too little/);
  });
});

describe('which method is to be read', () => {
  const methodOf = (values: Float64Array) => capabilityFigures(values, limits, null).method;

  it('is the normal one for values that look normal, however many', () => {
    for (const count of [8, 100, 5000]) {
      expect(methodOf(evenlyNormal(count))).toMatchObject({ read: 'normal' });
    }
    expect(methodOf(evenlyNormal(100)).why).toMatch(/p = /);
  });

  it('is the normal one provisionally for fewer than eight', () => {
    const { read, why } = methodOf(evenlyNormal(7));
    expect(read).toBe('normal');
    expect(why).toMatch(/fewer than 8 values/);
  });

  it('is the percentile method for 741 values or more that are not normal', () => {
    const values = skewed(741);
    const figures = capabilityFigures(values, limits, null);
    expect(figures.method.read).toBe('percentile');
    const expected = percentileCapability(sortSample(values), limits);
    expect(figures.specification.percentile).toMatchObject({ ppk: expected.ppk, reason: null });
    expect(figures.points).toMatchObject({
      lower: expected.lowerPoint,
      upper: expected.upperPoint,
    });
  });

  it('is none for fewer that are not, and the percentile method then has no figures', () => {
    const figures = capabilityFigures(skewed(740), limits, null);
    expect(figures.method.read).toBe('none');
    expect(figures.method.why).toMatch(/observed fraction outside/);
    expect(figures.specification.percentile).toMatchObject({ pp: null, ppk: null });
    expect(figures.specification.percentile.reason).toMatch(/Fewer than 741/);
    expect(figures.points).toMatchObject({ lower: null, upper: null });
    expect(figures.points.median).not.toBeNull();
  });
});

describe('a process that stops at one end', () => {
  it('is read by the observed fraction where an outer point is the median', () => {
    const values = skewed(2000).map((value) => Math.max(value, 47));
    const figures = capabilityFigures(values, { ...limits, upper: null, nominal: 50 }, null);
    expect(figures.specification.percentile).toMatchObject({ ppl: null, ppk: null });
    expect(figures.specification.percentile.reason).toMatch(/coincides with the median/);
    expect(figures.method.read).toBe('none');
    expect(figures.method.why).toMatch(/no figures/);
  });
});

describe('the extreme values', () => {
  it('are the outermost ones, of equal ones the earliest', () => {
    const values = Float64Array.of(5, 1, 9, 1, 7, 9, 3, 2);
    expect(extremePlaces(values, 3)).toEqual({ lowest: [1, 3, 7], highest: [2, 5, 4] });
    expect(extremePlaces(values.subarray(0, 2), 5)).toEqual({ lowest: [1, 0], highest: [0, 1] });
    expect(extremePlaces(new Float64Array(0), 5)).toEqual({ lowest: [], highest: [] });
  });

  it('are those of a sort', () => {
    const values = Float64Array.from({ length: 500 }, (_, k) => Math.round(100 * Math.sin(k * k)));
    const sorted = [...values].sort((a, b) => a - b);
    const { lowest, highest } = extremePlaces(values, 5);
    expect(lowest.map((place) => values[place])).toEqual(sorted.slice(0, 5));
    expect(highest.map((place) => values[place])).toEqual(sorted.slice(-5).reverse());
  });
});

describe('the values of cells', () => {
  it('are parted in the order of time, cells in that of their names', () => {
    const parted = byCell({
      values: Float64Array.of(1, 2, 3, 4),
      endedAtMs: Float64Array.of(10, 20, 30, 40),
      cells: ['B', 'unused', 'A'],
      cellOf: Uint16Array.of(0, 2, 0, 2),
    });
    expect(parted.map((one) => [one.cell, [...one.values], [...one.endedAtMs]])).toEqual([
      ['A', [2, 4], [20, 40]],
      ['B', [1, 3], [10, 30]],
    ]);
  });

  it('have a mean by itself where there is one only, and none where squares are not finite', () => {
    expect(meanFigures(Float64Array.of(4))).toMatchObject({ mean: 4, lower: null });
    expect(meanFigures(Float64Array.of(4)).reason).toMatch(/one value only/);
    expect(meanFigures(Float64Array.of(4, 1e151))).toMatchObject({ mean: null, count: 2 });
    const figures = cellFigures(Float64Array.of(4, 4), { lower: 0, upper: 10 });
    expect(figures).toMatchObject({ mean: 4, lower: 4, upper: 4, ppk: null, lowest: 4 });
    expect(figures.reason).toBe('The values have no spread.');
    const free = cellFigures(Float64Array.of(4, 6), { lower: null, upper: null });
    expect(free).toMatchObject({ ppk: null, reason: 'There is no limit to be capable of.' });
  });
});

describe('differences between cells', () => {
  const cell = (name: string, ...values: number[]) => ({
    cell: name,
    ...meanFigures(Float64Array.from(values)),
  });

  it('are not compared where fewer than two have a spread', () => {
    const found = differencesOf([cell('A', 1, 2), cell('B', 3)]);
    expect(found.anova).toMatchObject({ f: null, between: null });
    expect(found.anova.reason).toMatch(/two cells/);
    expect(found.welch.reason).toMatch(/two cells/);
    expect(found.pairs).toEqual([]);
  });

  it('state a pair without spread with its difference and why there is no more', () => {
    const found = differencesOf([cell('A', 1, 1), cell('B', 3, 3), cell('C', 1, 2)]);
    expect(found.welch.reason).toMatch(/no spread/);
    expect(found.pairs).toHaveLength(3);
    expect(found.pairs[0]).toMatchObject({ first: 'A', second: 'B', difference: -2, lower: null });
    expect(found.pairs[0]?.reason).toMatch(/no spread/);
    expect(found.pairs[2]).toMatchObject({ first: 'B', second: 'C', reason: null });
    const hardly = differencesOf([cell('A', 0, 1e-160), cell('B', 0, 3e-160)]);
    expect(hardly).toMatchObject({ anova: { f: null }, welch: { f: null } });
    const flat = differencesOf([cell('A', 1, 1), cell('B', 3, 3)]);
    expect(flat.anova).toMatchObject({ f: null, rSquared: 1 });
    expect(flat.anova.reason).toMatch(/no spread/);
  });

  it('find the pair that differs and not the one that does not', () => {
    const { pairs, multiplicity } = differencesOf([
      cell('A', 1, 2, 3, 2, 1),
      cell('B', 2, 1, 3, 1, 2),
      cell('C', 9, 8, 9, 8, 9),
    ]);
    expect(pairs.map((one) => one.differs)).toEqual([false, true, true]);
    // An interval that does not hold 0 and a p value below 0.05 are one and the same.
    for (const { pValue, differs } of pairs) expect((pValue ?? 1) < 0.05).toBe(differs);
    expect(multiplicity).toMatch(/Bonferroni: each of the 3 pairs/);
  });
});
