import { ExactDecimal, nearestDouble } from '../measurement/decimal.js';
import type { AcceptanceLimits } from '../measurement/limits.js';
import { convert, exactQuantity } from '../measurement/units.js';

/** A value conforms from `lower` to `upper`, both counted; infinite where there is no limit. */
export interface Bounds {
  lower: number;
  upper: number;
}

/**
 * Limits as bounds for values that are in another unit: a value lies within the bounds
 * exactly where the converted value lies within the limits.
 *
 * Method: converting never turns the order of two values around, so each bound is the
 * outermost double that still converts to within its limit, found by halving.
 * Domain: commensurable units.
 * Accuracy: exact, where converting each value and comparing costs a thousand times more.
 *
 * @param limitUnit UCUM code of the limits; null with `valueUnit` null for an attribute
 * @throws RangeError if the units are unknown or of different dimensions.
 */
export function boundsIn(
  valueUnit: string | null,
  limits: AcceptanceLimits,
  limitUnit: string | null,
): Bounds {
  const { lower, upper } = limits;
  if (valueUnit === null || limitUnit === null || valueUnit === limitUnit) {
    return { lower: lower ?? -Infinity, upper: upper ?? Infinity };
  }
  const inLimitUnit = (value: number) => convertedOrInfinite(value, valueUnit, limitUnit);
  return {
    lower: lower === null ? -Infinity : firstDouble((value) => inLimitUnit(value) >= lower),
    upper: upper === null ? Infinity : -firstDouble((value) => inLimitUnit(-value) <= upper),
  };
}

/** How many of `to` an interval of one `from` is: 1.8 from Cel to [degF]. */
export function intervalRatio(from: string, to: string): number {
  const interval = (unit: string) => exactQuantity(1, unit).minus(exactQuantity(0, unit));
  return nearestDouble(new ExactDecimal(interval(from)).div(interval(to)));
}

/** No two commensurable units are 1e18 apart. */
const SURELY_CONVERTIBLE = 1e280;

/** `convert`, but infinite where the result is beyond the largest double. */
export function convertedOrInfinite(value: number, from: string, to: string): number {
  try {
    return convert(value, from, to);
  } catch (error) {
    if (error instanceof RangeError && Math.abs(value) > SURELY_CONVERTIBLE)
      return value * Infinity;
    throw error;
  }
}

const HIGHEST_RANK = rankOf(Number.MAX_VALUE);

/** The least double for which something holds that, once it does, holds for all above too. */
function firstDouble(holds: (value: number) => boolean): number {
  let below = -HIGHEST_RANK - 1n;
  let found = HIGHEST_RANK + 1n;
  while (found - below > 1n) {
    const middle = (below + found) >> 1n;
    if (holds(doubleAt(middle))) found = middle;
    else below = middle;
  }
  if (found > HIGHEST_RANK) return Infinity;
  return found === -HIGHEST_RANK ? -Infinity : doubleAt(found);
}

/** Doubles from zero upwards in order; negative ones mirrored (the bits of IEEE 754 sort so). */
function doubleAt(rank: bigint): number {
  const bytes = new DataView(new ArrayBuffer(8));
  bytes.setBigInt64(0, rank < 0n ? -rank : rank);
  const size = bytes.getFloat64(0);
  return rank < 0n ? -size : size;
}

function rankOf(size: number): bigint {
  const bytes = new DataView(new ArrayBuffer(8));
  bytes.setFloat64(0, size);
  return bytes.getBigInt64(0);
}
