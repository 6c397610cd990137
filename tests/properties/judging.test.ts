import { Decimal } from 'decimal.js';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { areCommensurable, convert, unitsOfMeasure } from '../../src/measurement/units.js';
import {
  acceptanceLimits,
  type Characteristic,
  characteristicFaults,
  type JudgedRun,
  judgeRun,
  type MeasuredCharacteristic,
  type Reading,
  readingFault,
} from '../../src/testing/rules.js';

/** A number with up to three decimals, as plants write limits and cells post readings. */
const plain = fc.integer({ min: -2_000_000, max: 2_000_000 }).map((n) => n / 1000);
const anyDouble = fc.double({ noNaN: true, noDefaultInfinity: true });
const orNull = <T>(arbitrary: fc.Arbitrary<T>) => fc.option(arbitrary, { nil: null });

function measuredOf(number: fc.Arbitrary<number>): fc.Arbitrary<MeasuredCharacteristic> {
  return fc
    .record({
      kind: fc.constant('measured' as const),
      code: fc.constantFrom('a', 'b', 'c', 'd'),
      name: fc.constant('Something measured'),
      required: fc.boolean(),
      unit: fc.constantFrom('kPa', 'Cel', 'mm', 'N.m', '/min'),
      decimals: fc.integer({ min: 0, max: 9 }),
      lower: orNull(number),
      upper: orNull(number),
      guardBand: fc.oneof(fc.constant(0), number.map(Math.abs)),
      nominal: orNull(number),
      standardUncertainty: orNull(fc.constantFrom(0.001, 0.5, 20)),
    })
    .map((c) => {
      // Most random limits are unsound: put them in order, and give up the
      // guard band or the nominal value where they do not fit.
      const ordered =
        c.lower !== null && c.upper !== null && c.lower > c.upper
          ? { ...c, lower: c.upper, upper: c.lower }
          : c;
      const repairs = [
        ordered,
        { ...ordered, guardBand: 0 },
        { ...ordered, guardBand: 0, nominal: null },
      ];
      return repairs.find((one) => characteristicFaults([one]).length === 0) ?? ordered;
    })
    .filter((c) => characteristicFaults([c]).length === 0);
}

const limited = (number: fc.Arbitrary<number>) =>
  measuredOf(number).filter((c) => c.lower !== null || c.upper !== null);

function judged(
  characteristics: readonly Characteristic[],
  readings: readonly Reading[],
): JudgedRun {
  const result = judgeRun(characteristics, readings);
  if (!result.complete) throw new Error(JSON.stringify(result.missing));
  return result.run;
}

function judgementOf(c: MeasuredCharacteristic, value: number, unit: string | null = null) {
  const judgement = judged([c], [{ code: c.code, value, unit }]).judgements[0];
  if (judgement === undefined) throw new Error('no judgement');
  return judgement;
}

/** Where the margin is 1: the middle of the limits, or the nominal value beside one. */
function middleOf(c: MeasuredCharacteristic): number {
  if (c.lower !== null && c.upper !== null) return (c.lower + c.upper) / 2;
  return c.nominal ?? Number.NaN;
}

describe('judging a value', () => {
  it('never fails a conforming value for moving towards the middle', () => {
    fc.assert(
      fc.property(
        limited(plain),
        plain,
        fc.double({ min: 0, max: 1, noNaN: true }),
        (c, value, part) => {
          const before = judgementOf(c, value);
          const moved = value + (middleOf(c) - value) * part;
          const after = judgementOf(c, moved);
          if (before.conforms) expect(after.conforms).toBe(true);
          if (c.lower !== null && c.upper !== null) {
            expect(after.margin).toBeGreaterThanOrEqual((before.margin ?? 0) - 1e-9);
          }
        },
      ),
    );
  });

  it('gives the margin that decimal arithmetic gives, to twelve digits', () => {
    fc.assert(
      fc.property(limited(plain), plain, (c, value) => {
        const { lower, upper } = acceptanceLimits(c);
        const below = lower === null ? null : new Decimal(value).minus(lower);
        const above = upper === null ? null : new Decimal(upper).minus(value);
        const half =
          lower !== null && upper !== null
            ? new Decimal(upper).minus(lower).div(2)
            : new Decimal(c.nominal ?? Number.NaN).minus(lower ?? upper ?? Number.NaN).abs();
        const nearest = Decimal.min(below ?? above ?? 0, above ?? below ?? 0);
        const wanted = nearest.div(half).toNumber();
        const found = judgementOf(c, value).margin ?? Number.NaN;
        expect(Math.abs(found - wanted)).toBeLessThanOrEqual(1e-11 * Math.abs(wanted));
      }),
    );
  });

  it('gives a margin whose sign agrees with conforming, for any numbers at all', () => {
    fc.assert(
      fc.property(
        measuredOf(fc.oneof(plain, anyDouble)),
        fc.oneof(plain, anyDouble),
        (c, value) => {
          const { conforms, margin } = judgementOf(c, value);
          expect(margin === null).toBe(conforms === null);
          if (margin !== null) {
            expect(Number.isFinite(margin)).toBe(true);
            expect(margin >= 0).toBe(conforms);
          }
        },
      ),
      { numRuns: 500 },
    );
  });

  it('gives margin 0 and conforms on each acceptance limit', () => {
    fc.assert(
      fc.property(limited(plain), (c) => {
        // Thousandths add up exactly as integers.
        const thousandths = (n: number) => Math.round(n * 1000);
        const limits = [
          c.lower === null ? null : (thousandths(c.lower) + thousandths(c.guardBand)) / 1000,
          c.upper === null ? null : (thousandths(c.upper) - thousandths(c.guardBand)) / 1000,
        ];
        for (const limit of limits) {
          if (limit === null) continue;
          expect(judgementOf(c, limit)).toMatchObject({ conforms: true, margin: 0 });
        }
      }),
    );
  });

  it('gives a probability of conformance between 0 and 1, above one half only inside the limits', () => {
    fc.assert(
      fc.property(limited(plain), plain, (c, value) => {
        const { conformanceProbability: p } = judgementOf(c, value);
        expect(p === null).toBe(c.standardUncertainty === null);
        if (p === null) return;
        expect(p).toBeGreaterThanOrEqual(0);
        expect(p).toBeLessThanOrEqual(1);
        const inside =
          (c.lower === null || value >= c.lower) && (c.upper === null || value <= c.upper);
        if (p > 0.5 + 1e-12) expect(inside).toBe(true);
      }),
    );
  });
});

