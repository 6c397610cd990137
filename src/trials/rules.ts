import { areCommensurable } from '../measurement/units.js';
import {
  acceptanceLimits,
  type Characteristic,
  type DerivedCharacteristic,
  type Reading,
} from '../testing/rules.js';
import { type Bounds, boundsIn } from './bounds.js';
import { deriveColumn } from './rederive.js';

/** Where the values for a characteristic come from among those of a past revision. */
export type Source =
  | { basis: 'as-judged' | 'converted'; position: number }
  | { basis: 'computed-again'; inputs: readonly DerivedInput[] }
  | { basis: 'not-measured'; reason: string };

interface DerivedInput {
  position: number;
  pastUnit: string;
  /** In which the derivation takes it. */
  unit: string;
}

/** A characteristic and how past values are held against it. */
export interface Check {
  characteristic: Characteristic;
  source: Source;
  /** UCUM code of the values and of the bounds; null for an attribute's answers, 0 and 1. */
  unit: string | null;
  /** Within which a value conforms. */
  acceptance: Bounds;
  /** The specification limits, in which true values belong. */
  tolerance: Bounds;
}

/** How runs of one past revision are judged: as they were, and by the specification on trial. */
export interface Plan {
  recorded: readonly Check[];
  trial: readonly Check[];
}

/** How runs that were judged by `past` are judged by `trial`. */
export function planOf(trial: readonly Characteristic[], past: readonly Characteristic[]): Plan {
  return { recorded: checksOf(past, past), trial: checksOf(trial, past) };
}

function checksOf(
  characteristics: readonly Characteristic[],
  past: readonly Characteristic[],
): Check[] {
  return characteristics.map((characteristic) => {
    const source = sourceOf(characteristic, characteristics, past);
    const unit = unitOf(characteristic, source, past);
    return { characteristic, source, unit, ...boundsOf(characteristic, unit) };
  });
}

function sourceOf(
  c: Characteristic,
  own: readonly Characteristic[],
  past: readonly Characteristic[],
): Source {
  const position = past.findIndex((one) => one.code === c.code);
  const before = past[position];
  if (c.kind === 'derived') {
    return before && isSameDerivation(c, own, before, past)
      ? { basis: 'as-judged', position }
      : derivedSource(c, own, past);
  }
  if (!before) return notMeasured('no characteristic has this code');
  if (c.kind === 'attribute' || before.kind === 'attribute') {
    if (c.kind === before.kind) return { basis: 'as-judged', position };
    return notMeasured(`${c.code} was ${before.kind}, not ${c.kind}`);
  }
  if (c.unit === before.unit) return { basis: 'as-judged', position };
  if (areCommensurable(before.unit, c.unit)) return { basis: 'converted', position };
  return notMeasured(`${before.unit} does not convert to ${c.unit}`);
}

function notMeasured(reason: string): Source {
  return { basis: 'not-measured', reason };
}

/** The same function of the same inputs in the same units: it gave the same value. */
function isSameDerivation(
  c: DerivedCharacteristic,
  own: readonly Characteristic[],
  before: Characteristic,
  past: readonly Characteristic[],
): boolean {
  if (before.kind !== 'derived' || before.unit !== c.unit) return false;
  const termsOf = (one: DerivedCharacteristic, among: readonly Characteristic[]) => [
    one.derivation.function,
    ...one.derivation.inputs.map((code) => [code, inputUnit(code, among)]),
  ];
  return JSON.stringify(termsOf(c, own)) === JSON.stringify(termsOf(before, past));
}

function inputUnit(code: string, among: readonly Characteristic[]): string | null {
  const input = among.find((one) => one.code === code);
  return input && input.kind !== 'attribute' ? input.unit : null;
}

function derivedSource(
  c: DerivedCharacteristic,
  own: readonly Characteristic[],
  past: readonly Characteristic[],
): Source {
  const inputs: DerivedInput[] = [];
  for (const code of c.derivation.inputs) {
    const input = own.find((one) => one.code === code);
    if (input?.kind !== 'measured') return notMeasured(`its input ${code} is not measured`);
    const source = sourceOf(input, own, past);
    if (source.basis === 'not-measured') {
      return notMeasured(`its input ${code} is missing: ${source.reason}`);
    }
    const pastUnit = inputUnit(code, past);
    if (source.basis === 'computed-again' || pastUnit === null) {
      throw new Error(`input ${code} of ${c.code} has no values of its own`);
    }
    inputs.push({ position: source.position, pastUnit, unit: input.unit });
  }
  return { basis: 'computed-again', inputs };
}

