import { describe, expect, it } from 'vitest';
import {
  BASELINE_POINTS_MIN,
  type ChartOptions,
  freezeBaseline,
} from '../../src/charts/baseline-rules.js';
import {
  type Charted,
  type ChartState,
  chartedValue,
  type Entry,
  inUnit,
  type Point,
  startState,
  takeRun,
  type Yardstick,
} from '../../src/charts/rules.js';
import { packJudged } from '../../src/testing/packing.js';
import type { Characteristic } from '../../src/testing/rules.js';

const rules = ['beyond-three-sigma'] as const;
const individuals: ChartOptions = { kind: 'individuals', rules };

/** Runs of ids from 1, an hour apart; on counting charts so many a day. */
function entries(values: readonly number[], perDay?: number): Entry[] {
  return values.map((value, i) => ({
    runId: i + 1,
    atMs: i * 3_600_000,
    day: perDay === undefined ? null : dayNumbered(Math.floor(i / perDay)),
    value,
  }));
}

function dayNumbered(n: number): string {
  return new Date(Date.UTC(2026, 2, 2 + n)).toISOString().slice(0, 10);
}

function frozen(options: ChartOptions, runs: readonly Entry[], last: number | null = null) {
  const answer = freezeBaseline(options, runs, last);
  if (!answer.possible) throw new Error(answer.why);
  return answer.baseline;
}

function whyNot(options: ChartOptions, runs: readonly Entry[], last: number | null = null) {
  const answer = freezeBaseline(options, runs, last);
  return answer.possible ? undefined : answer.why;
}

function judged(
  yardstick: Yardstick,
  runs: readonly Entry[],
): { points: Point[]; end: ChartState } {
  const points: Point[] = [];
  let state = startState;
  for (const run of runs) {
    const step = takeRun(yardstick, state, run);
    if (step.point) points.push(step.point);
    state = step.state;
  }
  return { points, end: state };
}

/** One value above, one below, and so on: a moving range of 2 and a mean of 10. */
const steady = Array.from({ length: 20 }, (_, i) => (i % 2 === 0 ? 9 : 11));

describe('what a chart takes of a run', () => {
  const limits = { unit: 'kPa', lower: 0, upper: 1, guardBand: 0, nominal: null, decimals: 1 };
  const common = { required: true, standardUncertainty: null, name: 'x', ...limits };
  const characteristics: Characteristic[] = [
    { kind: 'attribute', code: 'telltale', name: 'Telltale', required: true, expected: true },
    { kind: 'measured', code: 'pressure', ...common },
    { kind: 'measured', code: 'temperature', ...common, unit: 'Cel' },
    { kind: 'measured', code: 'skipped', ...common },
  ];
  const judgedValues = packJudged([true, 101.5, 20, null]);
  const run = { failed: true, failures: 2, characteristics, judged: judgedValues };
  const of = (characteristic: string, unit: string): Charted => ({
    kind: 'ewma',
    characteristic,
    unit,
  });

  it('is the judged value at its position, in the chart’s unit', () => {
    expect(chartedValue(of('pressure', 'kPa'), run)).toBe(101.5);
    // 1 bar is 100 kPa, 0 °C is 273.15 K (the SI brochure).
    expect(chartedValue(of('pressure', 'bar'), run)).toBe(1.015);
    expect(chartedValue(of('temperature', 'K'), run)).toBe(293.15);
  });

  it('is nothing where it is not measured, or no number of that unit', () => {
    expect(chartedValue(of('skipped', 'kPa'), run)).toBeUndefined();
    expect(chartedValue(of('unheard-of', 'kPa'), run)).toBeUndefined();
    expect(chartedValue(of('telltale', 'kPa'), run)).toBeUndefined();
    expect(chartedValue(of('temperature', 'kPa'), run)).toBeUndefined();
    expect(inUnit(1e300, 'bar', 'kPa')).toBeUndefined();
    expect(inUnit(1e300, 'kPa', 'kPa')).toBe(1e300);
  });

  it('is whether it failed, or in how many characteristics', () => {
    const counted = { characteristic: null, unit: null };
    expect(chartedValue({ kind: 'p', ...counted }, run)).toBe(1);
    expect(chartedValue({ kind: 'p', ...counted }, { ...run, failed: false })).toBe(0);
    expect(chartedValue({ kind: 'u', ...counted }, run)).toBe(2);
  });
});

