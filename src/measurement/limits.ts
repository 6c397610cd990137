import type { Decimal } from 'decimal.js';
import { normalCdf } from '../statistics/normal-cdf.js';
import { normalQuantile } from '../statistics/normal-quantile.js';
import { addDecimal, ExactDecimal, exactly, nearestDouble, subtractDecimal } from './decimal.js';

/** What a value is held against, in the characteristic's unit. */
export interface Limits {
  lower: number | null;
  upper: number | null;
  /** Narrows each limit inwards to the acceptance limit; 0 for simple acceptance. */
  guardBand: number;
  /** Where the margin is 1 if there is one limit only, where no middle exists. */
  nominal: number | null;
}

/** Where acceptance ends, in the characteristic's unit. */
export interface AcceptanceLimits {
  lower: number | null;
  upper: number | null;
}

/**
 * The specification limits narrowed by the guard band, as decimals rounded
 * once, so 0.1 with a guard band of 0.2 is 0.3.
 *
 * Source: ISO 14253-1, w = TL - AL in ILAC-G8:09/2019 4.1.
 *
 * @throws RangeError if a number is not finite.
 */
export function acceptanceLimits(limits: Readonly<Limits>): AcceptanceLimits {
  const known = zones.get(limits);
  if (known && known.guardBand === limits.guardBand) {
    if (known.from === limits.lower && known.to === limits.upper) return known.zone;
  }
  const { lower, upper, guardBand } = limits;
  const zone = Object.freeze({
    lower: lower === null ? null : addDecimal(lower, guardBand),
    upper: upper === null ? null : subtractDecimal(upper, guardBand),
  });
  zones.set(limits, { from: lower, to: upper, guardBand, zone });
  return zone;
}

/**
 * Zones by the limits that they belong to. A specification is judged by thousands of
 * times, and exact decimals were a quarter of the time that completing a run took.
 */
const zones = new WeakMap<
  object,
  { from: number | null; to: number | null; guardBand: number; zone: AcceptanceLimits }
>();

/**
 * True if a value lies within the acceptance limits or on one of them, taken
 * with every digit (the absolute method of ASTM E29).
 *
 * @returns null without limits.
 * @throws RangeError if a limit or the guard band is not finite.
 */
export function conforms(value: number, limits: Limits): boolean | null {
  const { lower, upper } = acceptanceLimits(limits);
  if (lower === null && upper === null) return null;
  return (lower === null || value >= lower) && (upper === null || value <= upper);
}

/**
 * The distance to the nearest acceptance limit in half widths of the
 * acceptance zone: 1 at the middle (at nominal, if there is one limit only),
 * 0 on a limit, negative outside. Its sign always agrees with conforming.
 *
 * Twelve significant digits: the difference to a limit is then as exact as it is shown.
 *
 * @returns null without limits, and where a half width above zero does not
 * exist: with one limit and no nominal strictly inside it.
 * @throws RangeError if a number is not finite.
 */
export function margin(value: number, limits: Limits): number | null {
  const zone = acceptanceLimits(limits);
  const quick = quickMargin(value, zone, limits.nominal);
  return quick === undefined ? exactMargin(value, zone, limits.nominal) : quick;
}

/** The margin in doubles; undefined where they would overflow, vanish, or are not enough. */
function quickMargin(
  value: number,
  { lower, upper }: AcceptanceLimits,
  nominal: number | null,
): number | undefined {
  const below = lower === null ? Number.POSITIVE_INFINITY : value - lower;
  const above = upper === null ? Number.POSITIVE_INFINITY : upper - value;
  const distance = Math.min(below, above);
  if (distance === 0) return undefined;
  const half =
    lower !== null && upper !== null
      ? (upper - lower) / 2
      : Math.abs((nominal ?? Number.NaN) - (lower ?? upper ?? Number.NaN));
  const ratio = distance / half;
  const size = Math.abs(ratio);
  // A difference keeps 13 digits while it is no smaller than a 500th of what it was taken from.
  const digitsLeft =
    Math.abs(value) < 500 * Math.abs(distance) &&
    Math.abs(lower ?? upper ?? Number.NaN) < 500 * half;
  const enough = digitsLeft && half > 1e-100 && size > 1e-100 && size < 1e100;
  if (!enough || outsideOf(nominal, lower, upper)) return undefined;
  return Number(ratio.toPrecision(12));
}

/** With one limit, a nominal that is not strictly inside it gives no half width. */
function outsideOf(nominal: number | null, lower: number | null, upper: number | null): boolean {
  if (lower !== null && upper !== null) return false;
  if (nominal === null) return true;
  return lower === null ? nominal >= (upper ?? nominal) : nominal <= lower;
}

