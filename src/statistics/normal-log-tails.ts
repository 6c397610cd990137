import { normalCdf } from './normal-cdf.js';

/** Beyond this, a tail comes near the smallest double and the asymptotic series has all digits. */
const seriesFrom = 30;

/** The logarithms of the probabilities below a value and above it. */
export interface LogTails {
  lower: number;
  upper: number;
}

/**
 * The logarithms of Φ(z) and of 1 - Φ(z), for a standard normal quantity.
 *
 * Method: the logarithm of the smaller tail of `normalCdf`, and ln(1 - that) for the other,
 * so that both keep their digits; beyond 30 the asymptotic series, where the tail would vanish.
 * Source: DLMF 7.12.1.
 * Domain: any number or ±Infinity.
 * Accuracy: relative 1e-14.
 *
 * @example
 * normalLogTails(0); // ln(1/2) both
 *
 * @throws RangeError if z is not a number.
 */
export function normalLogTails(z: number): LogTails {
  const distance = Math.abs(z);
  const tail = normalCdf(-distance);
  const smaller = distance > seriesFrom ? seriesTail(distance) : Math.log(tail);
  const larger = Math.log1p(-tail);
  return z < 0 ? { lower: smaller, upper: larger } : { lower: larger, upper: smaller };
}

function seriesTail(distance: number): number {
  if (distance === Number.POSITIVE_INFINITY) return Number.NEGATIVE_INFINITY;
  const s = 1 / (distance * distance);
  const series = -s * (1 - s * (3 - s * (15 - s * (105 - s * 945))));
  const density = -(distance * distance) / 2 - Math.log(Math.sqrt(2 * Math.PI));
  return density - Math.log(distance) + Math.log1p(series);
}
