import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { acceptanceLimits } from '../../src/measurement/limits.js';
import { convert } from '../../src/measurement/units.js';
import { type DerivationName, derive } from '../../src/testing/derivations.js';
import {
  type Characteristic,
  characteristicFaults,
  judgeRun,
  judgeValue,
  type Reading,
} from '../../src/testing/rules.js';
import { boundsIn } from '../../src/trials/bounds.js';
import { deriveColumn } from '../../src/trials/rederive.js';
import {
  judgeColumns,
  planOf,
  readingsFor,
  sideOf,
  turnOf,
  valuesFor,
} from '../../src/trials/rules.js';

/** Whole steps of a hundredth, so that values meet limits often. */
const step = fc.integer({ min: -400, max: 400 }).map((n) => n / 100);
const orNull = <T>(arbitrary: fc.Arbitrary<T>) => fc.option(arbitrary, { nil: null });
const commensurable = {
  pressure: ['kPa', 'bar', 'mbar', '[psi]', "[in_i'Hg]"],
  temperature: ['Cel', 'K', '[degF]', '[degR]'],
  power: ['kW', 'W', '[HP]'],
} as const;
type Dimension = keyof typeof commensurable;
const dimensions = Object.keys(commensurable) as Dimension[];
/** Mostly of one dimension, so that values convert and derive. */
const unitOf = (dimension: Dimension) =>
  fc.oneof(
    { weight: 6, arbitrary: fc.constant<string>(commensurable[dimension][0]) },
    { weight: 4, arbitrary: fc.constantFrom<string>(...commensurable[dimension]) },
    { weight: 1, arbitrary: fc.constantFrom(...Object.values(commensurable).flat()) },
  );

interface Terms {
  required: boolean;
  unit: string;
  lower: number | null;
  upper: number | null;
  guardBand: number;
}
const termsIn = (dimension: Dimension): fc.Arbitrary<Terms> =>
  fc.record({
    required: fc.boolean(),
    unit: unitOf(dimension),
    lower: orNull(step),
    upper: orNull(step),
    guardBand: fc.constantFrom(0, 0, 0.01, 0.5),
  });

/** A sound characteristic from terms most of which are unsound at first. */
function numeric(code: string, { required, unit, ...limits }: Terms): Characteristic {
  const shape = (own: { lower: number | null; upper: number | null; guardBand: number }) => ({
    kind: 'measured' as const,
    code,
    name: code,
    required,
    unit,
    decimals: 2,
    standardUncertainty: null,
    nominal:
      own.lower === null ? (own.upper ?? 0) - 100 : own.upper === null ? own.lower + 100 : null,
    ...own,
  });
  const { lower, upper } = limits;
  const ordered =
    lower !== null && upper !== null && lower >= upper
      ? { ...limits, lower: upper, upper: upper + 1 + lower - upper }
      : limits;
  const tries = [ordered, { ...ordered, guardBand: 0 }, { lower: null, upper: null, guardBand: 0 }];
  const sound = tries.map(shape).find((one) => characteristicFaults([one]).length === 0);
  if (!sound) throw new Error(JSON.stringify(limits));
  return sound;
}

const attribute = (code: string, expected: boolean, required: boolean): Characteristic => ({
  kind: 'attribute',
  code,
  name: code,
  expected,
  required,
});

function derived(code: string, name: DerivationName, inputs: string[], own: Terms): Characteristic {
  return {
    ...(numeric(code, own) as object),
    kind: 'derived',
    derivation: { function: name, inputs },
  } as Characteristic;
}

/** A specification over a few codes: each measured, an attribute, derived, or not there. */
const specificationIn = (dimension: Dimension): fc.Arbitrary<Characteristic[]> => {
  const terms = termsIn(dimension);
  return fc
    .record({
      measured: fc.array(fc.record({ terms, present: fc.integer({ min: 0, max: 4 }) }), {
        minLength: 4,
        maxLength: 4,
      }),
      attribute: fc.record({ expected: fc.boolean(), required: fc.boolean(), kind: fc.nat(3) }),
      derived: fc.record({
        terms,
        name: fc.constantFrom<DerivationName>('mean', 'mean', 'difference', 'ratio', 'spread'),
        swapped: fc.nat(3),
        present: fc.nat(4),
        unit: unitOf(dimension),
      }),
    })
    .map(({ measured, attribute: asked, derived: over }) => {
      const all: Characteristic[] = measured.flatMap(({ terms: own, present }, i) =>
        present === 0 ? [] : [numeric(`m${i}`, own)],
      );
      if (asked.kind === 1 || asked.kind === 2) {
        all.push(attribute('a', asked.expected, asked.required));
      }
      if (asked.kind === 3) all.push(numeric('a', over.terms));
      const inputs = over.swapped === 0 ? ['m1', 'm0'] : ['m0', 'm1'];
      const tried = [over.unit, 'K', '[degR]', '1', '%']
        .map((unit) => derived('d', over.name, inputs, { ...over.terms, unit }))
        .find((one) => characteristicFaults([...all, one]).length === 0);
      if (over.present > 0 && tried) all.push(tried);
      return all.length === 0 ? [numeric('m0', over.terms)] : all;
    })
    .filter((all) => characteristicFaults(all).length === 0);
};
const specifications = fc
  .constantFrom(...dimensions)
  .chain((dimension) => fc.tuple(specificationIn(dimension), specificationIn(dimension)));

