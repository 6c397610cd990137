import { describe, expect, it } from 'vitest';
import { judgeSeries } from '../../src/statistics/judge-series.js';
import {
  judgeRunRules,
  nelsonRules,
  type RunRule,
  runRules,
  startRunRules,
  westernElectricRules,
} from '../../src/statistics/run-rules.js';

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
