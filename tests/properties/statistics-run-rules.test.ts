import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeSeries } from '../../src/statistics/judge-series.js';
import {
  judgeRunRules,
  nelsonRules,
  type RunRule,
  runRules,
  startRunRules,
} from '../../src/statistics/run-rules.js';
import { expectStreamed } from '../support/streamed.js';

// Tenths, so that equal neighbours and values on a line occur.
const tenth = fc.integer({ min: -40, max: 40 }).map((n) => n / 10);
const series = fc.array(tenth, { maxLength: 60 });

/** Each rule said once more, of the series up to and with its last point. */
const meaning: Record<RunRule, (z: readonly number[]) => boolean> = {
  'beyond-three-sigma': (z) => Math.abs(z.at(-1) ?? 0) > 3,
  'two-of-three-beyond-two-sigma': (z) => shareOnSide(z, 2, 3, 2),
  'four-of-five-beyond-one-sigma': (z) => shareOnSide(z, 4, 5, 1),
  'eight-on-one-side': (z) => runAtEnd(z, (x) => x > 0) >= 8 || runAtEnd(z, (x) => x < 0) >= 8,
  'nine-on-one-side': (z) => runAtEnd(z, (x) => x > 0) >= 9 || runAtEnd(z, (x) => x < 0) >= 9,
  'six-rising-or-falling': (z) =>
    runAtEnd(steps(z), (x) => x > 0) >= 5 || runAtEnd(steps(z), (x) => x < 0) >= 5,
  'fourteen-alternating': (z) => {
    // Steps change sign where their product with the next one is negative.
    const turns = steps(z).map((step, at, all) => step * (all[at + 1] ?? Number.NaN));
    return runAtEnd(turns.slice(0, -1), (product) => product < 0) >= 12;
  },
  'fifteen-within-one-sigma': (z) => runAtEnd(z, (x) => x >= -1 && x <= 1) >= 15,
  'eight-outside-one-sigma': (z) => runAtEnd(z, (x) => x < -1 || x > 1) >= 8,
};

function steps(z: readonly number[]): number[] {
  return z.slice(1).map((x, before) => x - (z[before] ?? 0));
}

function runAtEnd(values: readonly number[], holds: (x: number) => boolean): number {
  const broken = values.findLastIndex((x) => !holds(x));
  return values.length - 1 - broken;
}

function shareOnSide(z: readonly number[], wanted: number, span: number, sigmas: number): boolean {
  const last = z.slice(-span);
  const newest = z.at(-1) ?? 0;
  const above = newest > sigmas && last.filter((x) => x > sigmas).length >= wanted;
  const below = newest < -sigmas && last.filter((x) => x < -sigmas).length >= wanted;
  return above || below;
}

describe('run rules', () => {
  // Long runs of a pattern are rare among free values: some series are made of them.
  const patterned = fc
    .array(
      fc.tuple(
        fc.constantFrom(
          (i: number) => 0.1 + (i % 3),
          (i: number) => -0.1 - (i % 2) / 10,
          (i: number) => i / 5 - 1,
          (i: number) => (i % 2 === 0 ? 0.5 : -0.5),
          (i: number) => (i % 2 === 0 ? 1.5 : -1.5),
          (i: number) => (i % 2 === 0 ? 2.5 : 0),
        ),
        fc.integer({ min: 1, max: 18 }),
      ),
      { maxLength: 5 },
    )
    .map((parts) => parts.flatMap(([shape, length]) => Array.from({ length }, (_, i) => shape(i))));
  const anySeries = fc.oneof(series, patterned);

  it('streamed equal the whole series, and are met just where their words say', () => {
    const met = new Set<RunRule>();
    fc.assert(
      fc.property(anySeries, fc.shuffledSubarray([...runRules]), (values, rules) => {
        const points = expectStreamed(startRunRules(rules), values, judgeRunRules);
        for (const [at, { signals }] of points.entries()) {
          const upToHere = values.slice(0, at + 1);
          expect(signals.map(({ rule }) => rule)).toEqual(
            rules.filter((rule) => meaning[rule](upToHere)),
          );
          for (const { rule } of signals) met.add(rule);
        }
      }),
      { numRuns: 400 },
    );
    expect([...met].toSorted()).toEqual(runRules.toSorted());
  });

  it('name points of their pattern, ascending, with the newest last', () => {
    fc.assert(
      fc.property(anySeries, (values) => {
        const { points } = judgeSeries(startRunRules(runRules), values, judgeRunRules);
        for (const [at, { signals }] of points.entries()) {
          for (const signal of signals) {
            expect(signal.points.at(-1)).toBe(at);
            expect(signal.points).toEqual(signal.points.toSorted((a, b) => a - b));
            const pattern = signal.points.map((point) => values[point] ?? Number.NaN);
            // The pattern's own points, alone, meet the rule again.
            expect(meaning[signal.rule](pattern)).toBe(true);
          }
        }
      }),
      { numRuns: 200 },
    );
  });

  it('turn over with the chart', () => {
    const turned = {
      above: 'below',
      below: 'above',
      rising: 'falling',
      falling: 'rising',
    } as const;
    fc.assert(
      fc.property(anySeries, (values) => {
        const upright = judgeSeries(startRunRules(nelsonRules), values, judgeRunRules).points;
        const over = judgeSeries(
          startRunRules(nelsonRules),
          values.map((z) => -z),
          judgeRunRules,
        ).points;
        const expected = upright.map(({ signals }) => ({
          signals: signals.map((signal) => ({
            ...signal,
            direction: signal.direction && turned[signal.direction],
          })),
        }));
        expect(over).toEqual(expected);
      }),
      { numRuns: 100 },
    );
  });
});
