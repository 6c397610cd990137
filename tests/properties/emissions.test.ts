import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeLotTest, type LotState, startLot } from '../../src/emissions/cumsum-lot-rule.js';
import { drawEngines } from '../../src/emissions/draw-engines.js';
import {
  type CountedTest,
  familyStanding,
  periodAt,
  pollutantStanding,
  testedEngines,
  testPeriods,
} from '../../src/emissions/rules.js';
import { e4Modes, weightedCycleResult } from '../../src/emissions/weighted-cycle.js';
import { expectStreamed } from '../support/streamed.js';

describe('the lot rule', () => {
  it('streamed equals the whole series, and its decision follows from all figures of its tests', () => {
    const result = fc.integer({ min: 1_500, max: 2_600 }).map((n) => n / 100);
    fc.assert(
      fc.property(fc.array(result, { maxLength: 30 }), (results) => {
        const start: LotState = startLot(20);
        const points = expectStreamed(start, results, judgeLotTest);
        for (const [at, point] of points.entries()) {
          const failed = points
            .slice(0, at + 1)
            .some((one, i) => one.exceeded && points[i - 1]?.exceeded);
          const asked = point.required?.tests ?? Number.POSITIVE_INFINITY;
          // In whole hundredths, which are exact.
          const sum = results.slice(0, at + 1).reduce((all, x) => all + Math.round(x * 100), 0);
          const passed = at + 1 >= asked && sum <= 2_000 * (at + 1);
          expect(point.decision).toBe(failed ? 'fail' : passed ? 'pass' : 'continue');
          expect(point.exceeded).toBe(point.cumSum > (point.actionLimit ?? point.cumSum));
        }
      }),
      { numRuns: 100 },
    );
  });
});

describe('a draw of engines', () => {
  const serials = fc.uniqueArray(fc.string(), { maxLength: 40 });
  const seed = fc.stringMatching(/^[a-z0-9 ]+$/);

  it('is without replacement, whatever the order given, and a longer one begins with it', () => {
    fc.assert(
      fc.property(serials, seed, fc.nat(), (given, word, any) => {
        const count = any % (given.length + 1);
        const drawn = drawEngines(Object.freeze(given), count, word);
        expect(new Set(drawn).size).toBe(count);
        expect(drawn.every((serial) => given.includes(serial))).toBe(true);
        expect(drawEngines(given.toReversed(), count, word)).toEqual(drawn);
        expect(drawEngines(given, given.length, word).slice(0, count)).toEqual(drawn);
        // An engine built later changes nothing among the earlier ones.
        const later = drawEngines([...given, 'later than all of them'], given.length + 1, word);
        const earlier = later.filter((serial) => serial !== 'later than all of them');
        expect(earlier.slice(0, count)).toEqual(drawn);
      }),
      { numRuns: 100 },
    );
  });
});

describe('draws by seeds as the service makes them', () => {
  // 32 bytes in hex, as of the secure generator, but a fixed list: the test is the same each time.
  const seeds = Array.from({ length: 4_200 }, (_, at) =>
    createHash('sha256').update(`list ${at}`).digest('hex'),
  );
  const serials = Array.from({ length: 7 }, (_, at) => `T2600000${at}`);

  it('take each pair of engines, in each order, equally often', () => {
    const taken = new Map<string, number>();
    for (const seed of seeds) {
      const pair = drawEngines(serials, 2, seed).join();
      taken.set(pair, (taken.get(pair) ?? 0) + 1);
    }
    // 42 ordered pairs, 100 expected of each.
    let chiSquared = (42 - taken.size) * 100;
    for (const count of taken.values()) chiSquared += (count - 100) ** 2 / 100;
    // Chi-squared with 41 degrees of freedom, 0.1 % and 99.9 %, by Wilson and Hilferty's
    // approximation: 41 · (1 - 2/369 ± 3.0902 · √(2/369))³.
    const quantile = (z: number) => 41 * (1 - 2 / 369 + z * Math.sqrt(2 / 369)) ** 3;
    expect(chiSquared).toBeGreaterThan(quantile(-3.0902));
    expect(chiSquared).toBeLessThan(quantile(3.0902));
  });
});

