import { describe, expect, it } from 'vitest';
import {
  individualsCapability,
  movingRangeDegreesOfFreedom,
  subgroupsCapability,
} from '../../src/statistics/capability.js';
import { capabilityIndices } from '../../src/statistics/capability-indices.js';
import { expectedOutside, observedOutside } from '../../src/statistics/fraction-outside.js';
import { moments } from '../../src/statistics/moments.js';
import {
  percentileCapability,
  percentileCountMin,
} from '../../src/statistics/percentile-capability.js';
import { sortedQuantile, sortSample } from '../../src/statistics/sorted-sample.js';

const infinity = Number.POSITIVE_INFINITY;
const notConfidences = [0, 1, -0.5, Number.NaN];
const notSamples = [[], [Number.NaN, 1], [infinity, 1], [1, -infinity]];
const badLimits = [
  { lower: null, upper: null },
  { lower: 2, upper: 1 },
  { lower: 1, upper: 1 },
  { lower: Number.NaN, upper: 1 },
  { lower: null, upper: infinity },
];

describe('the fractions outside', () => {
  it('of the examples are as documented', () => {
    expect(observedOutside([1, 2, 3, 4], { lower: 2, upper: 3 })).toEqual({
      below: 0.25,
      above: 0.25,
      total: 0.5,
    });
    const outside = expectedOutside({ mean: 16, standardDeviation: 2 }, { lower: 8, upper: 20 });
    expect(outside?.below).toBeCloseTo(0.0000317, 7);
    expect(outside?.above).toBeCloseTo(0.02275, 5);
  });

  it('beyond a limit that is not there are 0', () => {
    expect(observedOutside([1, 5], { lower: null, upper: 3 })).toMatchObject({
      below: 0,
      above: 0.5,
    });
    expect(observedOutside([1, 5], { lower: 3, upper: null })).toMatchObject({
      below: 0.5,
      above: 0,
    });
    const spread = { mean: 0, standardDeviation: 1 };
    expect(expectedOutside(spread, { lower: null, upper: 0 })).toEqual({
      below: 0,
      above: 0.5,
      total: 0.5,
    });
    expect(expectedOutside(spread, { lower: 0, upper: null })).toEqual({
      below: 0.5,
      above: 0,
      total: 0.5,
    });
  });

  it('keep their digits far out above as below', () => {
    const spread = { mean: 0, standardDeviation: 1 };
    const outside = expectedOutside(spread, { lower: -8, upper: 8 });
    expect(outside?.above).toBe(outside?.below);
    expect(outside?.above).toBeGreaterThan(6e-16);
  });

  it('are refused without usable limits or values', () => {
    for (const limits of badLimits) {
      expect(() => observedOutside([1, 2], limits)).toThrow(RangeError);
      expect(() => expectedOutside({ mean: 0, standardDeviation: 1 }, limits)).toThrow(RangeError);
    }
    for (const bad of notSamples) {
      expect(() => observedOutside(bad, { lower: 0, upper: 1 })).toThrow(RangeError);
    }
  });
});

describe('the capability indices', () => {
  const spread = { count: 50, mean: 16, standardDeviation: 2, degreesOfFreedom: 49 };

  it('against one limit have no Cp, and Cpk is the index of that limit', () => {
    const lower = capabilityIndices(spread, { lower: 10, upper: null });
    expect([lower?.both, lower?.upper]).toEqual([null, null]);
    expect(lower?.nearest).toEqual(lower?.lower);
    expect(lower?.nearest.estimate).toBe(1);
    const upper = capabilityIndices(spread, { lower: null, upper: 22 });
    expect([upper?.both, upper?.lower]).toEqual([null, null]);
    expect(upper?.nearest).toEqual(upper?.upper);
  });

  it('of a mean beyond a limit are negative', () => {
    const indices = capabilityIndices(spread, { lower: 17, upper: 20 });
    expect(indices?.nearest.estimate).toBeCloseTo(-1 / 6, 14);
  });

  it('without spread are not there', () => {
    expect(
      capabilityIndices({ ...spread, standardDeviation: 0 }, { lower: 8, upper: 20 }),
    ).toBeNull();
    expect(expectedOutside({ mean: 16, standardDeviation: 0 }, { lower: 8, upper: 20 })).toBeNull();
  });

  it('refuse what is no spread, no limit and no confidence', () => {
    const limits = { lower: 8, upper: 20 };
    for (const wrong of [
      { count: 1 },
      { count: 2.5 },
      { mean: Number.NaN },
      { standardDeviation: -1 },
      { standardDeviation: infinity },
      { degreesOfFreedom: 0 },
      { degreesOfFreedom: Number.NaN },
    ]) {
      expect(() => capabilityIndices({ ...spread, ...wrong }, limits)).toThrow(RangeError);
    }
    for (const bad of badLimits) expect(() => capabilityIndices(spread, bad)).toThrow(RangeError);
    for (const c of notConfidences) {
      expect(() => capabilityIndices(spread, limits, c)).toThrow(RangeError);
    }
  });
});