describe('the unit a reading is posted in', () => {
  // Pairs in which both ways of writing a value are finite decimals. The second
  // one is worked out here in whole numbers.
  const writings: { unit: string; posted: string; of: (n: number) => [number, number] }[] = [
    { unit: 'mm', posted: '[in_i]', of: (n) => [(n * 254) / 10_000, n / 1000] },
    { unit: 'Cel', posted: '[degF]', of: (n) => [n / 10, (n * 18 + 3200) / 100] },
    { unit: 'Cel', posted: 'K', of: (n) => [n / 100, (n + 27_315) / 100] },
    { unit: 'kPa', posted: 'bar', of: (n) => [n / 100, n / 10_000] },
    { unit: 'kPa', posted: 'Pa', of: (n) => [n / 1000, n] },
    { unit: '/min', posted: '/s', of: (n) => [(n * 60) / 100, n / 100] },
    { unit: 'N.m', posted: 'cN.m', of: (n) => [n / 100, n] },
  ];

  it('does not change the judgement, not even on a limit', () => {
    const counts = fc.integer({ min: -50_000, max: 50_000 });
    fc.assert(
      fc.property(
        fc.constantFrom(...writings),
        counts,
        fc.nat(3),
        limited(plain),
        (w, n, near, c) => {
          const [own, other] = w.of(n);
          // Half of the time the limit is the very value.
          const upper = near % 2 === 0 ? own : own + near;
          const here = { ...c, unit: w.unit, lower: null, upper, guardBand: 0, nominal: upper - 7 };
          expect(judgementOf(here, other, w.posted)).toEqual(judgementOf(here, own));
          expect(judgementOf(here, own, w.unit)).toEqual(judgementOf(here, own));
        },
      ),
      { numRuns: 500 },
    );
  });

  it('moves the value by no more than its rounding, for every pair of the table', () => {
    fc.assert(
      fc.property(fc.constantFrom(...unitsOfMeasure), plain, (unit, value) => {
        for (const { code } of unitsOfMeasure.filter((u) => areCommensurable(u.code, unit.code))) {
          const back = convert(convert(value, unit.code, code), code, unit.code);
          // An offset of 459.67 takes digits from values near zero.
          expect(Math.abs(back - value)).toBeLessThan(1e-12 * Math.max(1, Math.abs(value)));
        }
      }),
    );
  });
});

describe('judging a run', () => {
  const specification = fc
    .uniqueArray(measuredOf(plain), { selector: (c) => c.code, minLength: 1, maxLength: 4 })
    .map((list) => list.map((c) => ({ ...c, required: true })));
  const reading = fc.record({
    code: fc.constantFrom('a', 'b', 'c', 'd'),
    value: plain,
    unit: fc.constant(null),
  });

  it('counts the last reading of each code, whatever came before', () => {
    fc.assert(
      fc.property(
        specification,
        fc.array(reading),
        fc.array(plain, { minLength: 4, maxLength: 4 }),
        (spec, before, values) => {
          const last = spec.map(
            (c, i): Reading => ({ code: c.code, value: values[i] ?? 0, unit: null }),
          );
          expect(judgeRun(spec, [...before, ...last])).toEqual(judgeRun(spec, last));
          expect(judgeRun(spec, [...before, ...[...last].reverse()])).toEqual(judgeRun(spec, last));
        },
      ),
    );
  });

  it('passes exactly when no characteristic fails', () => {
    fc.assert(
      fc.property(
        specification,
        fc.array(plain, { minLength: 4, maxLength: 4 }),
        (spec, values) => {
          const readings = spec.map(
            (c, i): Reading => ({ code: c.code, value: values[i] ?? 0, unit: null }),
          );
          const run = judged(spec, readings);
          expect(run.judgements.map((j) => j.code)).toEqual(spec.map((c) => c.code));
          expect(run.failed).toEqual(
            run.judgements.filter((j) => j.conforms === false).map((j) => j.code),
          );
          expect(run.verdict).toBe(run.failed.length === 0 ? 'pass' : 'fail');
        },
      ),
    );
  });

  it('is complete exactly when every characteristic has a reading that can be taken', () => {
    const odd = fc.record({
      code: fc.constantFrom('a', 'b', 'c', 'd'),
      value: fc.oneof(plain, fc.boolean(), fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY)),
      unit: fc.constantFrom(null, 'kPa', 'Cel', 'furlong', '[psi]'),
    });
    fc.assert(
      fc.property(specification, fc.array(odd, { maxLength: 8 }), (spec, readings) => {
        const result = judgeRun(spec, readings);
        const wanting = spec.filter((c) => {
          const last = readings.findLast((r) => r.code === c.code);
          return last === undefined || readingFault(c, last) !== null;
        });
        expect(result.complete).toBe(wanting.length === 0);
        if (!result.complete) {
          expect(result.missing.map((m) => m.code)).toEqual(wanting.map((c) => c.code));
        }
      }),
      { numRuns: 300 },
    );
  });
});
