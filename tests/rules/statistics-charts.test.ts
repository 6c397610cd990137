import { describe, expect, it } from 'vitest';
import {
  familyDecision,
  finalDeterioratedResult,
  judgeLotTest,
  startLot,
} from '../../src/emissions/cumsum-lot-rule.js';
import { drawEngines } from '../../src/emissions/draw-engines.js';
import { meanMinus, requiredSampleSize, testSample } from '../../src/emissions/sample-size.js';
import { t95For } from '../../src/emissions/t95-table.js';
import { weightedCycleResult } from '../../src/emissions/weighted-cycle.js';
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
import {
  judgeRunRules,
  nelsonRules,
  type RunRule,
  runRules,
  startRunRules,
  westernElectricRules,
} from '../../src/statistics/run-rules.js';
import { judgeSubgroup, startXbarChart, xbarBaseline } from '../../src/statistics/xbar-chart.js';

const infinity = Number.POSITIVE_INFINITY;
const notFinite = [Number.NaN, infinity, -infinity];

/** At which points a rule is met, and with which of them. */
function fired(rule: RunRule, series: readonly number[]): (readonly number[])[] {
  return judgeSeries(startRunRules([rule]), series, judgeRunRules).points.flatMap((point) =>
    point.signals.map((signal) => signal.points),
  );
}

describe('a run rule', () => {
  // Each series is one point short of the pattern first, then whole.
  it.each([
    ['beyond-three-sigma', [3], 3.001, [1]],
    ['two-of-three-beyond-two-sigma', [2.1, 0], 2.1, [0, 2]],
    ['four-of-five-beyond-one-sigma', [-1.1, -1.1, 0.5, -1.1], -1.1, [0, 1, 3, 4]],
    ['eight-on-one-side', [1, 2, 1, 2, 1, 2, 1], 0.1, [0, 1, 2, 3, 4, 5, 6, 7]],
    ['nine-on-one-side', [1, 2, 1, 2, 1, 2, 1, 2], 0.1, [0, 1, 2, 3, 4, 5, 6, 7, 8]],
    ['six-rising-or-falling', [0.5, 0.4, 0.3, 0.2, 0.1], 0, [0, 1, 2, 3, 4, 5]],
    [
      'fourteen-alternating',
      [0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0],
      1,
      Array.from({ length: 14 }, (_, i) => i),
    ],
    [
      'fifteen-within-one-sigma',
      [0, 1, -1, 0, 1, -1, 0, 1, -1, 0, 1, -1, 0, 1],
      -1,
      Array.from({ length: 15 }, (_, i) => i),
    ],
    [
      'eight-outside-one-sigma',
      [1.1, -1.1, 1.1, -1.1, 1.1, -1.1, 1.1],
      -1.1,
      [0, 1, 2, 3, 4, 5, 6, 7],
    ],
  ] as const)(
    '%s is met by the point that completes it, not before',
    (rule, before, last, points) => {
      expect(fired(rule, before)).toEqual([]);
      expect(fired(rule, [...before, last])).toEqual([points]);
    },
  );

  it.each([
    ['beyond-three-sigma', [3, -3]],
    ['two-of-three-beyond-two-sigma', [2.1, -2.1, 0, 0, 2.1, 2]],
    ['four-of-five-beyond-one-sigma', [1.1, 1.1, 1, 1.1, 1, -1.1]],
    ['eight-on-one-side', [1, 1, 1, 1, 1, 1, 1, 0, 1]],
    ['nine-on-one-side', [1, 1, 1, 1, 1, 1, 1, 1, -1, 1]],
    ['six-rising-or-falling', [1, 2, 3, 4, 4, 5]],
    ['fourteen-alternating', [0, 1, 0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0, 1]],
    ['fifteen-within-one-sigma', [0, 0, 0, 0, 0, 0, 0, 1.01, 0, 0, 0, 0, 0, 0, 0, 0]],
    ['eight-outside-one-sigma', [2, 2, 2, 2, 1, 2, 2, 2, 2]],
  ] as const)('%s is not met by a series that just misses it', (rule, series) => {
    expect(fired(rule, series)).toEqual([]);
  });

  it('of "2 of 3" and "4 of 5" is not met again by a point back inside', () => {
    expect(fired('two-of-three-beyond-two-sigma', [2.5, 2.5, 0])).toEqual([[0, 1]]);
    expect(fired('four-of-five-beyond-one-sigma', [2, 2, 2, 2, 0])).toEqual([[0, 1, 2, 3]]);
  });

  it('is met again by each point that prolongs the pattern, with the newest points', () => {
    expect(fired('eight-on-one-side', Array(10).fill(-1)).map((points) => points.at(0))).toEqual([
      0, 1, 2,
    ]);
  });

  it('tells which way', () => {
    const way = (rule: RunRule, series: readonly number[]) =>
      judgeSeries(startRunRules([rule]), series, judgeRunRules).points.at(-1)?.signals[0]
        ?.direction;
    expect(way('beyond-three-sigma', [4])).toBe('above');
    expect(way('eight-on-one-side', Array(8).fill(-1))).toBe('below');
    expect(way('six-rising-or-falling', [1, 2, 3, 4, 5, 6])).toBe('rising');
    expect(way('six-rising-or-falling', [6, 5, 4, 3, 2, 1])).toBe('falling');
    expect(way('eight-outside-one-sigma', Array(8).fill(2))).toBeNull();
  });

  it('keeps no more points than the longest pattern chosen looks at', () => {
    const kept = (rules: readonly RunRule[]) =>
      judgeSeries(startRunRules(rules), Array(40).fill(0.5), judgeRunRules).state;
    expect(kept(['two-of-three-beyond-two-sigma']).recent).toHaveLength(3);
    expect(kept(nelsonRules).recent).toHaveLength(15);
    expect(kept([])).toMatchObject({ recent: [], count: 40 });
  });

  it('is refused when unknown or named twice, and so is a point not finite', () => {
    expect(() => startRunRules(['toString' as RunRule])).toThrow(/no rule toString/);
    expect(() => startRunRules(['beyond-three-sigma', 'beyond-three-sigma'])).toThrow(/twice/);
    for (const z of notFinite) {
      expect(() => judgeRunRules(startRunRules([]), z)).toThrow(RangeError);
    }
  });

  it('belongs to a publication: the two sets name every rule', () => {
    expect([...new Set([...westernElectricRules, ...nelsonRules])].toSorted()).toEqual(
      runRules.toSorted(),
    );
  });
});

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
    expect(proportionLimits(baseline, 4)).toMatchObject({ lower: 0, upper: 0.1 + 3 * 0.15 });
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