/** Values of one run that the past specification could have judged; some on limits of either. */
function runOf(
  past: readonly Characteristic[],
  trial: readonly Characteristic[],
  picks: readonly number[],
): (number | boolean | null)[] {
  const posted = past.flatMap((one, i): Reading[] => {
    const pick = picks[i] ?? 0;
    if (one.kind === 'derived' || (!one.required && pick % 5 === 0)) return [];
    if (one.kind === 'attribute') return [{ code: one.code, value: pick % 2 === 0, unit: null }];
    return [{ code: one.code, value: valueNear(one, trial, pick), unit: null }];
  });
  const judged = judgeRun(past, posted);
  if (judged.complete) return judged.run.judgements.map((one) => one.value);
  // A required derived value has no answer: the run as it would be without it.
  const eased = judgeRun(
    past.map((one) => ({ ...one, required: false })),
    posted,
  );
  if (!eased.complete) throw new Error(JSON.stringify(eased.missing));
  return eased.run.judgements.map((one) => one.value);
}

function valueNear(
  own: Exclude<Characteristic, { kind: 'attribute' }>,
  trial: readonly Characteristic[],
  pick: number,
): number {
  const other = trial.find((one) => one.code === own.code);
  const limitsOf = (one: Characteristic | undefined, unit: string) => {
    if (!one || one.kind === 'attribute') return [];
    try {
      return Object.values(acceptanceLimits(one)).flatMap((limit: number | null) =>
        limit === null ? [] : [convert(limit, one.unit, unit)],
      );
    } catch {
      return [];
    }
  };
  const edges = [...limitsOf(own, own.unit), ...limitsOf(other, own.unit)];
  const edge = edges[pick % Math.max(1, edges.length)];
  if (edge === undefined || pick % 3 === 0) return ((pick % 801) - 400) / 100;
  // On the limit, and the next double on either side.
  return edge + (((pick >> 4) % 3) - 1) * Math.abs(edge) * Number.EPSILON;
}

const picks = fc.array(fc.nat(100_000), { minLength: 8, maxLength: 8 });

