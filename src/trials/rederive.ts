import type { AcceptanceLimits } from '../measurement/limits.js';
import { exactQuantity } from '../measurement/units.js';
import { type DerivationName, derive } from '../testing/derivations.js';
import { convertedOrInfinite, intervalRatio } from './bounds.js';

/** Past values of one input, and the unit in which the derivation takes them. */
export interface InputColumn {
  values: Float64Array;
  pastUnit: string;
  unit: string;
}

/** What is derived, and which values decide about conforming. */
export interface DerivedColumn {
  function: DerivationName;
  unit: string;
  /** In `unit`: no value is ever on another side of them than the exact one. */
  limits: readonly AcceptanceLimits[];
}

/**
 * A derivation over past values, run by run; NaN where an input was not measured or the
 * formula has no answer.
 *
 * Method: the formula in doubles; whatever lies within a ten-thousand-millionth of a limit,
 * or of an end of the formula's validity, by `derive`, whose decimals take 8 to 190 µs each,
 * over three minutes for a million power corrections.
 * Accuracy: relative 1e-12 of the largest term; on the same side of each limit as `derive`.
 */
export function deriveColumn(asked: DerivedColumn, inputs: readonly InputColumn[]): Float64Array {
  const count = inputs[0]?.values.length ?? 0;
  const derived = new Float64Array(count);
  const estimate = estimatorOf(asked, inputs);
  const limits = asked.limits.flatMap(({ lower, upper }) => [lower, upper]);
  const numbers = limits.filter((limit) => limit !== null);
  for (let row = 0; row < count; row += 1) {
    const estimated = estimate(row);
    if (estimated === null) derived[row] = Number.NaN;
    else if (isCertain(estimated, numbers)) derived[row] = estimated.value;
    else derived[row] = exactAt(asked, inputs, row);
  }
  return derived;
}

/** Far more than doubles lose in these formulas, far less than a gauge shows. */
const CLOSE = 1e-10;
const LARGEST = 1e200;

/** Whether what doubles lost cannot have taken a value across a limit. */
function isCertain({ value, size }: Estimate, limits: readonly number[]): boolean {
  return size < LARGEST && limits.every((limit) => Math.abs(value - limit) > CLOSE * size);
}

function exactAt(asked: DerivedColumn, inputs: readonly InputColumn[], row: number): number {
  const quantities = inputs.map(({ values, pastUnit, unit }) => ({
    value: convertedOrInfinite(values[row] as number, pastUnit, unit),
    unit,
  }));
  const derived = derive(asked.function, quantities, asked.unit);
  return derived.computable ? derived.value : Number.NaN;
}

/** A value, and the size of the largest term that it was made of. */
interface Estimate {
  value: number;
  /** Infinite where doubles cannot tell. */
  size: number;
}

const unsure: Estimate = { value: 0, size: Infinity };

/** An input from the true zero of its quantity, in grains; `gross` is what rounding acts on. */
interface Term {
  at: number;
  gross: number;
}

function estimatorOf(
  { function: name, unit }: DerivedColumn,
  inputs: readonly InputColumn[],
): (row: number) => Estimate | null {
  const readers = inputs.map(termReader);
  const formula = estimates[name];
  const result = resultScale(name, unit);
  return (row) => {
    const terms = readers.map((read) => read(row));
    if (terms.some(({ at }) => Number.isNaN(at))) return null;
    const estimated = formula(terms);
    if (estimated === null) return null;
    const { value, size } = estimated;
    return {
      value: (value - result.zero) / result.grain,
      size: (size + Math.abs(result.zero)) / result.grain,
    };
  };
}

function termReader({ values, pastUnit }: InputColumn): (row: number) => Term {
  const zero = exactQuantity(0, pastUnit).toNumber();
  const grain = exactQuantity(1, pastUnit).minus(exactQuantity(0, pastUnit)).toNumber();
  return (row) => {
    const scaled = (values[row] as number) * grain;
    return { at: scaled + zero, gross: Math.abs(scaled) + Math.abs(zero) };
  };
}

function resultScale(name: DerivationName, unit: string): { zero: number; grain: number } {
  if (name === 'ratio') return { zero: 0, grain: intervalRatio(unit, '1') };
  const zero = exactQuantity(0, unit);
  return { zero: zero.toNumber(), grain: exactQuantity(1, unit).minus(zero).toNumber() };
}

const referencePressure = exactQuantity(99, 'kPa').toNumber();
const kelvin = exactQuantity(1, 'K').toNumber();
/** Of the reference pressure, and of 25 °C: below it doubles leave the answer to decimals. */
const PLAIN_AIR = 0.01;

/** The formulas of src/testing/derivations.ts in doubles; null for no answer. */
const estimates: Readonly<Record<DerivationName, (terms: readonly Term[]) => Estimate | null>> = {
  'power-corrected-iso-1585': (terms) =>
    powerCorrected(terms, (pressure, temperature) => {
      const factor = pressure ** 1.2 * temperature ** 0.6;
      if (Math.min(Math.abs(factor - 0.93), Math.abs(factor - 1.07)) < 1e-9) return undefined;
      return factor < 0.93 || factor > 1.07 ? Number.NaN : factor;
    }),
  'power-corrected-j1349': (terms) =>
    powerCorrected(
      terms,
      (pressure, temperature) => pressure * Math.sqrt(temperature) * 1.18 - 0.18,
    ),
  difference: ([a = unread, b = unread]) => ({ value: a.at - b.at, size: a.gross + b.gross }),
  ratio: ([a = unread, b = unread]) =>
    // A divisor that is a small difference of large terms has too few digits left.
    Math.abs(b.at) < 1e-3 * b.gross || b.at === 0
      ? unsure
      : { value: a.at / b.at, size: a.gross / Math.abs(b.at) },
  mean: (terms) => ({
    value: terms.reduce((sum, { at }) => sum + at, 0) / terms.length,
    size: terms.reduce((sum, { gross }) => sum + gross, 0),
  }),
  spread: (terms) => ({
    value: Math.max(...terms.map(({ at }) => at)) - Math.min(...terms.map(({ at }) => at)),
    size: terms.reduce((sum, { gross }) => sum + gross, 0),
  }),
};

const unread: Term = { at: Number.NaN, gross: 0 };

/** @param factorOf of 99 kPa over the pressure, and of (t + 273) / 298; undefined: cannot tell */
function powerCorrected(
  [power = unread, pressure = unread, temperature = unread]: readonly Term[],
  factorOf: (pressureRatio: number, temperatureRatio: number) => number | undefined,
): Estimate | null {
  const warmth = (temperature.at / kelvin - 0.15) / 298;
  if (pressure.at < PLAIN_AIR * referencePressure || warmth < PLAIN_AIR) return unsure;
  const pressureRatio = referencePressure / pressure.at;
  const factor = factorOf(pressureRatio, warmth);
  if (factor === undefined) return unsure;
  if (Number.isNaN(factor)) return null;
  return { value: power.at * factor, size: power.gross * (Math.abs(factor) + 1) };
}
