import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeLotTest, type LotState, startLot } from '../../src/emissions/cumsum-lot-rule.js';
import { drawEngines } from '../../src/emissions/draw-engines.js';
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
