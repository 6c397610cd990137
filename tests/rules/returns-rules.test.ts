import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import {
  ageSlices,
  compareFactors,
  fullMonths,
  nextDay,
  returnTriangle,
  survivalOf,
} from '../../src/returns/rules.js';
import { kaplanMeier } from '../../src/statistics/kaplan-meier.js';

const day = fc
  .integer({ min: 0, max: 20_000 })
  .map((days) => new Date(Date.UTC(1990, 0, 1) + days * 86_400_000).toISOString().slice(0, 10));

describe('full months in service', () => {
  it.each([
    ['2026-01-15', '2026-01-15', 0],
    ['2026-01-15', '2026-02-14', 0],
    ['2026-01-15', '2026-02-15', 1],
    ['2026-01-31', '2026-02-27', 0],
    ['2026-01-31', '2026-02-28', 1],
    ['2028-01-31', '2028-02-28', 0],
    ['2028-01-31', '2028-02-29', 1],
    ['2025-12-31', '2026-12-30', 11],
    ['2025-12-31', '2026-12-31', 12],
  ])('from %s to %s are %d', (from, to, months) => {
    expect(fullMonths(from, to)).toBe(months);
  });

  it('are as many as a calendar library can add without passing the later day', () => {
    fc.assert(
      fc.property(day, day, (one, other) => {
        const [from, to] = one <= other ? [one, other] : [other, one];
        const start = DateTime.fromISO(from, { zone: 'utc' });
        const reached = (months: number) => start.plus({ months }).toISODate() ?? '';
        const months = fullMonths(from, to);
        expect(reached(months) <= to && reached(months + 1) > to).toBe(true);
      }),
    );
  });
});

describe('slices of days by month and age', () => {
  it('cover every day once, with its month and its age', () => {
    fc.assert(
      fc.property(day, fc.integer({ min: 0, max: 900 }), (first, days) => {
        const today = new Date(Date.parse(first) + days * 86_400_000).toISOString().slice(0, 10);
        const slices = ageSlices(first, today);
        expect(slices[0]?.fromDay).toBe(first);
        expect(slices.at(-1)?.toDay).toBe(today);
        for (const [i, slice] of slices.entries()) {
          const before = slices[i - 1];
          if (before) expect(slice.fromDay).toBe(nextDay(before.toDay));
          for (const end of [slice.fromDay, slice.toDay]) {
            expect(end.slice(0, 7)).toBe(slice.month);
            expect(fullMonths(end, today)).toBe(slice.age);
          }
        }
        expect(slices.length).toBeLessThanOrEqual(2 * (days / 28 + 2));
      }),
      { numRuns: 50 },
    );
  });

  it('are none where the first day is still to come', () => {
    expect(ageSlices('2026-03-02', '2026-03-01')).toEqual([]);
  });
});

describe('the return triangle', () => {
  it('sums cohorts of a month, and is complete only where its youngest has gone past', () => {
    const cells = returnTriangle(
      [
        { month: '2026-01', age: 2, released: 30 },
        { month: '2026-01', age: 1, released: 10 },
        { month: '2026-02', age: 0, released: 5 },
      ],
      [
        { month: '2026-01', fullMonths: 0, motors: 2 },
        { month: '2026-01', fullMonths: 1, motors: 1 },
      ],
    );
    expect(cells).toEqual([
      cell('2026-01', 0, [40, 2, 2], true),
      cell('2026-01', 1, [40, 1, 3], false),
      cell('2026-01', 2, [40, 0, 3], false),
      cell('2026-02', 0, [5, 0, 0], false),
    ]);
  });

  function cell(month: string, monthsInService: number, counts: number[], complete: boolean) {
    const [released = 0, returns = 0, returnsSoFar = 0] = counts;
    const rates = { rate: returns / released, rateSoFar: returnsSoFar / released };
    return { month, monthsInService, released, returns, returnsSoFar, ...rates, complete };
  }
});

// Freireich et al., Blood 21 (1963) 699, 6-MP group: weeks of remission as listed in textbooks.
const relapsed = [6, 6, 6, 7, 10, 13, 16, 22, 23];
const suspended = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35];

describe('survival from counts', () => {
  const one = (time: number, event: boolean) => ({ time, event });
  const counted = ({ time, event }: { time: number; event: boolean }) => ({
    time,
    events: Number(event),
    suspended: Number(!event),
  });
  const expected = (observations: { time: number; event: boolean }[], confidence = 0.95) =>
    kaplanMeier(observations, confidence).map(({ standardError: _, censored, ...step }) => ({
      ...step,
      suspended: censored,
    }));

  it('gives the survival column printed for the remission data', () => {
    const steps = survivalOf([
      ...relapsed.map((time) => ({ time, events: 1, suspended: 0 })),
      ...suspended.map((time) => ({ time, events: 0, suspended: 1 })),
    ]);
    // As printed in the results of the NAG Library's example program for g12aa.
    expect(steps.filter((step) => step.events > 0).map((step) => step.survival.toFixed(3))).toEqual(
      ['0.857', '0.807', '0.753', '0.690', '0.627', '0.538', '0.448'],
    );
  });

  it('equals the estimate from single observations, whatever was observed', () => {
    const observation = fc.record({ time: fc.integer({ min: 0, max: 12 }), event: fc.boolean() });
    const confidence = fc.constantFrom(0.9, 0.95, 0.99);
    fc.assert(
      fc.property(fc.array(observation, { maxLength: 60 }), confidence, (all, level) => {
        expect(survivalOf(all.map(counted), level)).toEqual(expected(all, level));
      }),
    );
  });

  it('takes a million motors as two counts', () => {
    const steps = survivalOf([
      { time: 3, events: 1000, suspended: 400_000 },
      { time: 9, events: 0, suspended: 599_000 },
    ]);
    expect(steps).toMatchObject([
      { atRisk: 1_000_000, survival: 0.999 },
      { atRisk: 599_000, survival: 0.999 },
    ]);
  });

  it('passes over counts of nothing', () => {
    expect(survivalOf([{ time: 4, events: 0, suspended: 0 }])).toEqual([]);
    expect(survivalOf([counted(one(4, true))])).toMatchObject([{ survival: 0, lower: null }]);
  });
});

describe('comparing factors', () => {
  const count = (value: string, returned: number, motors: number) => ({
    factor: 'lot',
    value,
    returned,
    motors,
  });

  it('adjusts for every value that could have been compared, compared or not', () => {
    const counts = [count('A', 5, 5), count('B', 3, 6)];
    const [first] = compareFactors(counts, 6, 12, 40);
    // Twelve of the C(12, 5) = 792 ways, times forty.
    expect(first).toMatchObject({ value: 'A', pAdjusted: expect.closeTo((40 * 12) / 792, 12) });
  });

  it('orders by p, then by how many came back, then by name', () => {
    const counts = [count('C', 2, 4), count('B', 2, 4), count('D', 3, 6), count('A', 6, 6)];
    expect(compareFactors(counts, 6, 12).map((one) => one.value)).toEqual(['A', 'D', 'B', 'C']);
  });

  it('compares nothing where nothing is shared', () => {
    expect(compareFactors([], 3, 10)).toEqual([]);
  });
});
