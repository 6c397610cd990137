import { describe, expect, it } from 'vitest';
import {
  ageClasses,
  cures,
  failuresAgain,
  type Loop,
  loopDistribution,
  loopTimes,
  reworkPareto,
} from '../../src/yield/rework-rules.js';
import { rollSteps } from '../../src/yield/step-rules.js';

/** A finished loop, as far as a figure asks. */
function loop(more: Partial<Loop> & { hours?: number; passed?: boolean; again?: boolean }): Loop {
  const { hours = 1, passed = true, again = false, ...own } = more;
  const run = {
    ...{ id: 1, cell: 'A', failed: ['leak'] },
    next: {
      endedAtMs: hours * 3_600_000,
      verdict: passed ? ('pass' as const) : ('fail' as const),
      failed: passed ? [] : [again ? 'leak' : 'noise'],
    },
  };
  return {
    ...{ motorId: 1, model: 'M', goesOn: true, repairId: 1, atMs: 0, outcome: 'repaired' },
    ...{ symptom: 's', cause: 'c', action: 'a', run },
    ...own,
  };
}

const many = (count: number, one: Loop) => Array.from({ length: count }, () => one);

describe('rolled throughput yield', () => {
  // The worked example of four sub-processes in Wikipedia, "First-pass yield" (read in a copy of
  // May 2023): 100 units enter A, and 90, 80, 75 and 70 leave the steps as good parts.
  const way = [
    { step: 'A', attempts: 100, passes: 90, defects: 10 },
    { step: 'B', attempts: 90, passes: 80, defects: 10 },
    { step: 'C', attempts: 80, passes: 75, defects: 5 },
    { step: 'D', attempts: 75, passes: 70, defects: 5 },
  ];

  it('is 0.7000 for steps of 0.9000, 0.8889, 0.9375 and 0.9333', () => {
    const lines = rollSteps(way);
    expect(lines.map((one) => one.stepYield.toFixed(4))).toEqual([
      ...['0.9000', '0.8889', '0.9375', '0.9333'],
    ]);
    expect(lines.at(-1)?.rolledThroughputYield).toBeCloseTo(0.7, 14);
  });

  it('takes first-pass yields of 0.8500, 0.8889, 0.8125 and 0.8267 where parts were reworked', () => {
    // The same example: of the good parts 5, 0, 10 and 8 were reworked.
    const reworked = [5, 0, 10, 8];
    const lines = rollSteps(
      way.map((one, i) => ({ ...one, passes: one.passes - (reworked[i] ?? 0) })),
    );
    expect(lines.map((one) => one.stepYield.toFixed(4))).toEqual([
      ...['0.8500', '0.8889', '0.8125', '0.8267'],
    ]);
    // 17/20 · 8/9 · 13/16 · 62/75, by hand.
    expect(lines.at(-1)?.rolledThroughputYield).toBeCloseTo(0.5074814814814815, 14);
  });

  it('stands beside e^-dpu, which is 0.951229 for 0.05 defects per unit', () => {
    // The Poisson probability of none, to 15 digits.
    const [line] = rollSteps([{ step: 'A', attempts: 120, passes: 115, defects: 6 }]);
    expect(line?.rolledDefectsPerUnit).toBe(0.05);
    expect(line?.poissonYield).toBeCloseTo(0.951229424500714, 14);
  });
});

describe('a Pareto of rework', () => {
  it('orders and sums the worked example of a handbook', () => {
    // US Department of the Navy, Basic Tools for Process Improvement, module 8 (Pareto chart),
    // viewgraph 5: six amounts, largest first, and their total. Its categories are left out.
    const amounts = [2030, 2007, 2000, 1983, 1971, 1956];
    const total = 11_947;
    const cases = amounts.flatMap((amount, i) => many(amount, loop({ cause: `cause ${6 - i}` })));
    const lines = reworkPareto(cases, 'cause');
    expect(lines.map((one) => one.amount)).toEqual(amounts);
    expect(lines.map((one) => one.category)).toEqual([6, 5, 4, 3, 2, 1].map((n) => `cause ${n}`));
    // Sums of the amounts down to each, by hand.
    const sums = [2030, 4037, 6037, 8020, 9991, total];
    expect(lines.map((one) => one.cumulativeShare)).toEqual(sums.map((sum) => sum / total));
  });
});

describe('shares of rework', () => {
  // Newcombe, Statist. Med. 17 (1998) 857, table I, method 3.
  it.each([
    [81, 263, '0.2553', '0.3662'],
    [15, 148, '0.0624', '0.1605'],
    [0, 20, '0.0000', '0.1611'],
    [1, 29, '0.0061', '0.1718'],
  ])('have %i of %i between %s and %s', (count, of, lower, upper) => {
    const cured = [...many(count, loop({})), ...many(of - count, loop({ passed: false }))];
    const [cure] = cures(cured, 'cause');
    expect([cure?.lower?.toFixed(4), cure?.upper?.toFixed(4)]).toEqual([lower, upper]);
    const again = [
      ...many(count, loop({ passed: false, again: true })),
      ...many(of - count, loop({})),
    ];
    const [line] = failuresAgain(again);
    expect([line?.lower?.toFixed(4), line?.upper?.toFixed(4)]).toEqual([lower, upper]);
  });
});

describe('times of rework', () => {
  it('have the quantiles of definition 7', () => {
    // Hyndman and Fan, American Statistician 50 (1996) 361, by hand: of ten values the median is
    // at position 4.5 counted from zero, the p90 at 8.1.
    const hours = [10, 1, 9, 2, 8, 3, 7, 4, 6, 5];
    const [line] = loopTimes(
      hours.map((one) => loop({ hours: one })),
      'model',
    );
    expect(line).toMatchObject({ loops: 10, medianHours: 5.5, maxHours: 10 });
    expect(line?.p90Hours).toBeCloseTo(9.1, 14);
  });
});

describe('common practice, no source', () => {
  it('classes of age end at 4 h, one, three and seven days', () => {
    expect(ageClasses.map((one) => one.untilHours)).toEqual([4, 24, 3 * 24, 7 * 24, null]);
    expect(ageClasses.slice(1).map((one) => one.fromHours)).toEqual([4, 24, 3 * 24, 7 * 24]);
  });
});

describe('loops per motor', () => {
  it('have a share, a cumulative share and a mean by their definitions', () => {
    // 9 motors without, 1 with three: 3 loops among 10.
    const lines = loopDistribution([
      { loops: 3, motors: 1 },
      { loops: 0, motors: 9 },
    ]);
    expect(lines).toEqual([
      { loops: 0, motors: 9, share: 0.9, cumulativeShare: 0.9, meanLoops: 0.3 },
      { loops: 3, motors: 1, share: 0.1, cumulativeShare: 1, meanLoops: 0.3 },
    ]);
    expect(loopDistribution([])).toEqual([]);
  });
});