describe('test periods', () => {
  const DAY_MS = 86_400_000;
  const dayOf = (ms: number) => new Date(ms).toISOString().slice(0, 10);

  it('follow each other without a gap over all days of production', () => {
    const start = fc.integer({ min: 0, max: 4_000 }).map((n) => Date.UTC(2024, 0, 1) + n * DAY_MS);
    fc.assert(
      fc.property(
        start,
        fc.integer({ min: 1, max: 731 }),
        fc.integer({ min: 1, max: 5_000 }),
        (from, days, projectedVolume) => {
          const [fromDay, untilDay] = [dayOf(from), dayOf(from + (days - 1) * DAY_MS)];
          const { periods } = testPeriods({ fromDay, untilDay, projectedVolume });
          expect(periods[0]?.fromDay).toBe(fromDay);
          expect(periods.at(-1)?.untilDay).toBe(untilDay);
          for (const [at, one] of periods.entries()) {
            expect(one.period).toBe(at + 1);
            expect(one.fromDay <= one.untilDay).toBe(true);
            const next = periods[at + 1];
            if (next) expect(dayOf(Date.parse(one.untilDay) + DAY_MS)).toBe(next.fromDay);
            expect(periodAt(periods, one.fromDay)).toBe(one.period);
            expect(periodAt(periods, one.untilDay)).toBe(one.period);
          }
          const lengths = periods.map((one) => Date.parse(one.untilDay) - Date.parse(one.fromDay));
          if (days < 365)
            expect(Math.max(...lengths) - Math.min(...lengths)).toBeLessThan(2 * DAY_MS);
        },
      ),
      { numRuns: 300 },
    );
  });
});

describe('a family’s standing', () => {
  const terms = {
    pollutant: 'HC+NOx',
    standard: 20,
    decimals: 0,
    deterioration: { kind: 'additive', amount: 0.5 } as const,
  };
  const [period] = testPeriods({
    fromDay: '2026-03-01',
    untilDay: '2026-03-31',
    projectedVolume: 100,
  }).periods;
  const test = fc.record({
    motor: fc.integer({ min: 1, max: 8 }).map((n) => `M${n}`),
    testedOn: fc.integer({ min: 1, max: 9 }).map((n) => `2026-03-0${n}`),
    tenths: fc.integer({ min: 150, max: 260 }),
  });
  const counted = (tests: { motor: string; testedOn: string; tenths: number }[]): CountedTest[] =>
    tests.map(({ motor, testedOn, tenths }, id) => ({
      id,
      motor,
      testedOn,
      period: 1,
      values: { 'HC+NOx': tenths / 10 },
    }));

  it('does not depend on the order of recording, and counts each engine once, at its first test', () => {
    fc.assert(
      fc.property(fc.array(test, { minLength: 1, maxLength: 15 }), (drawn) => {
        const tests = counted(drawn);
        const engines = testedEngines(tests);
        expect(testedEngines(tests.toReversed())).toEqual(engines);
        const { steps, decision } = pollutantStanding(terms, engines);
        expect(steps.map((one) => one.motor).sort()).toEqual(
          [...new Set(drawn.map((one) => one.motor))].sort(),
        );
        const days = steps.map((one) => one.testedOn);
        expect(days).toEqual(days.toSorted());
        for (const { motor, testedOn, deteriorated, exceeds } of steps) {
          const own = drawn.filter((one) => one.motor === motor);
          expect(testedOn).toBe(own.map((one) => one.testedOn).sort()[0]);
          // Within the two roundings, of half a tenth and, that being a half, of nothing.
          const mean = own.reduce((sum, one) => sum + one.tenths, 0) / own.length / 10;
          expect(Math.abs(deteriorated - (mean + 0.5))).toBeLessThanOrEqual(0.0500001);
          expect(exceeds).toBe(deteriorated > 20);
        }
        const family = familyStanding(
          [{ pollutant: 'HC+NOx', decision, rule: '', steps }],
          period ? [period] : [],
          engines,
        );
        expect(family.decision).toBe(decision);
      }),
      { numRuns: 150 },
    );
  });
});

describe('the weighted cycle', () => {
  it('of engines alike in every mode gives their one ratio, and scales with the rates', () => {
    const power = fc.integer({ min: 1, max: 200 });
    fc.assert(
      fc.property(fc.array(power, { minLength: 5, maxLength: 5 }), power, (powers, ratio) => {
        const modes = e4Modes.map(({ mode }, at) => ({
          mode,
          kilowatts: powers[at] ?? 0,
          gramsPerHour: ratio * (powers[at] ?? 0),
        }));
        expect(weightedCycleResult(modes).gramsPerKilowattHour / ratio).toBeCloseTo(1, 12);
      }),
      { numRuns: 50 },
    );
  });
});
