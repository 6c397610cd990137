import { Decimal } from 'decimal.js';
import { ExactDecimal } from '../measurement/decimal.js';
import {
  areCommensurable,
  type Dimension,
  exactQuantity,
  fromExactQuantity,
  unitByCode,
} from '../measurement/units.js';

export const derivationNames = [
  'power-corrected-iso-1585',
  'power-corrected-j1349',
  'difference',
  'ratio',
  'mean',
  'spread',
] as const;

export type DerivationName = (typeof derivationNames)[number];

/** A judged value with its unit of measure, as it enters a derivation. */
export interface Quantity {
  value: number;
  unit: string;
}

export type Derived = { computable: true; value: number } | { computable: false; reason: string };

export interface Derivation {
  readonly summary: string;
  /** Where the formula stands, and how far it could be read there. */
  readonly source: string;
  readonly fewestInputs: number;
  readonly mostInputs: number;
  /** What each input measures, in order; null: anything, but all alike. */
  readonly inputDimensions: readonly Dimension[] | null;
  /**
   * What comes out: a ratio, a value on the inputs' scale (the first input's),
   * or an interval of it (between two temperatures, so never in °C or °F).
   */
  readonly result: 'ratio' | 'value' | 'interval';
  /** From exact quantities in the grain of their dimensions to one in the result's, or why not. */
  readonly compute: (inputs: readonly Decimal[]) => Decimal | string;
}

/**
 * Powers and roots to 20 digits. Decimal, because a run judged again on another
 * engine must give the same digits, and Math.pow does not promise that.
 */
const FactorDecimal = Decimal.clone({ precision: 20, rounding: Decimal.ROUND_HALF_EVEN });

const reference = exactQuantity(99, 'kPa');
const kelvin = exactQuantity(1, 'K');

/** 99 kPa over the dry air pressure. */
function pressureRatio(pressure: Decimal): Decimal {
  return new FactorDecimal(reference).div(pressure);
}

/**
 * (t + 273) / 298 with t in °C. The standards equate 25 °C with 298 K, so the
 * 0.15 K is dropped on both sides and the factor is 1 at their reference point.
 */
function temperatureRatio(temperature: Decimal): Decimal {
  return new FactorDecimal(temperature).div(kelvin).minus('0.15').div(298);
}

function airFault(pressure: Decimal, temperature: Decimal): string | null {
  if (!pressure.gt(0)) return 'the dry air pressure is not above zero';
  if (!temperatureRatio(temperature).gt(0)) return 'the air temperature is not above absolute zero';
  return null;
}

function correctedIso1585([power, pressure, temperature]: readonly Decimal[]): Decimal | string {
  if (!power || !pressure || !temperature) return 'an input is missing';
  const fault = airFault(pressure, temperature);
  if (fault !== null) return fault;
  const factor = pressureRatio(pressure).pow('1.2').times(temperatureRatio(temperature).pow('0.6'));
  if (factor.lt('0.93') || factor.gt('1.07')) {
    return `the correction factor ${factor.toFixed(4)} is outside 0.93 to 1.07, where the method holds`;
  }
  return power.times(factor);
}

function correctedJ1349([power, pressure, temperature]: readonly Decimal[]): Decimal | string {
  if (!power || !pressure || !temperature) return 'an input is missing';
  const fault = airFault(pressure, temperature);
  if (fault !== null) return fault;
  const factor = pressureRatio(pressure)
    .times(temperatureRatio(temperature).sqrt())
    .times('1.18')
    .minus('0.18');
  return power.times(factor);
}

function difference([a, b]: readonly Decimal[]): Decimal | string {
  return a && b ? a.minus(b) : 'an input is missing';
}

function ratio([a, b]: readonly Decimal[]): Decimal | string {
  if (!a || !b) return 'an input is missing';
  return b.isZero() ? 'the second input is zero' : a.div(b);
}

