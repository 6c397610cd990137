import { describe, expect, it } from 'vitest';
import { controlChartConstants } from '../../src/statistics/control-chart-constants.js';
import { cusumBaseline, judgeCusum, startCusum } from '../../src/statistics/cusum.js';
import {
  defectsPerUnit,
  defectsPerUnitOf,
  poissonYield,
} from '../../src/statistics/defects-per-unit.js';
import { ewmaBaseline, judgeEwma, startEwmaChart } from '../../src/statistics/ewma-chart.js';
import {
  individualsBaseline,
  judgeIndividual,
  startIndividualsChart,
} from '../../src/statistics/individuals-chart.js';
import { judgeSeries } from '../../src/statistics/judge-series.js';
import { pareto } from '../../src/statistics/pareto.js';
import {
  judgeProportion,
  proportionBaseline,
  proportionLimits,
  startProportionChart,
} from '../../src/statistics/proportion-chart.js';
import {
  judgeRate,
  rateBaseline,
  rateLimits,
  startRateChart,
} from '../../src/statistics/rate-chart.js';
import { rolledThroughputYield } from '../../src/statistics/rolled-throughput-yield.js';
import { judgeSubgroup, startXbarChart, xbarBaseline } from '../../src/statistics/xbar-chart.js';

const infinity = Number.POSITIVE_INFINITY;
const notFinite = [Number.NaN, infinity, -infinity];

describe('a baseline', () => {
  it('is frozen, deep down, and leaves its values as they were', () => {
    const values = Object.freeze([1, 2, 4]);
    for (const baseline of [
      individualsBaseline(values),
      xbarBaseline([values, values], 'standard-deviation'),
      ewmaBaseline({ centre: 0, sigma: 1 }),
    ]) {
      expect(Object.isFrozen(baseline)).toBe(true);
      expect(Object.isFrozen(baseline.limits)).toBe(true);
    }
    expect(Object.isFrozen(individualsBaseline(values).movingRange.limits)).toBe(true);
    expect(Object.isFrozen(xbarBaseline([values], 'range').spreadChart.limits)).toBe(true);
    expect(Object.isFrozen(cusumBaseline({ centre: 0, sigma: 1 }))).toBe(true);
    expect(Object.isFrozen(proportionBaseline([{ nonconforming: 1, size: 2 }]))).toBe(true);
    expect(Object.isFrozen(rateBaseline([{ defects: 1, units: 2 }]))).toBe(true);
  });

  it.each([
    ['one value', () => individualsBaseline([1]), /two values/],
    ['equal values', () => individualsBaseline([2, 2, 2]), /no variation/],
    ['a value not finite', () => individualsBaseline([1, Number.NaN]), /not finite/],
    ['no subgroup', () => xbarBaseline([], 'range'), /one subgroup/],
    ['a subgroup of one', () => xbarBaseline([[1]], 'range'), /size 1/],
    ['a subgroup of 26', () => xbarBaseline([Array(26).fill(1)], 'range'), /size 26/],
    [
      'unequal subgroups',
      () =>
        xbarBaseline(
          [
            [1, 2],
            [1, 2, 3],
          ],
          'range',
        ),
      /3 values/,
    ],
    [
      'subgroups without spread',
      () =>
        xbarBaseline(
          [
            [1, 1],
            [2, 2],
          ],
          'range',
        ),
      /no subgroup/,
    ],
    ['equal tenths', () => xbarBaseline([Array(7).fill(0.1)], 'standard-deviation'), /no subgroup/],
    ['subgroups with NaN', () => xbarBaseline([[1, Number.NaN]], 'range'), /not finite/],
    ['only conforming', () => proportionBaseline([{ nonconforming: 0, size: 5 }]), /alike/],
    ['only nonconforming', () => proportionBaseline([{ nonconforming: 5, size: 5 }]), /alike/],
    ['more than all', () => proportionBaseline([{ nonconforming: 6, size: 5 }]), /from 0 to 5/],
    ['no units', () => proportionBaseline([{ nonconforming: 0, size: 0 }]), /at least 1/],
    ['no sample', () => proportionBaseline([]), /alike/],
    ['no defect', () => rateBaseline([{ defects: 0, units: 5 }]), /no defect/],
    ['half a defect', () => rateBaseline([{ defects: 0.5, units: 5 }]), /whole/],
    ['units of 0', () => rateBaseline([{ defects: 1, units: 0 }]), /above zero/],
    ['sigma 0', () => ewmaBaseline({ centre: 1, sigma: 0 }), /sigma 0/],
    ['weight 0', () => ewmaBaseline({ centre: 1, sigma: 1 }, { weight: 0 }), /weight/],
    ['weight 1.1', () => ewmaBaseline({ centre: 1, sigma: 1 }, { weight: 1.1 }), /weight/],
    ['width 0', () => ewmaBaseline({ centre: 1, sigma: 1 }, { width: 0 }), /width/],
    ['centre NaN', () => ewmaBaseline({ centre: Number.NaN, sigma: 1 }), /centre/],
    ['target NaN', () => cusumBaseline({ centre: Number.NaN, sigma: 1 }), /target/],
    ['CUSUM sigma 0', () => cusumBaseline({ centre: 1, sigma: 0 }), /sigma/],
    ['k below 0', () => cusumBaseline({ centre: 1, sigma: 1 }, { allowance: -1 }), /allowance/],
    ['h of 0', () => cusumBaseline({ centre: 1, sigma: 1 }, { decisionInterval: 0 }), /decision/],
    ['constants of 1', () => controlChartConstants(1), /from 2 to 25/],
    ['constants of 2.5', () => controlChartConstants(2.5), /from 2 to 25/],
  ])('with %s is refused', (_, make, words) => {
    expect(make).toThrow(RangeError);
    expect(make).toThrow(words);
  });
});

