import { describe, expect, it } from 'vitest';
import { expectedVerdictErrors, globalRisks } from '../../src/statistics/conformity-risk.js';
import { moments } from '../../src/statistics/moments.js';
import { normalCdf } from '../../src/statistics/normal-cdf.js';
import type { DerivationName } from '../../src/testing/derivations.js';
import type {
  AttributeCharacteristic,
  DerivedCharacteristic,
  MeasuredCharacteristic,
} from '../../src/testing/rules.js';
import { boundsIn, intervalRatio } from '../../src/trials/bounds.js';
import { quickNormalCdf } from '../../src/trials/quick-normal-cdf.js';
import { conformanceOf, ErrorSum, Pool, RiskTally, uncertaintyIn } from '../../src/trials/risks.js';
import { type Check, judgeColumns, planOf, turnOf, valuesFor } from '../../src/trials/rules.js';

function measured(code: string, own: Partial<MeasuredCharacteristic> = {}): MeasuredCharacteristic {
  return {
    kind: 'measured',
    code,
    name: code,
    required: true,
    unit: 'kPa',
    lower: 50,
    upper: 150,
    guardBand: 0,
    nominal: null,
    standardUncertainty: null,
    decimals: 1,
    ...own,
  };
}

function derived(
  code: string,
  name: DerivationName,
  inputs: string[],
  own: Partial<MeasuredCharacteristic> = {},
): DerivedCharacteristic {
  return { ...measured(code, own), kind: 'derived', derivation: { function: name, inputs } };
}

const attribute = (code: string, expected = true): AttributeCharacteristic => ({
  kind: 'attribute',
  code,
  name: code,
  required: true,
  expected,
});

describe('where a trial takes its values from', () => {
  const past = [
    measured('a'),
    measured('b'),
    derived('d', 'difference', ['a', 'b']),
    attribute('seen'),
  ];
  const basisOf = (...trial: Parameters<typeof planOf>[0][number][]) =>
    planOf(trial, past).trial.map((check) => check.source.basis);

  it('is the judged value, or that value in another unit', () => {
    expect(basisOf(measured('a'), measured('b', { unit: 'bar' }), attribute('seen'))).toEqual([
      'as-judged',
      'converted',
      'as-judged',
    ]);
    expect(basisOf(measured('d', { unit: 'mbar' }))).toEqual(['converted']);
  });

  it('is nothing where the code was not there, or stood for something else', () => {
    const reasons = planOf(
      [measured('new'), measured('a', { unit: 'Cel' }), attribute('b'), measured('seen')],
      past,
    ).trial.map((check) => ('reason' in check.source ? check.source.reason : null));
    expect(reasons).toEqual([
      'no characteristic has this code',
      'kPa does not convert to Cel',
      'b was measured, not attribute',
      'seen was attribute, not measured',
    ]);
  });

  it('is the judged value of a derivation only where function, inputs and all units are the same', () => {
    const d = derived('d', 'difference', ['a', 'b']);
    const [a, b] = [measured('a'), measured('b')];
    expect(basisOf(a, b, d)[2]).toBe('as-judged');
    expect(basisOf(a, b, { ...d, upper: 99 })[2]).toBe('as-judged');
    expect(basisOf(a, b, { ...d, unit: 'bar' })[2]).toBe('computed-again');
    expect(basisOf(a, measured('b', { unit: 'bar' }), d)[2]).toBe('computed-again');
    expect(basisOf(a, b, derived('d', 'difference', ['b', 'a']))[2]).toBe('computed-again');
    expect(basisOf(a, b, derived('d', 'mean', ['a', 'b']))[2]).toBe('computed-again');
    expect(basisOf(a, b, derived('e', 'difference', ['a', 'b']))[2]).toBe('computed-again');
    expect(basisOf(a, measured('c'), derived('d', 'mean', ['a', 'c']))[2]).toBe('not-measured');
  });

  it('is computed again from the values as the new specification takes them', () => {
    const trial = [measured('a'), measured('b', { unit: 'bar' }), derived('d', 'mean', ['a', 'b'])];
    const check = planOf(trial, past).trial[2];
    if (!check) throw new Error('no check');
    const columns = [Float64Array.of(100, 100), Float64Array.of(60, Number.NaN)];
    const values = valuesFor(check, (position) => columns[position] ?? new Float64Array(2));
    // (100 kPa + 60 kPa) / 2, and nothing without b.
    expect([...(values ?? [])]).toEqual([80, Number.NaN]);
  });
});