function mean(inputs: readonly Decimal[]): Decimal | string {
  const [first, ...others] = inputs;
  if (!first) return 'an input is missing';
  return others.reduce((sum, x) => sum.plus(x), first).div(inputs.length);
}

function spread(inputs: readonly Decimal[]): Decimal | string {
  return inputs.length === 0
    ? 'an input is missing'
    : ExactDecimal.max(...inputs).minus(ExactDecimal.min(...inputs));
}

const correctionInputs = ['power', 'pressure', 'temperature'] as const;

/** The closed catalogue: a specification names one of these, never a formula of its own. */
export const derivations: Readonly<Record<DerivationName, Derivation>> = {
  'power-corrected-iso-1585': {
    summary:
      'Power of a naturally aspirated spark-ignition engine at 25 °C and 99 kPa of dry air: P × (99/ps)^1.2 × (T/298)^0.6, where that factor is within 0.93 to 1.07. Inputs: power, dry air pressure, air temperature.',
    source:
      'ISO 1585, also UN Regulation No. 85 annex 5 and the SI form of ISO 15550. Reference air and symbols read in Commission Delegated Regulation (EU) No 134/2014, appendix 2.2 on engine power (its formula is a picture). Exponents and validity from memory; public secondary texts give the same.',
    fewestInputs: 3,
    mostInputs: 3,
    inputDimensions: correctionInputs,
    result: 'value',
    compute: correctedIso1585,
  },
  'power-corrected-j1349': {
    summary:
      'Power of a naturally aspirated spark-ignition engine at 25 °C and 99 kPa of dry air, assuming 85 % mechanical efficiency: P × (1.18 × (99/Pd) × √((Tc + 273)/298) − 0.18). Inputs: power, dry air pressure, air temperature.',
    source:
      'SAE J1349 (June 1990 form). The standard itself was not seen; formula from memory, and the same in two public secondary texts.',
    fewestInputs: 3,
    mostInputs: 3,
    inputDimensions: correctionInputs,
    result: 'value',
    compute: correctedJ1349,
  },
  difference: {
    summary: 'The first input minus the second.',
    source: 'Definition.',
    fewestInputs: 2,
    mostInputs: 2,
    inputDimensions: null,
    result: 'interval',
    compute: difference,
  },
  ratio: {
    summary: 'The first input over the second, both from the true zero of their quantity.',
    source: 'Definition.',
    fewestInputs: 2,
    mostInputs: 2,
    inputDimensions: null,
    result: 'ratio',
    compute: ratio,
  },
  mean: {
    summary: 'The arithmetic mean of 2 to 12 inputs.',
    source: 'Definition.',
    fewestInputs: 2,
    mostInputs: 12,
    inputDimensions: null,
    result: 'value',
    compute: mean,
  },
  spread: {
    summary: 'The largest of 2 to 12 inputs minus the smallest.',
    source: 'Definition (the range of the inputs).',
    fewestInputs: 2,
    mostInputs: 12,
    inputDimensions: null,
    result: 'interval',
    compute: spread,
  },
};

/**
 * The unit a derivation's result comes in if nobody asks for another: 1 for a
 * ratio, K for an interval of temperatures, else the first input's unit.
 */
export function naturalUnit(name: DerivationName, inputUnits: readonly string[]): string | null {
  const { result } = derivations[name];
  const first = unitByCode(inputUnits[0] ?? '');
  if (result === 'ratio') return '1';
  if (first === undefined) return null;
  return result === 'interval' && first.dimension === 'temperature' ? 'K' : first.code;
}

/** What is wrong with a derivation as specified; `field` is a path below the characteristic. */
export interface DerivationFault {
  field: 'derivation/function' | 'derivation/inputs' | 'unit';
  detail: string;
}

/**
 * Why a derivation cannot take inputs in these units or answer in this one:
 * unknown name, wrong number of inputs, an unfit or unknown unit. Null if it can.
 */