/** Values that are converted stay in their unit, and the bounds come to them. */
function unitOf(c: Characteristic, source: Source, past: readonly Characteristic[]): string | null {
  if (c.kind === 'attribute') return null;
  const before = source.basis === 'converted' ? past[source.position] : undefined;
  return before && before.kind !== 'attribute' ? before.unit : c.unit;
}

function boundsOf(c: Characteristic, unit: string | null): Pick<Check, 'acceptance' | 'tolerance'> {
  if (c.kind === 'attribute') {
    const answer = { lower: Number(c.expected), upper: Number(c.expected) };
    return { acceptance: answer, tolerance: answer };
  }
  return {
    acceptance: boundsIn(unit, acceptanceLimits(c), c.unit),
    tolerance: boundsIn(unit, { lower: c.lower, upper: c.upper }, c.unit),
  };
}

/** Whether a check can fail anything. */
export function isLimited({ tolerance }: Check): boolean {
  return tolerance.lower > -Infinity || tolerance.upper < Infinity;
}

/**
 * The values for a check, run by run, NaN where one was not measured; null if the revision
 * does not measure it.
 * @param column judged values of the past characteristic at a position
 */
export function valuesFor(
  { characteristic, source }: Check,
  column: (position: number) => Float64Array,
): Float64Array | null {
  if (source.basis === 'not-measured') return null;
  if (source.basis !== 'computed-again') return column(source.position);
  if (characteristic.kind !== 'derived') throw new Error(`${characteristic.code} is not derived`);
  const { lower, upper, unit, derivation } = characteristic;
  const limits = [acceptanceLimits(characteristic), { lower, upper }];
  const inputs = source.inputs.map(({ position, ...units }) => ({
    values: column(position),
    ...units,
  }));
  return deriveColumn({ function: derivation.function, unit, limits }, inputs);
}

/** What checks say of runs, run by run. */
export interface Findings {
  /** Characteristics that do not conform. */
  failed: Uint16Array;
  /** Required characteristics without a value. */
  lacking: Uint16Array;
}

/**
 * Judges many runs at once, with the verdict that `judgeRun` gives on each run's values.
 * Ten million values take some hundredths of a second.
 * @param values for each check, see `valuesFor`
 */
export function judgeColumns(
  checks: readonly Check[],
  values: readonly (Float64Array | null)[],
  count: number,
): Findings {
  const failed = new Uint16Array(count);
  const lacking = new Uint16Array(count);
  for (const [i, { characteristic, acceptance }] of checks.entries()) {
    const own = values[i] ?? new Float64Array(count).fill(Number.NaN);
    judgeColumn(own, acceptance, characteristic.required, { failed, lacking });
  }
  return { failed, lacking };
}

function judgeColumn(
  values: Float64Array,
  { lower, upper }: Bounds,
  required: boolean,
  { failed, lacking }: Findings,
): void {
  for (let row = 0; row < values.length; row += 1) {
    const value = values[row] as number;
    if (value < lower || value > upper) failed[row] = (failed[row] as number) + 1;
    else if (required && Number.isNaN(value)) lacking[row] = (lacking[row] as number) + 1;
  }
}

/** What becomes of a run's verdict. */
export const turns = [
  'pass-to-pass',
  'pass-to-fail',
  'fail-to-pass',
  'fail-to-fail',
  'not-judgeable',
] as const;
export type Turn = (typeof turns)[number];

/** @param findings on trial, and which of its runs */
export function turnOf(recordedPass: boolean, { failed, lacking }: Findings, row: number): Turn {
  if ((lacking[row] as number) > 0) return 'not-judgeable';
  const passes = failed[row] === 0;
  if (recordedPass) return passes ? 'pass-to-pass' : 'pass-to-fail';
  return passes ? 'fail-to-pass' : 'fail-to-fail';
}

/** On which side of the limits a value lies: -1 below, 1 above, 0 within or not measured. */
export function sideOf(
  values: Float64Array | null | undefined,
  row: number,
  within: Bounds,
): -1 | 0 | 1 {
  const value = values?.[row] ?? Number.NaN;
  if (value < within.lower) return -1;
  return value > within.upper ? 1 : 0;
}

/**
 * A run's judged values as readings for the specification on trial: what `judgeRun` judges it by.
 * @param judged in the past revision's order
 */
export function readingsFor(
  checks: readonly Check[],
  past: readonly Characteristic[],
  judged: readonly (number | boolean | null)[],
): Reading[] {
  return checks.flatMap(({ characteristic: { code, kind }, source }) => {
    if (kind === 'derived' || source.basis === 'not-measured') return [];
    if (source.basis === 'computed-again') return [];
    const value = judged[source.position] ?? null;
    const before = past[source.position];
    if (value === null || !before) return [];
    return [{ code, value, unit: before.kind === 'attribute' ? null : before.unit }];
  });
}