describe('the verdict on many runs at once', () => {
  it('fails beyond an acceptance limit, not on it, and does not judge what is required and missing', () => {
    const trial = [
      measured('a', { guardBand: 5 }),
      measured('b', { required: false }),
      attribute('seen'),
    ];
    const { trial: checks } = planOf(trial, trial);
    const nothing = Number.NaN;
    const columns = [
      // Acceptance limits 55 and 145.
      Float64Array.of(55, 54.999, 145.001, nothing, 100, 100),
      Float64Array.of(nothing, 100, 100, 100, 150, 151),
      Float64Array.of(1, 1, 1, 0, 1, 1),
    ];
    const findings = judgeColumns(checks, columns, 6);
    const turns = Array.from({ length: 6 }, (_, row) => turnOf(row % 2 === 0, findings, row));
    expect(turns).toEqual([
      'pass-to-pass',
      'fail-to-fail',
      'pass-to-fail',
      'not-judgeable',
      'pass-to-pass',
      'fail-to-fail',
    ]);
    expect([...findings.failed]).toEqual([0, 1, 1, 1, 0, 1]);
  });

  it('holds a converted value against the limit on it: 1 bar is 100 kPa', () => {
    const bounds = boundsIn('bar', { lower: 50, upper: 100 }, 'kPa');
    expect(1 <= bounds.upper && 0.5 >= bounds.lower).toBe(true);
    expect(1.0000000000000002 <= bounds.upper).toBe(false);
    // 32 °F is 0 °C, where doubles are infinitely fine on one side and not on the other.
    const zero = boundsIn('[degF]', { lower: 0, upper: 0 }, 'Cel');
    expect(zero.lower <= 32 && 32 <= zero.upper).toBe(true);
    expect(zero.lower).toBeGreaterThan(31.999999);
    expect(zero.upper).toBeLessThan(32.000001);
  });

  it('leaves a side without a limit open', () => {
    expect(boundsIn('bar', { lower: null, upper: null }, 'kPa')).toEqual({
      lower: -Infinity,
      upper: Infinity,
    });
  });

  it('takes 1 °C as an interval of 1.8 °F, and 1 bar as 100 kPa', () => {
    expect(intervalRatio('Cel', '[degF]')).toBe(1.8);
    expect(intervalRatio('bar', 'kPa')).toBe(100);
    expect(intervalRatio('K', 'Cel')).toBe(1);
  });
});