export function derivationFault(
  name: string,
  inputUnits: readonly string[],
  resultUnit: string,
): DerivationFault | null {
  if (!isDerivationName(name)) {
    const detail = `there is no derivation named ${JSON.stringify(name)}`;
    return { field: 'derivation/function', detail };
  }
  const inputs = inputsFault(name, inputUnits);
  if (inputs !== null) return { field: 'derivation/inputs', detail: inputs };
  const result = resultFault(name, inputUnits, resultUnit);
  return result === null ? null : { field: 'unit', detail: result };
}

function isDerivationName(name: string): name is DerivationName {
  return Object.hasOwn(derivations, name);
}

function inputsFault(name: DerivationName, inputUnits: readonly string[]): string | null {
  const { fewestInputs, mostInputs, inputDimensions } = derivations[name];
  if (inputUnits.length < fewestInputs || inputUnits.length > mostInputs) {
    const wanted = fewestInputs === mostInputs ? fewestInputs : `${fewestInputs} to ${mostInputs}`;
    return `${name} takes ${wanted} inputs, not ${inputUnits.length}`;
  }
  const first = inputUnits[0] ?? '';
  for (const [index, code] of inputUnits.entries()) {
    const unit = unitByCode(code);
    if (unit === undefined)
      return `input ${index + 1} has an unknown unit, ${JSON.stringify(code)}`;
    const wanted = inputDimensions?.[index];
    if (wanted !== undefined && unit.dimension !== wanted) {
      return `input ${index + 1} of ${name} is a ${wanted}, which ${code} does not measure`;
    }
    if (inputDimensions === null && !areCommensurable(first, code)) {
      return `the inputs of ${name} measure one thing: ${code} does not convert to ${first}`;
    }
    if (unit.dimension === 'sound level' && name !== 'difference' && name !== 'spread') {
      return `levels in ${code} are logarithms: ${name} of them is not a level`;
    }
  }
  return null;
}

function resultFault(
  name: DerivationName,
  inputUnits: readonly string[],
  resultUnit: string,
): string | null {
  const unit = unitByCode(resultUnit);
  if (unit === undefined) return `the result has an unknown unit, ${JSON.stringify(resultUnit)}`;
  const natural = naturalUnit(name, inputUnits);
  if (natural === null || !areCommensurable(natural, resultUnit)) {
    return `the result of ${name} is in ${natural} or a unit that converts to it, not in ${resultUnit}`;
  }
  if (derivations[name].result === 'interval' && unit.offset !== '0') {
    return `the result of ${name} is an interval between temperatures: give it in K or [degR], ${resultUnit} names a point on a scale`;
  }
  return null;
}

/**
 * A derivation's result in the unit asked for, computed on exact decimals and
 * rounded once; the power corrections to 20 digits.
 *
 * @returns not computable, with the reason in plain words, where the formula
 * has no answer (outside its validity, division by zero, an unfit unit).
 */
export function derive(
  name: DerivationName,
  inputs: readonly Quantity[],
  resultUnit: string,
): Derived {
  const units = inputs.map((input) => input.unit);
  const fault = derivationFault(name, units, resultUnit);
  if (fault !== null) return { computable: false, reason: fault.detail };
  try {
    const exact = derivations[name].compute(inputs.map((q) => exactQuantity(q.value, q.unit)));
    if (typeof exact === 'string') return { computable: false, reason: exact };
    return { computable: true, value: inUnit(name, exact, resultUnit) };
  } catch (error) {
    // Only what the arithmetic refuses: a value that is not finite, or a result too large.
    if (error instanceof RangeError) return { computable: false, reason: error.message };
    throw error;
  }
}

function inUnit(name: DerivationName, exact: Decimal, unit: string): number {
  // A ratio comes out in units of 1, not in the grain of the ratio's dimension.
  const quantity =
    derivations[name].result === 'ratio' ? exact.times(exactQuantity(1, '1')) : exact;
  return fromExactQuantity(quantity, unit);
}