describe('a baseline', () => {
  it('says what it was computed from', () => {
    expect(frozen(individuals, entries(steady))).toMatchObject({
      runs: 20,
      points: 20,
      firstRun: 1,
      lastRun: 20,
      fromMs: 0,
      untilMs: 19 * 3_600_000,
      signalling: 0,
    });
    expect(frozen(individuals, entries(steady), 12)).toMatchObject({ runs: 12, firstRun: 9 });
  });

  it('leaves out runs that make no whole subgroup', () => {
    const options: ChartOptions = { kind: 'xbar-s', subgroupSize: 3, rules };
    const runs = entries([...steady, ...steady]);
    expect(frozen(options, runs)).toMatchObject({ runs: 39, points: 13, lastRun: 39 });
    expect(frozen(options, runs, 31)).toMatchObject({
      runs: 30,
      points: 10,
      firstRun: 10,
      lastRun: 39,
    });
  });

  it('takes the last days where runs are counted by day, the newest among them', () => {
    const values = Array.from({ length: 65 }, (_, i) => (i % 5 === 0 ? 1 : 0));
    const baseline = frozen({ kind: 'p', rules }, entries(values, 5), 10);
    // The last ten of thirteen days of five runs, one failing.
    expect(baseline).toMatchObject({ runs: 50, points: 10, firstRun: 16, lastRun: 65 });
    expect(baseline.yardstick.baseline.centre).toBe(0.2);
  });

  it('has the figures of NIST/SEMATECH e-Handbook 6.3.3.2, and two of its wafers signal', () => {
    // Misregistered chips on 30 wafers of 50, a wafer standing for a day: see tests/published.
    const counts = [
      12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12,
      7, 13, 9, 6,
    ];
    const chips = counts.flatMap((bad) => Array.from({ length: 50 }, (_, i) => Number(i < bad)));
    const baseline = frozen({ kind: 'p', rules }, entries(chips, 50));
    expect(baseline.yardstick.baseline.centre).toBeCloseTo(0.2313, 4);
    expect(baseline).toMatchObject({ runs: 1500, points: 30, signalling: 2 });
  });

  it('keeps the tuning of EWMA and CUSUM, and a target in place of the mean', () => {
    const ewma = frozen(
      { kind: 'ewma', weight: 0.3, width: 2.5, variance: 'asymptotic' },
      entries(steady),
    );
    expect(ewma.yardstick.baseline).toMatchObject({ centre: 10, weight: 0.3, width: 2.5 });
    const cusum = { kind: 'cusum', allowance: 0.5, decisionInterval: 4 } as const;
    const about = (target: number | null) =>
      frozen({ ...cusum, target }, entries(steady)).yardstick.baseline;
    expect(about(null).centre).toBe(10);
    expect(about(12).centre).toBe(12);
    // Sigma is the mean moving range, 2, over d2 = 2/√π.
    expect(about(12)).toMatchObject({
      sigma: expect.closeTo(Math.sqrt(Math.PI), 12),
      allowance: expect.closeTo(Math.sqrt(Math.PI) / 2, 12),
    });
  });

  it.each([
    ['too few values', individuals, entries(steady.slice(0, 9)), '9 points from 9 runs,'],
    ['no values', individuals, [], '0 points from 0 runs,'],
    [
      'too few subgroups',
      { kind: 'xbar-r', subgroupSize: 4, rules } as ChartOptions,
      entries(steady),
      '5 points from 20 runs,',
    ],
    ['one day', { kind: 'p', rules } as ChartOptions, entries([1], 1), '1 point from 1 run,'],
    ['equal values', individuals, entries(Array(10).fill(5)), 'no variation'],
    [
      'equal values within subgroups',
      { kind: 'xbar-r', subgroupSize: 2, rules } as ChartOptions,
      entries(Array.from({ length: 20 }, (_, i) => Math.floor(i / 2))),
      'no subgroup has any spread',
    ],
    [
      'nothing failed',
      { kind: 'p', rules } as ChartOptions,
      entries(Array(20).fill(0), 2),
      'alike',
    ],
    ['all failed', { kind: 'p', rules } as ChartOptions, entries(Array(20).fill(1), 2), 'alike'],
    ['no defect', { kind: 'u', rules } as ChartOptions, entries(Array(20).fill(0), 2), 'no defect'],
    [
      'values that differ by their rounding',
      individuals,
      entries(Array.from({ length: 10 }, (_, i) => (i % 2 === 0 ? 0.3 : 0.1 + 0.2))),
      'no more than their rounding',
    ],
    ['values too large', individuals, entries(steady.map((value) => value * 1e280)), 'too large'],
    ['values whose sum overflows', individuals, entries(steady.map((one) => one * 1e307)), 'large'],
  ])('is refused for %s', (_what, options, runs, why) => {
    expect(whyNot(options, runs)).toContain(why);
  });

  it('needs ten points', () => {
    expect(BASELINE_POINTS_MIN).toBe(10);
    expect(frozen(individuals, entries(steady.slice(0, 10))).points).toBe(10);
  });
});

