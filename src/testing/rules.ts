import {
  conformanceProbability,
  conforms,
  type Limits,
  limitFaults,
  margin,
} from '../measurement/limits.js';
import { areCommensurable, convert, unitByCode } from '../measurement/units.js';
import { type DerivationName, derivationFault, derive, type Quantity } from './derivations.js';

export {
  acceptanceLimits,
  conformanceProbability,
  guardBandFor,
  type Limits,
  margin,
} from '../measurement/limits.js';

interface Common {
  code: string;
  name: string;
  required: boolean;
}

interface Numeric extends Common, Limits {
  /** UCUM code. */
  unit: string;
  /** For display only: values are judged unrounded. */
  decimals: number;
  /** Of one reading, in the unit; null if not known. */
  standardUncertainty: number | null;
}

export interface MeasuredCharacteristic extends Numeric {
  kind: 'measured';
}

export interface AttributeCharacteristic extends Common {
  kind: 'attribute';
  expected: boolean;
}

export interface DerivedCharacteristic extends Numeric {
  kind: 'derived';
  derivation: { function: DerivationName; inputs: string[] };
}

export type Characteristic =
  | MeasuredCharacteristic
  | AttributeCharacteristic
  | DerivedCharacteristic;

export interface Reading {
  code: string;
  value: number | boolean;
  /** Null: the value is in the characteristic's own unit, or answers an attribute. */
  unit: string | null;
}

export interface Judgement {
  code: string;
  /** In the characteristic's unit; null if optional and not measured. */
  value: number | boolean | null;
  /** Null where there are no limits, or nothing was measured. */
  conforms: boolean | null;
  margin: number | null;
  conformanceProbability: number | null;
}

export interface JudgedRun {
  verdict: 'pass' | 'fail';
  /** In the specification's order, one for every characteristic. */
  judgements: Judgement[];
  /** Codes of the characteristics that do not conform, in the same order. */
  failed: string[];
}

export type RunJudgement =
  | { complete: true; run: JudgedRun }
  | {
      complete: false;
      missing: { code: string; reason: string }[];
      /** Those that could be judged, and the rest without a value: as a run stands so far. */
      judgements: Judgement[];
    };

/** Why a reading of this characteristic cannot be taken, in plain words; null if it can. */
export function readingFault(c: Characteristic, r: Reading): string | null {
  if (c.kind === 'derived') return `${c.code} is computed from other readings and cannot be posted`;
  if (c.kind === 'attribute') {
    if (typeof r.value !== 'boolean') return `${c.code} is answered with true or false`;
    return r.unit === null ? null : `${c.code} is answered with true or false, without a unit`;
  }
  if (typeof r.value !== 'number') return `${c.code} is measured and takes a number`;
  if (!Number.isFinite(r.value)) return `${r.value} is not a finite number`;
  if (r.unit === null || r.unit === c.unit) return null;
  if (unitByCode(r.unit) === undefined) {
    return `the unit ${JSON.stringify(r.unit)} is not a UCUM code of the plant's table`;
  }
  if (!areCommensurable(r.unit, c.unit)) return `${r.unit} does not convert to ${c.unit}`;
  return isConvertible(r.value, r.unit, c.unit) ? null : `${r.value} ${r.unit} is too large`;
}

/** No two commensurable units are 1e18 apart, so a value far below the largest double converts. */
const SURELY_CONVERTIBLE = 1e280;