describe('the capability of single values', () => {
  const limits = { lower: 44, upper: 57 };

  it('takes the spread within from neighbours and the overall one from all', () => {
    const {
      within,
      overall,
      observedOutside: seen,
    } = individualsCapability([49, 51, 50, 52], limits);
    expect(within.standardDeviation).toBeCloseTo(((5 / 3) * Math.sqrt(Math.PI)) / 2, 14);
    expect(within.degreesOfFreedom).toBeCloseTo(2.0237, 4);
    expect(overall.standardDeviation).toBeCloseTo(Math.sqrt(5 / 3), 14);
    expect(overall.degreesOfFreedom).toBe(3);
    expect(seen).toEqual({ below: 0, above: 0, total: 0 });
  });

  it('of a drift is better within than overall: what the process could do without it', () => {
    const drift = Array.from({ length: 60 }, (_, k) => 45 + k / 6 + (k % 2));
    const { within, overall } = individualsCapability(drift, limits);
    expect(within.indices?.nearest.estimate).toBeGreaterThan(
      2 * (overall.indices?.nearest.estimate ?? 0),
    );
  });

  it('of equal values has no index, and still says what is outside', () => {
    const same = individualsCapability([60, 60, 60], limits);
    expect([same.within.indices, same.overall.indices]).toEqual([null, null]);
    expect([same.within.expectedOutside, same.overall.expectedOutside]).toEqual([null, null]);
    expect(same.observedOutside.total).toBe(1);
  });

  it('refuses a single value, and counts that are none', () => {
    expect(() => individualsCapability([50], limits)).toThrow(/two values/);
    expect(movingRangeDegreesOfFreedom(100)).toBeCloseTo(60.1, 1);
    for (const n of [1, 2.5, Number.NaN]) {
      expect(() => movingRangeDegreesOfFreedom(n)).toThrow(RangeError);
    }
  });
});

describe('the capability of subgroups', () => {
  const limits = { lower: 0, upper: 20 };

  it('pools the spread within them', () => {
    const { within, overall } = subgroupsCapability(
      [
        [1, 3],
        [11, 13],
      ],
      limits,
    );
    expect(within.standardDeviation).toBeCloseTo(Math.SQRT2, 14);
    expect([within.degreesOfFreedom, overall.degreesOfFreedom]).toEqual([2, 3]);
    expect(overall.standardDeviation).toBeCloseTo(moments([1, 3, 11, 13]).standardDeviation, 14);
  });

  it('weighs them by their degrees of freedom, so that a single value adds to the mean only', () => {
    const { within } = subgroupsCapability([[1, 3], [10, 10, 10], [4]], limits);
    expect(within.standardDeviation).toBeCloseTo(Math.sqrt(2 / 3), 14);
    expect([within.count, within.degreesOfFreedom]).toEqual([6, 3]);
  });

  it('refuses empty ones, and such that have no spread within', () => {
    expect(() => subgroupsCapability([[1, 2], []], limits)).toThrow(/empty/);
    expect(() => subgroupsCapability([[1], [2]], limits)).toThrow(/two values/);
    expect(() => subgroupsCapability([], limits)).toThrow(RangeError);
  });
});

describe('the percentile method', () => {
  it('of the example is as documented', () => {
    const indices = percentileCapability(sortSample([0, 1, 2, 3, 4]), { lower: -2, upper: 8 });
    expect(indices.pp).toBeCloseTo(2.507, 3);
    expect(indices.ppl).toBeCloseTo(4 / 1.9946, 12);
    expect(indices.ppu).toBeCloseTo(6 / 1.9946, 12);
    expect(indices.ppk).toBe(indices.ppl);
    expect([indices.quantileType, indices.resolved, indices.count]).toEqual([7, false, 5]);
  });

  it('of a skewed process finds the long side less capable than the short one', () => {
    const skewed = sortSample(
      Array.from({ length: 2_000 }, (_, k) => -Math.log1p(-(k + 0.5) / 2_000)),
    );
    const median = sortedQuantile(skewed, 0.5);
    const { ppl, ppu } = percentileCapability(skewed, { lower: median - 3, upper: median + 3 });
    expect(ppl).toBeGreaterThan(4 * (ppu ?? infinity));
  });

  it('against one limit has only that side', () => {
    const sample = sortSample([0, 1, 2, 3, 4]);
    const lower = percentileCapability(sample, { lower: -2, upper: null });
    expect([lower.pp, lower.ppu, lower.ppk]).toEqual([null, null, lower.ppl]);
    const upper = percentileCapability(sample, { lower: null, upper: 8 });
    expect([upper.pp, upper.ppl, upper.ppk]).toEqual([null, null, upper.ppu]);
  });

  it('resolves its outer points from percentileCountMin values on', () => {
    const of = (n: number) => sortSample(Array.from({ length: n }, (_, k) => k));
    const limits = { lower: -1, upper: 1_000 };
    expect(percentileCapability(of(percentileCountMin - 1), limits).resolved).toBe(false);
    const enough = percentileCapability(of(percentileCountMin), limits);
    expect(enough.resolved).toBe(true);
    // With 741 values the point is at 740 · 0.00135 = 0.999, next to the second one.
    expect(enough.lowerPoint).toBeCloseTo(0.999, 12);
  });

  it('of equal values has no index, and refuses a single one', () => {
    const same = percentileCapability(sortSample([5, 5, 5]), { lower: 4, upper: 6 });
    expect([same.pp, same.ppl, same.ppu, same.ppk]).toEqual([null, null, null, null]);
    expect(() => percentileCapability(sortSample([5]), { lower: 4, upper: 6 })).toThrow(RangeError);
    for (const bad of badLimits) {
      expect(() => percentileCapability(sortSample([1, 2]), bad)).toThrow(RangeError);
    }
  });
});
