import { Decimal } from 'decimal.js';

/**
 * Decimal arithmetic with 50 significant digits: a posted number has at most
 * 17, a factor of the unit table at most 31, so their product is exact.
 */
export const ExactDecimal = Decimal.clone({
  precision: 50,
  rounding: Decimal.ROUND_HALF_EVEN,
});

/**
 * The number as it is written in JSON: the shortest decimal that reads back as
 * this double.
 *
 * @throws RangeError if the value is NaN or infinite.
 */
export function exactly(value: number): Decimal {
  if (!Number.isFinite(value)) throw new RangeError(`${value} is not a finite number`);
  return new ExactDecimal(value);
}

/**
 * The double nearest to a decimal: the one rounding of a calculation.
 *
 * @throws RangeError if the decimal is beyond the largest double.
 */
export function nearestDouble(exact: Decimal): number {
  const value = exact.toNumber();
  if (!Number.isFinite(value)) throw new RangeError(`${exact} is too large for a number`);
  return value;
}

/**
 * a + b as decimals, rounded once: addDecimal(0.1, 0.2) is 0.3.
 *
 * @throws RangeError if a number is not finite or the sum is beyond the largest double.
 */
export function addDecimal(a: number, b: number): number {
  return nearestDouble(exactly(a).plus(exactly(b)));
}

/**
 * a - b as decimals, rounded once: subtractDecimal(0.3, 0.1) is 0.2.
 *
 * @throws RangeError if a number is not finite or the difference is beyond the largest double.
 */
export function subtractDecimal(a: number, b: number): number {
  return nearestDouble(exactly(a).minus(exactly(b)));
}