describe('the lot rule', () => {
  it('passes a family that has run the tests asked for, with its mean at or below the standard', () => {
    // sigma 1, mean 10 below: N = (2.92 · 1 / 10)² + 1 = 1.085, so three tests are enough.
    const { points } = judgeSeries(startLot(20), [9, 10, 11], judgeLotTest);
    expect(points.map((point) => point.decision)).toEqual(['continue', 'pass', 'pass']);
    expect(points[2]).toMatchObject({ mean: 10, sigma: 1, required: { t95: 2.92, tests: 2 } });
  });

  it('does not pass a family whose mean is above the standard, however many tests it has run', () => {
    const { points } = judgeSeries(startLot(20), [21, 21.1, 21.2], judgeLotTest);
    expect(points.at(-1)?.required?.tests).toBeLessThanOrEqual(3);
    expect(points.at(-1)?.decision).toBe('continue');
  });

  it('goes on where the mean is the standard, to the last decimal', () => {
    // In doubles 20.1 + 20.2 - 2 · 20.15 is not 0.
    expect(meanMinus([20.1, 20.2], 20.15)).toBe(0);
    expect(requiredSampleSize([20.1, 20.2], 20.15)).toMatchObject({ formula: null, tests: null });
    const { points } = judgeSeries(startLot(20.15), [20.1, 20.2], judgeLotTest);
    expect(points[1]?.decision).toBe('continue');
  });

  it('stays with a fail, even when later engines are clean', () => {
    const dirty = [18.1, 19.4, 20.6, 22.9, 24.3, 26.8, 29.5, 30.1];
    const { points } = judgeSeries(startLot(20), [...dirty, 1, 1, 1], judgeLotTest);
    expect(points.map((point) => point.decision).slice(6)).toEqual([
      'continue',
      'fail',
      'fail',
      'fail',
      'fail',
    ]);
  });

  it('does not fail by two tests beyond the limit with one inside between', () => {
    const state = { ...startLot(20), results: [20, 21, 20], cumSum: 100 };
    const once = judgeLotTest({ ...state, exceeded: false }, 20);
    expect(once).toMatchObject({ exceeded: true, decision: 'continue' });
    const inside = judgeLotTest({ ...once.state, cumSum: 0 }, 20);
    expect(inside.exceeded).toBe(false);
    const again = judgeLotTest({ ...inside.state, cumSum: 100 }, 20);
    expect(again).toMatchObject({ exceeded: true, decision: 'continue' });
    expect(judgeLotTest(again.state, 20).decision).toBe('fail');
  });

  it('fails a family with one pollutant and passes it with all', () => {
    expect(familyDecision(['pass', 'continue', 'fail'])).toBe('fail');
    expect(familyDecision(['pass', 'continue'])).toBe('continue');
    expect(familyDecision(['pass', 'pass'])).toBe('pass');
    expect(() => familyDecision([])).toThrow(/no pollutant/);
  });

  it('takes a table in place of the printed one, and refuses what it has no row for', () => {
    const table = { source: 'a test', rows: [{ tests: 2, t95: 5 }] };
    expect(startLot(20, table).table).toBe(table);
    expect(t95For(7, table)).toBe(5);
    for (const tests of [0, 1, 2.5, 31.5, infinity]) {
      expect(() => t95For(tests)).toThrow(RangeError);
    }
  });

  it('refuses a standard, a result or a factor that is no number', () => {
    for (const wrong of [0, -1, ...notFinite]) expect(() => startLot(wrong)).toThrow(RangeError);
    for (const wrong of notFinite) {
      expect(() => judgeLotTest(startLot(20), wrong)).toThrow(RangeError);
      const factor = { kind: 'multiplicative', factor: wrong } as const;
      expect(() => finalDeterioratedResult([1], factor, 1)).toThrow(RangeError);
    }
    expect(() => finalDeterioratedResult([], { kind: 'additive', amount: 0 }, 1)).toThrow(
      /none|no /,
    );
    expect(() => finalDeterioratedResult([1], { kind: 'additive', amount: 0 }, 1.5)).toThrow(
      RangeError,
    );
    expect(() => testSample([])).toThrow(RangeError);
    expect(() => requiredSampleSize([1], 20)).toThrow(RangeError);
  });

  it('rounds a half to the even digit, in decimals', () => {
    const nothing = { kind: 'additive', amount: 0 } as const;
    // In doubles 1.005 lies below the half and 2.675 too.
    expect(finalDeterioratedResult([1.005], nothing, 1)).toBe(1);
    expect(finalDeterioratedResult([1.015], nothing, 1)).toBe(1.02);
    expect(finalDeterioratedResult([2.675], nothing, 1)).toBe(2.68);
    expect(finalDeterioratedResult([16.24], nothing, 0)).toBe(16.2);
  });
});