function exactMargin(value: number, zone: AcceptanceLimits, nominal: number | null): number | null {
  const measured = exactly(value);
  const lower = zone.lower === null ? null : exactly(zone.lower);
  const upper = zone.upper === null ? null : exactly(zone.upper);
  const middle = nominal === null ? null : exactly(nominal);
  if (lower !== null && upper !== null) {
    const nearest = ExactDecimal.min(measured.minus(lower), upper.minus(measured));
    return inHalfWidths(nearest, upper.minus(lower).div(2));
  }
  if (middle === null) return null;
  if (lower !== null) return inHalfWidths(measured.minus(lower), middle.minus(lower));
  if (upper !== null) return inHalfWidths(upper.minus(measured), upper.minus(middle));
  return null;
}

function inHalfWidths(distance: Decimal, halfWidth: Decimal): number | null {
  if (!halfWidth.gt(0)) return null;
  if (distance.isZero()) return 0;
  const exact = distance.div(halfWidth);
  // Too large or too small for a double, it must still say on which side of the limit it is.
  const size = Math.max(Number.MIN_VALUE, Math.min(exact.abs().toNumber(), Number.MAX_VALUE));
  return exact.isNegative() ? -size : size;
}

/**
 * The probability that the true value lies within the specification limits
 * (not the narrowed ones), if it is normally distributed about the measured
 * value with the standard uncertainty.
 *
 * Source: JCGM 106:2012 section 7, Φ((TU - y)/u) - Φ((TL - y)/u).
 *
 * @returns null without limits.
 * @throws RangeError unless the uncertainty is above zero and finite.
 */
export function conformanceProbability(
  value: number,
  { lower, upper }: Pick<Limits, 'lower' | 'upper'>,
  standardUncertainty: number,
): number | null {
  if (lower === null && upper === null) return null;
  // Taken in the tail nearer to the value's side, where Φ keeps its digits.
  const mirrored = lower !== null && value < lower;
  const below = lower === null ? Number.NEGATIVE_INFINITY : lower;
  const above = upper === null ? Number.POSITIVE_INFINITY : upper;
  return mirrored
    ? normalCdf(value - below, 0, standardUncertainty) -
        normalCdf(value - above, 0, standardUncertainty)
    : normalCdf(above - value, 0, standardUncertainty) -
        normalCdf(below - value, 0, standardUncertainty);
}

/**
 * The guard band that keeps the probability of conformance at the acceptance
 * limit at least this high against that limit: z·u, 1.645 u for 95 %.
 *
 * Source: the default rule of ISO 14253-1:2017 (from memory).
 *
 * @throws RangeError unless the uncertainty is above zero and finite and 0.5 <= probability < 1.
 */
export function guardBandFor(standardUncertainty: number, probability = 0.95): number {
  if (!(standardUncertainty > 0)) {
    throw new RangeError(`the standard uncertainty ${standardUncertainty} is not above zero`);
  }
  if (!(probability >= 0.5)) {
    throw new RangeError(`a probability of ${probability} would widen the limits`);
  }
  return nearestDouble(exactly(normalQuantile(probability)).times(exactly(standardUncertainty)));
}

export interface LimitFault {
  field: 'lower' | 'upper' | 'guardBand' | 'nominal';
  detail: string;
}

/** What makes limits impossible to judge by, in plain words; empty if nothing does. */
export function limitFaults(c: Limits): LimitFault[] {
  const fields = ['lower', 'upper', 'guardBand', 'nominal'] as const;
  const infinite = fields.filter((field) => c[field] !== null && !Number.isFinite(c[field]));
  if (infinite.length > 0) {
    return infinite.map((field) => ({ field, detail: 'a finite number is needed' }));
  }
  const { lower, upper, guardBand } = c;
  if (guardBand < 0) return [{ field: 'guardBand', detail: 'a guard band is not negative' }];
  if (lower === null && upper === null) {
    return guardBand === 0 ? [] : [{ field: 'guardBand', detail: 'there is no limit to guard' }];
  }
  if (lower !== null && upper !== null && lower >= upper) {
    return [{ field: 'upper', detail: `the upper limit is not above the lower, ${lower}` }];
  }
  const zone = zoneOf(c);
  if (zone === null) {
    return [{ field: 'guardBand', detail: 'the guard band leaves nothing between the limits' }];
  }
  return nominalFaults(c, zone);
}

/** The acceptance limits, or null where they leave no zone. */
function zoneOf(c: Limits): AcceptanceLimits | null {
  try {
    const zone = acceptanceLimits(c);
    const crossed = zone.lower !== null && zone.upper !== null && zone.lower >= zone.upper;
    return crossed ? null : zone;
  } catch (error) {
    // A guard band that pushes a limit beyond the largest double.
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function nominalFaults({ lower, upper, nominal }: Limits, zone: AcceptanceLimits): LimitFault[] {
  const fault = (detail: string): LimitFault[] => [{ field: 'nominal', detail }];
  if (lower !== null && upper !== null) {
    const outside = nominal !== null && (nominal < lower || nominal > upper);
    return outside ? fault(`the nominal value is outside ${lower} to ${upper}`) : [];
  }
  if (nominal === null) return fault('one limit alone needs a nominal value to measure margin by');
  const inside =
    (zone.lower === null || nominal > zone.lower) && (zone.upper === null || nominal < zone.upper);
  return inside ? [] : fault('the nominal value is not inside the acceptance limit');
}