describe('a trial', () => {
  it('gives each run the verdict that judging it by itself gives', () => {
    let complete = 0;
    let changed = 0;
    let derivedAgain = 0;
    fc.assert(
      fc.property(
        specifications,
        fc.array(picks, { minLength: 1, maxLength: 12 }),
        ([past, trial], runs) => {
          const plan = planOf(trial, past);
          if (plan.trial.some((check) => check.source.basis === 'computed-again'))
            derivedAgain += 1;
          const judged = runs.map((one) => runOf(past, trial, one));
          const column = (position: number) =>
            Float64Array.from(judged, (run) =>
              run[position] === null ? Number.NaN : Number(run[position]),
            );
          const values = plan.trial.map((check) => valuesFor(check, column));
          const recordedValues = plan.recorded.map((check) => valuesFor(check, column));
          const findings = judgeColumns(plan.trial, values, runs.length);
          const recorded = judgeColumns(plan.recorded, recordedValues, runs.length);
          for (const [row, run] of judged.entries()) {
            const answer = judgeRun(trial, ownReadings(trial, past, run));
            expect(readingsFor(plan.trial, past, run)).toEqual(ownReadings(trial, past, run));
            const was = past.every((one, i) => judgeValue(one, run[i] ?? null).conforms !== false);
            expect(recorded.failed[row] === 0).toBe(was);
            const turn = turnOf(was, findings, row);
            if (!answer.complete) {
              expect(turn).toBe('not-judgeable');
              continue;
            }
            complete += 1;
            expect(turn).toBe(`${was ? 'pass' : 'fail'}-to-${answer.run.verdict}`);
            if (was !== (answer.run.verdict === 'pass')) changed += 1;
            const failed = plan.trial
              .filter((check, i) => sideOf(values[i], row, check.acceptance) !== 0)
              .map((check) => check.characteristic.code);
            expect(failed).toEqual(answer.run.failed);
          }
        },
      ),
      { numRuns: 600 },
    );
    // Else the property would hold of nothing.
    expect(complete).toBeGreaterThan(500);
    expect(changed).toBeGreaterThan(100);
    expect(derivedAgain).toBeGreaterThan(50);
  });

  it('draws bounds in another unit where converting each value would', () => {
    const pairs = Object.values(commensurable).flatMap((list) =>
      list.flatMap((a) => list.map((b) => [a, b] as const)),
    );
    const number = fc.oneof(step, fc.double({ min: -1e6, max: 1e6, noNaN: true }));
    fc.assert(
      fc.property(
        fc.constantFrom(...pairs),
        number,
        number,
        fc.nat(8),
        ([from, to], limit, far, near) => {
          const { lower, upper } = boundsIn(from, { lower: limit, upper: limit }, to);
          const edge = convert(limit, to, from);
          for (const value of [
            edge + (near - 4) * Math.abs(edge) * Number.EPSILON,
            edge + far,
            far,
          ]) {
            expect(value >= lower).toBe(convert(value, from, to) >= limit);
            expect(value <= upper).toBe(convert(value, from, to) <= limit);
          }
        },
      ),
      { numRuns: 800 },
    );
  });

  it('derives many runs as each by itself: within 1e-12, and on the same side of every limit', () => {
    const inputsOf: Record<DerivationName, fc.Arbitrary<[number, string, string][]>> = {
      'power-corrected-iso-1585': correctionInputs(),
      'power-corrected-j1349': correctionInputs(),
      difference: alike(2),
      ratio: alike(2),
      mean: alike(3),
      spread: alike(4),
    };
    const asked = fc
      .constantFrom(...(Object.keys(inputsOf) as DerivationName[]))
      .chain((name) => inputsOf[name].map((inputs) => ({ name, inputs })));
    let computed = 0;
    fc.assert(
      fc.property(asked, fc.nat(4), ({ name, inputs }, near) => {
        const unit =
          name === 'ratio'
            ? '%'
            : inputs[0]?.[2] === 'Cel' && name !== 'mean'
              ? 'K'
              : (inputs[0]?.[2] ?? '');
        const quantities = inputs.map(([value, pastUnit, own]) => ({
          value: convert(value, pastUnit, own),
          unit: own,
        }));
        const one = derive(name, quantities, unit);
        const limit = one.computable ? one.value + (near - 2) * Math.abs(one.value) * 1e-15 : 0;
        const [found] = deriveColumn(
          { function: name, unit, limits: [{ lower: limit, upper: limit + 1 }] },
          inputs.map(([value, pastUnit, own]) => ({
            values: Float64Array.of(value),
            pastUnit,
            unit: own,
          })),
        );
        if (!one.computable) {
          expect(found).toBeNaN();
          return;
        }
        computed += 1;
        expect(found).toBe(one.value);
        const [free = Number.NaN] = deriveColumn(
          { function: name, unit, limits: [] },
          inputs.map(([value, pastUnit, own]) => ({
            values: Float64Array.of(value),
            pastUnit,
            unit: own,
          })),
        );
        const size = Math.max(
          Math.abs(one.value),
          ...(name.startsWith('power') || name === 'ratio'
            ? [1]
            : quantities.map((q) => Math.abs(q.value) + 500)),
        );
        expect(Math.abs(free - one.value)).toBeLessThanOrEqual(1e-12 * size);
      }),
      { numRuns: 800 },
    );
    expect(computed).toBeGreaterThan(400);
  });
});

/** The readings that a run's judged values stand for, written without the code under test. */
function ownReadings(
  trial: readonly Characteristic[],
  past: readonly Characteristic[],
  run: readonly (number | boolean | null)[],
): Reading[] {
  return trial.flatMap((one): Reading[] => {
    const at = past.findIndex((other) => other.code === one.code);
    const before = past[at];
    const value = run[at] ?? null;
    if (!before || value === null || one.kind === 'derived') return [];
    if (before.kind === 'attribute' || one.kind === 'attribute') {
      return before.kind === one.kind ? [{ code: one.code, value, unit: null }] : [];
    }
    const known = Object.values(commensurable).find((list) => list.includes(one.unit as never));
    return known?.includes(before.unit as never)
      ? [{ code: one.code, value, unit: before.unit }]
      : [];
  });
}

function correctionInputs(): fc.Arbitrary<[number, string, string][]> {
  return fc
    .tuple(
      fc.integer({ min: -10, max: 20_000 }),
      fc.oneof(fc.integer({ min: 8800, max: 10_800 }), fc.integer({ min: -10, max: 10 })),
      fc.oneof(fc.integer({ min: -200, max: 500 }), fc.integer({ min: -2800, max: -2600 })),
    )
    .map(([power, pressure, temperature]) => [
      [power / 100, 'kW', '[HP]'],
      [pressure / 100, 'kPa', 'mbar'],
      [temperature / 10, 'Cel', '[degF]'],
    ]);
}

function alike(count: number): fc.Arbitrary<[number, string, string][]> {
  const units = fc.constantFrom<[string, string]>(
    ['kPa', 'bar'],
    ['kPa', 'kPa'],
    ['[degF]', 'Cel'],
  );
  return fc
    .tuple(units, fc.array(step, { minLength: count, maxLength: count }))
    .map(([[from, to], values]) => values.map((value) => [value, from, to]));
}
