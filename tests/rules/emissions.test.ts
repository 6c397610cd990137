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
import { judgeSeries } from '../../src/statistics/judge-series.js';

const infinity = Number.POSITIVE_INFINITY;
const notFinite = [Number.NaN, infinity, -infinity];

describe('the lot rule', () => {
  it('passes a family that has run the tests asked for, with its mean at or below the standard', () => {
    // sigma 1, mean 10 below: N = (2.92 · 1 / 10)² + 1 = 1.085, so three tests are enough.
    const { points } = judgeSeries(startLot(20), [9, 10, 11], judgeLotTest);
    expect(points.map((point) => point.decision)).toEqual(['continue', 'pass', 'pass']);
    expect(points[2]).toMatchObject({ mean: 10, sigma: 1, required: { t95: 2.92, tests: 2 } });
  });

  it('does not pass a family whose mean is above the standard, however many tests it has run', () => {
    const { points } = judgeSeries(startLot(20), [20.9, 21.9, 21.4], judgeLotTest);
    // Sigma 0.5, mean 1.4 above: N = (2.92 · 0.5 / 1.4)² + 1 = 2.09.
    expect(points.at(-1)?.required?.tests).toBe(3);
    expect(points.at(-1)?.decision).toBe('continue');
  });

  it('goes on where the mean is the standard, to the last decimal', () => {
    // In doubles (0.1 + 0.2) / 2 is above 0.15.
    expect(meanMinus([0.1, 0.2], 0.15)).toBe(0);
    expect(meanMinus([20.1, 20.2], 20.15)).toBe(0);
    expect(requiredSampleSize([20.1, 20.2], 20.15)).toMatchObject({ formula: null, tests: null });
    const { points } = judgeSeries(startLot(20.15), [20.1, 20.2], judgeLotTest);
    expect(points[1]?.decision).toBe('continue');
  });

  it('starts from 0 even where the first engine is above the standard', () => {
    expect(judgeLotTest(startLot(20), 29)).toMatchObject({
      cumSum: 0,
      actionLimit: null,
      exceeded: false,
      decision: 'continue',
    });
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

  it('rounds the mean of repeat tests before the deterioration factor is applied', () => {
    // 1.2345 -> 1.23, twice that is 2.46; unrounded it would be 2.469 -> 2.47.
    expect(finalDeterioratedResult([1.2345], { kind: 'multiplicative', factor: 2 }, 1)).toBe(2.46);
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