describe('the weighted cycle', () => {
  const modes = [1, 2, 3, 4, 5].map((mode) => ({ mode, gramsPerHour: 10, kilowatts: 5 - mode }));

  it('of one rate in every mode is that rate', () => {
    expect(weightedCycleResult(modes).gramsPerHour).toBeCloseTo(10, 14);
  });

  it.each([
    ['a mode missing', modes.slice(1), /each of its 5 modes once/],
    ['a mode twice', [...modes.slice(1), modes[1]], /each of its 5 modes once/],
    ['a mode of another cycle', modes.with(0, { ...modes[0], mode: 6 } as never), /mode 1/],
    ['a negative rate', modes.with(0, { ...modes[0], gramsPerHour: -1 } as never), /figure -1/],
    [
      'a power not finite',
      modes.with(4, { ...modes[4], kilowatts: infinity } as never),
      /Infinity/,
    ],
    ['no power', modes.map((mode) => ({ ...mode, kilowatts: 0 })), /any power/],
  ])('with %s is refused', (_, measurements, words) => {
    expect(() => weightedCycleResult(measurements as typeof modes)).toThrow(words);
  });
});

describe('a draw of engines', () => {
  const serials = Array.from({ length: 10 }, (_, i) => `S-${i}`);

  it('is refused when it asks for too many, a serial comes twice or the seed is none', () => {
    expect(() => drawEngines(serials, 11, 'seed')).toThrow(/from 0 to 10/);
    expect(() => drawEngines(serials, -1, 'seed')).toThrow(RangeError);
    expect(() => drawEngines(serials, 1.5, 'seed')).toThrow(RangeError);
    expect(() => drawEngines(['S-1', 'S-1'], 1, 'seed')).toThrow(/twice/);
    expect(() => drawEngines(serials, 1, '')).toThrow(/seed/);
    expect(() => drawEngines(serials, 1, 'a\nb')).toThrow(/seed/);
    expect(drawEngines(serials, 0, 'seed')).toEqual([]);
  });

  it('over many seeds takes each engine about equally often', () => {
    const taken = new Map(serials.map((serial) => [serial, 0]));
    for (let seed = 0; seed < 3_000; seed++) {
      for (const serial of drawEngines(serials, 3, `seed ${seed}`)) {
        taken.set(serial, (taken.get(serial) ?? 0) + 1);
      }
    }
    // 900 expected; the variance of each is 3000 · 0.3 · 0.7, and the ten sum up to a fixed total.
    let chiSquared = 0;
    for (const count of taken.values()) chiSquared += ((count - 900) ** 2 / 630) * (9 / 10);
    expect(chiSquared).toBeLessThan(27.88); // chi-squared, 9 degrees of freedom, 99.9 %
    expect(chiSquared).toBeGreaterThan(1.15); // and 0.1 %: no draw in turn
  });
});
