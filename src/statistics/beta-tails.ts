import type { Tails } from './gamma-tails.js';
import { binomialDensity } from './saddle-point-density.js';

/**
 * The regularised incomplete beta function I_x(a, b), lower, and its complement, upper.
 *
 * Method: the continued fraction on the side of the mean where it converges fast, the other
 * side by the symmetry I_x(a, b) = 1 - I_y(b, a).
 * Source: DLMF 8.17.22, evaluated from the front, as Lentz has it.
 * Variant: the caller gives y = 1 - x beside x, so that neither loses digits near 1.
 * Domain: 0.25 <= a, b <= 5e8, x and y in 0..1 with the sum 1.
 * Accuracy: relative 1e-13 up to a, b = 1e6 in the tail that is computed and in the other
 * one as long as it is above 0.01.
 * Cost: some 10 steps and a few times the root of the larger of a and b.
 *
 * @example
 * betaTails(0.3, 0.7, 1, 1).lower; // 0.3, the uniform distribution
 */
export function betaTails(x: number, y: number, a: number, b: number): Tails {
  if (x <= 0) return { lower: 0, upper: 1 };
  if (y <= 0) return { lower: 1, upper: 0 };
  const weight = binomialDensity(a, b, x, y) / (a + b);
  if (x < (a + 1) / (a + b + 2)) {
    const lower = Math.min(1, weight * b * fraction(a, b, x));
    return { lower, upper: 1 - lower };
  }
  const upper = Math.min(1, weight * a * fraction(b, a, y));
  return { lower: 1 - upper, upper };
}

/** 1/(1 + d1/(1 + d2/(1 + ...))) with the coefficients of DLMF 8.17.23. */
function fraction(a: number, b: number, x: number): number {
  let c = Number.MAX_VALUE;
  let d = 1;
  let value = 1;
  for (let m = 0; ; m++) {
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / (1 + odd * d);
    c = 1 + odd / c;
    value *= c * d;
    const even = ((m + 1) * (b - m - 1) * x) / ((a + 2 * m + 1) * (a + 2 * m + 2));
    d = 1 / (1 + even * d);
    c = 1 + even / c;
    const change = c * d;
    value *= change;
    if (Math.abs(change - 1) < 2 ** -52) return value;
  }
}