describe('a chart between two runs', () => {
  it('remembers no more points than its rules look at', () => {
    const { yardstick } = frozen(individuals, entries(steady));
    const { end } = judged(yardstick, entries(steady));
    expect(end).toEqual({
      points: 20,
      open: null,
      // The last of them lies 1 above the mean of 10, sigma is √π.
      memory: { recent: [1 / Math.sqrt(Math.PI)], runs: [[20]], previous: 11 },
    });
    expect(JSON.stringify(end)).not.toContain('baseline');
  });

  it('holds a subgroup until it is whole, and a day until a later one begins', () => {
    const group = frozen({ kind: 'xbar-r', subgroupSize: 2, rules }, entries(steady)).yardstick;
    expect(judged(group, entries([9, 10, 11])).end).toMatchObject({
      points: 1,
      open: { values: [11], runs: [3] },
    });
    const byDay = frozen(
      { kind: 'u', rules },
      entries(
        Array.from({ length: 20 }, (_, i) => i % 2),
        2,
      ),
    ).yardstick;
    const { points, end } = judged(byDay, entries([0, 3, 1], 2));
    expect(points).toMatchObject([{ number: 1, value: 1.5, sample: { size: 2, runs: [2] } }]);
    expect(end.open).toMatchObject({ day: dayNumbered(1), size: 1, sum: 1, lastRun: 3 });
  });

  it('counts a run of an earlier day that is recorded late to the open one', () => {
    const { yardstick } = frozen(
      { kind: 'p', rules },
      entries(
        Array.from({ length: 20 }, (_, i) => i % 2),
        2,
      ),
    );
    const run = (runId: number, day: number, value: number): Entry => ({
      runId,
      atMs: day * 86_400_000,
      day: dayNumbered(day),
      value,
    });
    const { points } = judged(yardstick, [run(1, 3, 0), run(2, 1, 1), run(3, 3, 0), run(4, 4, 0)]);
    expect(points.map(({ value, sample }) => [value, sample])).toEqual([
      [1 / 3, { atMs: 3 * 86_400_000, day: dayNumbered(3), size: 3, values: [1], runs: [3] }],
    ]);
  });

  it('names the runs of every point of a pattern', () => {
    const { yardstick } = frozen(
      { kind: 'individuals', rules: ['two-of-three-beyond-two-sigma'] },
      entries(steady),
    );
    // Two sigma are 3.54 from 10.
    const { points } = judged(yardstick, entries([14, 10, 14]));
    expect(points.map((point) => point.signals.map((signal) => signal.runs))).toEqual([
      [],
      [],
      [[1, 3]],
    ]);
  });

  it('tells since which run a sum is above 0', () => {
    const { yardstick } = frozen(
      { kind: 'cusum', target: 10, allowance: 0.5, decisionInterval: 2 },
      entries(steady),
    );
    // h is 2 √π = 3.54, k 0.89: high sums 0, 2.11, 4.23, 0, 3.61; low ones 0, 0, 0, 9.11, 3.73.
    const { points } = judged(yardstick, entries([10, 13, 13, 0, 14.5]));
    expect(points.map((point) => point.signals)).toMatchObject([
      [],
      [],
      [{ figure: 'high-sum', direction: 'above', runs: [2, 3] }],
      [{ figure: 'low-sum', direction: 'below', runs: [4] }],
      [{ figure: 'high-sum', direction: 'above', runs: [5] }, { figure: 'low-sum' }],
    ]);
  });

  it('stays finite however far a value lies out', () => {
    const options: ChartOptions[] = [
      individuals,
      { kind: 'xbar-s', subgroupSize: 2, rules },
      { kind: 'ewma', weight: 1, width: 3, variance: 'exact' },
      { kind: 'cusum', target: null, allowance: 0, decisionInterval: 5 },
    ];
    for (const one of options) {
      const { yardstick } = frozen(one, entries(steady));
      const { points, end } = judged(
        yardstick,
        entries([Number.MAX_VALUE, -Number.MAX_VALUE, Number.MAX_VALUE, 10]),
      );
      expect(points[0]?.signals.length).toBeGreaterThan(0);
      expect(JSON.parse(JSON.stringify(end))).toEqual(end);
    }
  });
});