describe('the risks of a trial (JCGM 106:2012)', () => {
  const values = Float64Array.of(49, 50.5, 100, Number.NaN, 149, 151, 4000);
  const rows = [0, 1, 2, 3, 4, 5, 6];
  const c = measured('a', { guardBand: 1, standardUncertainty: 0.8 });
  const [check] = planOf([c], [c]).trial;
  if (!check) throw new Error('no check');
  const add = (tally: RiskTally, by: Check, column: Float64Array, of: number[]) =>
    tally.add(by, column, of, conformanceOf(column, of, by.tolerance, 0.8), Pool.of(column, of));
  const stated = { value: 0.8, unit: 'kPa', statedBy: 'trial' as const };

  it('are those of the statistics for each value', () => {
    const tally = new RiskTally();
    add(tally, check, values, rows);
    const rule = {
      tolerance: { lower: 50, upper: 150 },
      acceptance: { lower: 51, upper: 149 },
      standardUncertainty: 0.8,
    };
    const measuredOnes = [...values].filter((value) => !Number.isNaN(value));
    const wanted = expectedVerdictErrors(measuredOnes, rule);
    expect(tally.values).toBe(6);
    expect(tally.errors.falseAccepts).toBeCloseTo(wanted.expectedFalseAccepts, 13);
    expect(tally.errors.falseRejects).toBeCloseTo(wanted.expectedFalseRejects, 13);
    expect(wanted.expectedFalseRejects).toBeGreaterThan(0.5);
  });

  it('are the same in another unit', () => {
    const inBar = measured('a', { unit: 'bar', lower: 0.5, upper: 1.5, guardBand: 0.01 });
    const [other] = planOf([inBar], [c]).trial;
    if (!other) throw new Error('no check');
    expect(other.unit).toBe('kPa');
    expect(uncertaintyIn(other, { ...stated, value: 0.008, unit: 'bar' })).toBeCloseTo(0.8, 15);
    const here = conformanceOf(values, rows, check.tolerance, 0.8);
    const there = conformanceOf(values, rows, other.tolerance, 0.8);
    for (const row of [0, 1, 2, 4, 5, 6]) expect(there[row]).toBeCloseTo(here[row] ?? 0, 12);
  });

  it('of values taken as true are none, but for what a guard band rejects', () => {
    const exact = conformanceOf(values, rows, check.tolerance, null);
    expect([...exact]).toEqual([0, 1, 1, Number.NaN, 1, 0, 0]);
    const sum = new ErrorSum();
    // 50.5 conforms, and lies in the guard band.
    sum.add(false, exact[1] ?? 0);
    expect(sum).toMatchObject({ falseAccepts: 0, falseRejects: 1 });
    expect(uncertaintyIn(check, undefined)).toBeNull();
    expect(uncertaintyIn(check, { ...stated, unit: 'Cel' })).toBeNull();
  });

  it('of the population are those of the normal one behind the readings', () => {
    const tally = new RiskTally();
    const readings = Array.from({ length: 400 }, (_, i) => 100 + 20 * Math.sin(i));
    const all = readings.map((_, i) => i);
    const column = Float64Array.from(readings);
    // Half as kPa and half as bar, as two revisions had it.
    add(tally, check, column, all.slice(0, 150));
    const asBar = Float64Array.from(readings, (value) => value / 100);
    add(tally, { ...check, unit: 'bar' }, asBar, all.slice(150));
    const { mean, standardDeviation } = moments(readings);
    const wanted = globalRisks(
      { mean, standardDeviation: Math.sqrt(standardDeviation ** 2 - 0.8 ** 2) },
      {
        tolerance: { lower: 50, upper: 150 },
        acceptance: { lower: 51, upper: 149 },
        standardUncertainty: 0.8,
      },
    );
    const found = tally.ofPopulation(c, 0.8);
    if (typeof found === 'string') throw new Error(found);
    expect(found.consumer / wanted.consumer).toBeCloseTo(1, 9);
    expect(found.producer / wanted.producer).toBeCloseTo(1, 9);
  });

  it('of no population are refused in words', () => {
    const tally = new RiskTally();
    expect(tally.ofPopulation(c, 0.8)).toMatch(/Fewer than two/);
    const same = Float64Array.of(100, 100, 100);
    add(tally, check, same, [0, 1, 2]);
    expect(tally.ofPopulation(c, 0.8)).toMatch(/no more than the measurement/);
    const huge = Float64Array.of(1e200);
    add(tally, check, huge, [0]);
    expect(tally.ofPopulation(c, 0.8)).toMatch(/too large/);
  });
});

describe('the tabulated normal distribution', () => {
  it('is that of the statistics to 1e-14, between its steps and beyond its ends', () => {
    let farthest = 0;
    for (let z = -9.5; z < 9.5; z += 0.00037) {
      farthest = Math.max(farthest, Math.abs(quickNormalCdf(z) - normalCdf(z)));
    }
    expect(farthest).toBeLessThan(1e-14);
    expect([-Infinity, -8, 8, Infinity].map(quickNormalCdf)).toEqual([0, 0, 1, 1]);
    // Φ(1.40) = 0.9192 in any table.
    expect(quickNormalCdf(1.4)).toBeCloseTo(0.9192, 4);
  });
});

describe('a sample in parts', () => {
  it('has the moments of the whole', () => {
    const sample = Array.from({ length: 97 }, (_, i) => 1e5 + Math.sin(i * i));
    const pool = new Pool();
    for (const [from = 0, to = 0] of [
      [0, 1],
      [1, 1],
      [1, 60],
      [60, 97],
    ]) {
      const rows = Array.from({ length: to - from }, (_, i) => from + i);
      pool.join(Pool.of(Float64Array.from(sample), rows));
    }
    const wanted = moments(sample);
    const found = pool.moments();
    expect(found?.count).toBe(97);
    expect(found?.mean).toBeCloseTo(wanted.mean, 9);
    // A mean a hundred thousand times the spread costs it five of sixteen digits.
    expect((found?.standardDeviation ?? 0) / wanted.standardDeviation).toBeCloseTo(1, 10);
    // 0.1 °C is 0.18 °F of spread about another place.
    const inFahrenheit = pool.in('Cel', '[degF]').moments();
    expect(inFahrenheit?.mean).toBeCloseTo(wanted.mean * 1.8 + 32, 8);
    expect((inFahrenheit?.standardDeviation ?? 0) / wanted.standardDeviation).toBeCloseTo(1.8, 10);
  });

  it('of one value has none', () => {
    expect(Pool.of(Float64Array.of(3, Number.NaN), [0, 1]).moments()).toBeNull();
  });
});
