import type { Decimal } from 'decimal.js';
import { ExactDecimal, exactly, nearestDouble } from './decimal.js';
import { type Dimension, type UnitOfMeasure, unitsOfMeasure } from './unit-table.js';

export { type Dimension, type UnitOfMeasure, unitsOfMeasure };

/** target = (source × multiplier + addend) / divisor. */
interface Conversion {
  readonly multiplier: Decimal;
  readonly addend: Decimal | null;
  readonly divisor: Decimal | null;
}

const byCode: ReadonlyMap<string, UnitOfMeasure> = new Map(
  unitsOfMeasure.map((unit) => [unit.code, unit]),
);
const byNumber: ReadonlyMap<number, UnitOfMeasure> = new Map(
  unitsOfMeasure.map((unit) => [unit.number, unit]),
);

/** The size of each unit in the grain of its dimension. */
const grains: ReadonlyMap<string, Decimal> = new Map(
  unitsOfMeasure.map((unit) => [unit.code, grainsIn(unit)]),
);
const conversions: ReadonlyMap<string, ReadonlyMap<string, Conversion>> = new Map(
  unitsOfMeasure.map((from) => [
    from.code,
    new Map(
      unitsOfMeasure
        .filter((to) => to.dimension === from.dimension)
        .map((to) => [to.code, conversionBetween(from, to)]),
    ),
  ]),
);

/** The unit with this UCUM code (case sensitive), undefined if the table has none. */
export function unitByCode(code: string): UnitOfMeasure | undefined {
  return byCode.get(code);
}

/** The unit with this storage number, undefined if the table has none. */
export function unitByNumber(n: number): UnitOfMeasure | undefined {
  return byNumber.get(n);
}

/** True when both codes are in the table and of one dimension. */
export function areCommensurable(a: string, b: string): boolean {
  return conversions.get(a)?.has(b) ?? false;
}

/**
 * A value in another unit of its dimension. The value's shortest decimal form
 * is converted exactly and rounded once to a double, so 1 [in_i] is 25.4 mm.
 * A value already in the unit asked for is returned untouched.
 *
 * @throws RangeError if a unit is unknown, the units are of different
 * dimensions, or the value or the result is not finite.
 */
export function convert(value: number, from: string, to: string): number {
  const conversion = conversions.get(from)?.get(to);
  if (conversion === undefined) throw new RangeError(whyNotConvertible(from, to));
  if (from === to && Number.isFinite(value)) return value;
  let result = exactly(value).times(conversion.multiplier);
  if (conversion.addend !== null) result = result.plus(conversion.addend);
  if (conversion.divisor !== null) result = result.div(conversion.divisor);
  return nearestDouble(result);
}

/**
 * A value measured from the true zero of its quantity, in the grain of its
 * dimension: a unit so small that every unit of the table is a finite number
 * of decimals of it. Sums, differences and comparisons of what this returns
 * are exact where they would not be in the base unit (1 °F is 5/9 K).
 *
 * @throws RangeError if the unit is unknown or the value is not finite.
 */
export function exactQuantity(value: number, code: string): Decimal {
  const unit = knownUnit(code);
  const exact = exactly(value);
  return (unit.offset === '0' ? exact : exact.plus(unit.offset)).times(grainOf(unit));
}

/**
 * The inverse of exactQuantity, rounded once to a double.
 *
 * @throws RangeError if the unit is unknown or the result is beyond the largest double.
 */
export function fromExactQuantity(quantity: Decimal, code: string): number {
  const unit = knownUnit(code);
  const grain = grainOf(unit);
  return nearestDouble(quantity.minus(grain.times(unit.offset)).div(grain));
}

function conversionBetween(from: UnitOfMeasure, to: UnitOfMeasure): Conversion {
  const multiplier = grainOf(from);
  const addend = multiplier.times(from.offset).minus(grainOf(to).times(to.offset));
  const divisor = grainOf(to);
  const factor = multiplier.div(divisor);
  // Dividing costs more than the rest of a conversion. Where nothing is added
  // a factor of 36 digits does as well: the result is rounded to 17. Where an
  // offset is added, what should cancel to zero must do so exactly.
  if (addend.isZero()) {
    return { multiplier: factor.toSignificantDigits(36), addend: null, divisor: null };
  }
  return { multiplier, addend, divisor };
}

/** numerator / denominator × the product of the dimension's denominators, without dividing. */
function grainsIn(unit: UnitOfMeasure): Decimal {
  const denominators = new Set(
    unitsOfMeasure.filter((u) => u.dimension === unit.dimension).map((u) => u.denominator),
  );
  denominators.delete(unit.denominator);
  let size = new ExactDecimal(unit.numerator);
  for (const denominator of denominators) size = size.times(denominator);
  return size;
}

function grainOf(unit: UnitOfMeasure): Decimal {
  const grain = grains.get(unit.code);
  if (grain === undefined) throw new RangeError(`${unit.code} is not in the table of units`);
  return grain;
}

function knownUnit(code: string): UnitOfMeasure {
  const unit = byCode.get(code);
  if (unit === undefined) throw new RangeError(`unknown unit of measure ${JSON.stringify(code)}`);
  return unit;
}

function whyNotConvertible(from: string, to: string): string {
  return `${from} is a unit of ${knownUnit(from).dimension}, ${to} of ${knownUnit(to).dimension}: they do not convert`;
}