describe('a chart', () => {
  it('for individuals gives the example of its docstring and a signal of the moving range', () => {
    const chart = startIndividualsChart(individualsBaseline([1, 2, 1, 2]));
    const first = judgeIndividual(chart, 9);
    expect(first.movingRange).toBeNull();
    expect(first.signals).toEqual([
      { chart: 'individual', rule: 'beyond-three-sigma', direction: 'above', points: [0] },
    ]);
    // Mean range 1, so a step above 3.267 signals; this one is back on the centre.
    const second = judgeIndividual(first.state, 1.5);
    expect(second.movingRange).toBe(7.5);
    expect(second.signals).toEqual([
      { chart: 'moving-range', rule: 'beyond-three-sigma', direction: 'above', points: [1] },
    ]);
    expect(judgeIndividual(startIndividualsChart(chart.baseline, [], 9), 1.5).signals).toHaveLength(
      1,
    );
  });

  it('for subgroups has limits of A2 or A3 and D3, D4 or B3, B4', () => {
    const groups = [
      [1, 3],
      [2, 4],
    ];
    const byRange = xbarBaseline(groups, 'range');
    const { A2, A3, D4, B4, d2, c4 } = controlChartConstants(2);
    expect(byRange.centre).toBe(2.5);
    expect(byRange.limits.upper).toBeCloseTo(2.5 + 2 * A2, 14);
    expect(byRange.sigma).toBeCloseTo(2 / d2, 14);
    expect(byRange.spreadChart).toEqual({ centre: 2, limits: { lower: 0, upper: 2 * D4 } });
    const byDeviation = xbarBaseline(groups, 'standard-deviation');
    expect(byDeviation.limits.lower).toBeCloseTo(2.5 - Math.SQRT2 * A3, 14);
    expect(byDeviation.sigma).toBeCloseTo(Math.SQRT2 / c4, 14);
    expect(byDeviation.spreadChart.limits.upper).toBeCloseTo(Math.SQRT2 * B4, 14);
  });

  it('for subgroups tells a mean from a spread, high or low', () => {
    const group = [1, 2, 3, 4, 5, 6, 7];
    const chart = startXbarChart(xbarBaseline([group, group], 'range'));
    expect(judgeSubgroup(chart, [9, 10, 11, 12, 13, 14, 15]).signals).toEqual([
      { chart: 'mean', rule: 'beyond-three-sigma', direction: 'above', points: [0] },
    ]);
    // D3(7) = 0.0757 and D4(7) = 1.9243 times the mean range 6: from 0.4546 to 11.5455.
    const flat = [4, 4, 4, 4, 4, 4, 4.45];
    expect(judgeSubgroup(chart, flat).signals).toMatchObject([
      { chart: 'range', direction: 'below' },
    ]);
    expect(judgeSubgroup(chart, flat.with(6, 4.46)).signals).toEqual([]);
    const wide = [4, 4, 4, 4, 4, 4 - 5.8, 4 + 5.8];
    expect(judgeSubgroup(chart, wide).signals).toMatchObject([
      { chart: 'range', direction: 'above' },
    ]);
    expect(() => judgeSubgroup(chart, [1, 2])).toThrow(/2 values/);
  });

  it('for proportions has limits by the size of each sample, inside 0 and 1', () => {
    const baseline = proportionBaseline([
      { nonconforming: 3, size: 40 },
      { nonconforming: 7, size: 60 },
    ]);
    expect(baseline).toEqual({ centre: 0.1, units: 100, count: 2 });
    const hundred = proportionLimits(baseline, 100);
    expect(hundred.sigma).toBeCloseTo(0.03, 15);
    expect(hundred.lower).toBeCloseTo(0.01, 15);
    expect(hundred.upper).toBeCloseTo(0.19, 15);
    expect(proportionLimits(baseline, 4).lower).toBe(0);
    expect(proportionLimits(baseline, 4).upper).toBeCloseTo(0.55, 15);
    expect(proportionLimits({ centre: 0.9, units: 100, count: 2 }, 4).upper).toBe(1);
    // The same share of 0.2 is out among 100 units and in among 20.
    const chart = startProportionChart(baseline);
    expect(judgeProportion(chart, { nonconforming: 20, size: 100 }).signals).toHaveLength(1);
    expect(judgeProportion(chart, { nonconforming: 4, size: 20 }).signals).toEqual([]);
    expect(judgeProportion(chart, { nonconforming: 4, size: 20 }).proportion).toBe(0.2);
  });

  it('for rates has limits by the units of each sample', () => {
    const baseline = rateBaseline([
      { defects: 5, units: 40 },
      { defects: 7, units: 60 },
    ]);
    expect(baseline).toEqual({ centre: 0.12, units: 100, count: 2 });
    const limits = rateLimits({ centre: 0.16, units: 100, count: 2 }, 4);
    expect(limits.sigma).toBeCloseTo(0.2, 15);
    expect(limits).toMatchObject({ lower: 0 });
    expect(limits.upper).toBeCloseTo(0.76, 15);
    const chart = startRateChart({ centre: 0.16, units: 100, count: 2 });
    expect(judgeRate(chart, { defects: 4, units: 4 }).signals[0]?.direction).toBe('above');
    expect(judgeRate(chart, { defects: 3, units: 4 })).toMatchObject({ rate: 0.75, signals: [] });
    expect(judgeRate(chart, { defects: 0, units: 4000 }).signals[0]?.direction).toBe('below');
    expect(() => judgeRate(chart, { defects: -1, units: 4 })).toThrow(RangeError);
  });

  it('of moving averages gives the example of its docstring and signals both ways', () => {
    const chart = startEwmaChart(ewmaBaseline({ centre: 50, sigma: 2.0539 }, { weight: 0.3 }));
    expect(judgeEwma(chart, 52).average).toBeCloseTo(50.6, 12);
    // By exact variance the first limit is 3 sigma of the value; the asymptote is wider.
    expect(judgeEwma(chart, 56.2).signals).toEqual([
      { rule: 'beyond-limits', direction: 'above', points: [0] },
    ]);
    expect(judgeEwma(chart, 43.8).signals[0]?.direction).toBe('below');
    expect(judgeEwma(chart, 56.1).signals).toEqual([]);
    const asymptotic = ewmaBaseline(chart.baseline, { weight: 0.3, variance: 'asymptotic' });
    expect(judgeEwma(startEwmaChart(asymptotic), 56.2).signals).toEqual([]);
    expect(ewmaBaseline(chart.baseline)).toMatchObject({
      weight: 0.2,
      width: 3,
      variance: 'exact',
    });
  });

  it('of cumulated sums gives the example of its docstring, and signals beyond h, not on it', () => {
    const start = startCusum(cusumBaseline({ centre: 10, sigma: 2 }));
    expect(start.baseline).toMatchObject({ allowance: 1, decisionInterval: 10 });
    expect(judgeCusum(startCusum(cusumBaseline({ centre: 10, sigma: 1 })), 12).high).toBe(1.5);
    expect(judgeCusum(start, 21)).toMatchObject({ high: 10, low: 0, signals: [] });
    expect(judgeCusum(start, -1.5).signals).toEqual([
      { rule: 'beyond-decision-interval', direction: 'below', points: [0], since: 0 },
    ]);
    // Back to 0 ends the run: the next one begins anew.
    const { state } = judgeSeries(start, [12, 5, 14], judgeCusum);
    expect(state).toMatchObject({ high: 3, highSince: 2, low: 0, lowSince: null, count: 3 });
  });

  it('refuses a value that is not finite', () => {
    const baseline = { centre: 0, sigma: 1 };
    for (const value of notFinite) {
      const chart = startIndividualsChart(individualsBaseline([1, 2]));
      expect(() => judgeIndividual(chart, value)).toThrow(RangeError);
      expect(() => judgeEwma(startEwmaChart(ewmaBaseline(baseline)), value)).toThrow(RangeError);
      expect(() => judgeCusum(startCusum(cusumBaseline(baseline)), value)).toThrow(RangeError);
    }
  });
});

describe('yield figures', () => {
  it('refuse what is no yield, no count and no unit', () => {
    expect(() => rolledThroughputYield([])).toThrow(/no step/);
    expect(() => rolledThroughputYield([1.01])).toThrow(RangeError);
    expect(() => rolledThroughputYield([Number.NaN])).toThrow(RangeError);
    expect(() => defectsPerUnit(1, 0)).toThrow(RangeError);
    expect(() => defectsPerUnit(-1, 5)).toThrow(RangeError);
    expect(() => poissonYield(-0.1)).toThrow(RangeError);
    expect(() => defectsPerUnitOf(0)).toThrow(RangeError);
    expect(() => defectsPerUnitOf(1.1)).toThrow(RangeError);
  });

  it('leave nothing of a Pareto table without amounts, and refuse a doubled or negative one', () => {
    expect(pareto([])).toEqual([]);
    expect(pareto([['leak', 0]])).toEqual([]);
    expect(() =>
      pareto([
        ['leak', 1],
        ['leak', 2],
      ]),
    ).toThrow(/twice/);
    expect(() => pareto([['leak', -1]])).toThrow(RangeError);
    expect(() => pareto([['leak', Number.NaN]])).toThrow(RangeError);
  });
});