function isConvertible(value: number, from: string, to: string): boolean {
  if (Math.abs(value) < SURELY_CONVERTIBLE) return true;
  try {
    convert(value, from, to);
    return true;
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

/**
 * A reading's value in the specification's unit; untouched if it is posted in that unit.
 *
 * @throws RangeError for a reading that readingFault would not let pass.
 */
export function judgedValue(c: MeasuredCharacteristic, r: Reading): number {
  if (typeof r.value !== 'number') throw new RangeError(`${c.code} takes a number`);
  return convert(r.value, r.unit ?? c.unit, c.unit);
}

/** Why there is no value to judge; `posted` if a reading came that cannot be taken. */
interface Absence {
  reason: string;
  posted: boolean;
}

type ByCode<T> = ReadonlyMap<string, T>;

/**
 * Judges a run: the last reading of each characteristic, unrounded (the
 * absolute method of ASTM E29), against the acceptance limits, where a value on
 * a limit conforms. One characteristic that does not conform fails the run.
 *
 * @returns not complete, with what is missing and why, if a required
 * characteristic has no value or a last reading cannot be taken. Readings of
 * codes the specification does not have are passed over.
 */
export function judgeRun(
  characteristics: readonly Characteristic[],
  readings: readonly Reading[],
): RunJudgement {
  const last: ByCode<Reading> = new Map(readings.map((reading) => [reading.code, reading]));
  const byCode: ByCode<Characteristic> = new Map(characteristics.map((c) => [c.code, c]));
  const missing: { code: string; reason: string }[] = [];
  const judgements = characteristics.map((c): Judgement => {
    const value = c.kind === 'derived' ? derivedValue(c, byCode, last) : readValue(c, last);
    if (typeof value !== 'object') return judgeValue(c, value);
    if (c.required || value.posted) missing.push({ code: c.code, reason: value.reason });
    return unjudged(c.code, null);
  });
  if (missing.length > 0) return { complete: false, missing, judgements };
  const failed = judgements.filter((j) => j.conforms === false).map((j) => j.code);
  const verdict = failed.length === 0 ? 'pass' : 'fail';
  return { complete: true, run: { verdict, judgements, failed } };
}

function readValue(
  c: MeasuredCharacteristic | AttributeCharacteristic,
  last: ByCode<Reading>,
): number | boolean | Absence {
  const reading = last.get(c.code);
  if (reading === undefined) return { reason: 'no reading was posted', posted: false };
  const fault = readingFault(c, reading);
  if (fault !== null) return { reason: fault, posted: true };
  return c.kind === 'measured' ? judgedValue(c, reading) : reading.value;
}

function derivedValue(
  c: DerivedCharacteristic,
  byCode: ByCode<Characteristic>,
  last: ByCode<Reading>,
): number | Absence {
  const posted = last.get(c.code);
  if (posted) return { reason: readingFault(c, posted) ?? 'cannot be posted', posted: true };
  const inputs: Quantity[] = [];
  for (const code of c.derivation.inputs) {
    const input = byCode.get(code);
    if (input?.kind !== 'measured') {
      return { reason: `its input ${code} is not a measured characteristic`, posted: false };
    }
    const value = readValue(input, last);
    if (typeof value === 'object') {
      return { reason: `its input ${code} is missing: ${value.reason}`, posted: false };
    }
    inputs.push({ value: Number(value), unit: input.unit });
  }
  const derived = derive(c.derivation.function, inputs, c.unit);
  return derived.computable ? derived.value : { reason: derived.reason, posted: false };
}

function unjudged(code: string, value: number | null): Judgement {
  return { code, value, conforms: null, margin: null, conformanceProbability: null };
}

/** Judges one value, in the characteristic's unit; null where nothing was measured. */
export function judgeValue(c: Characteristic, value: number | boolean | null): Judgement {
  if (value === null) return unjudged(c.code, null);
  if (c.kind === 'attribute') {
    return {
      code: c.code,
      value,
      conforms: value === c.expected,
      margin: null,
      conformanceProbability: null,
    };
  }
  const measured = Number(value);
  return {
    code: c.code,
    value: measured,
    conforms: conforms(measured, c),
    margin: margin(measured, c),
    conformanceProbability:
      c.standardUncertainty === null
        ? null
        : conformanceProbability(measured, c, c.standardUncertainty),
  };
}

interface Fault {
  field: string;
  detail: string;
}

/**
 * Everything that makes a specification unapprovable, in its order; `field` is
 * a path below the characteristic. An empty answer means that judgeRun can
 * judge any complete set of readings by it.
 */
export function characteristicFaults(
  characteristics: readonly Characteristic[],
): { index: number; field: string; detail: string }[] {
  const places = new Map<string, number>();
  for (const [index, c] of characteristics.entries()) {
    if (!places.has(c.code)) places.set(c.code, index);
  }
  const byCode: ByCode<Characteristic> = new Map(
    [...characteristics].reverse().map((c) => [c.code, c]),
  );
  return characteristics.flatMap((c, index) => {
    const faults: Fault[] = [];
    if (places.get(c.code) !== index) {
      faults.push({ field: 'code', detail: `${c.code} is used above already` });
    }
    if (c.kind !== 'attribute') faults.push(...numericFaults(c), ...limitFaults(c));
    if (c.kind === 'derived') faults.push(...derivedFaults(c, byCode));
    return faults.map((fault) => ({ index, ...fault }));
  });
}

function numericFaults(c: Numeric): Fault[] {
  const faults: Fault[] = [];
  if (unitByCode(c.unit) === undefined) {
    const detail = `${JSON.stringify(c.unit)} is not a UCUM code of the plant's table`;
    faults.push({ field: 'unit', detail });
  }
  if (!Number.isInteger(c.decimals) || c.decimals < 0 || c.decimals > 9) {
    faults.push({ field: 'decimals', detail: 'decimals is a whole number from 0 to 9' });
  }
  const uncertainty = c.standardUncertainty;
  if (uncertainty !== null && !(Number.isFinite(uncertainty) && uncertainty > 0)) {
    faults.push({ field: 'standardUncertainty', detail: 'an uncertainty is above zero' });
  }
  return faults;
}

function derivedFaults(c: DerivedCharacteristic, byCode: ByCode<Characteristic>): Fault[] {
  const { function: name, inputs } = c.derivation;
  const units: string[] = [];
  const faults: Fault[] = [];
  for (const [position, code] of inputs.entries()) {
    const input = byCode.get(code);
    const field = `derivation/inputs/${position}`;
    if (input?.kind === 'measured') units.push(input.unit);
    else if (input) faults.push({ field, detail: `${code} is not a measured characteristic` });
    else faults.push({ field, detail: `there is no characteristic ${code}` });
    if (inputs.indexOf(code) !== position) faults.push({ field, detail: `${code} is named twice` });
  }
  const known = [c.unit, ...units].every((unit) => unitByCode(unit) !== undefined);
  if (faults.length > 0 || !known) return faults;
  const fault = derivationFault(name, units, c.unit);
  return fault === null ? [] : [fault];
}
