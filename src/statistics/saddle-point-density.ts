/**
 * Poisson and binomial probabilities continued to real numbers, as the incomplete gamma
 * and beta functions need them.
 *
 * Method: saddle point: the probability at the mean, in which the large logarithms have
 * been cancelled on paper, times the exponential of minus the deviance from it.
 * Source: Loader, Fast and Accurate Computation of Binomial Probabilities (2000).
 */

/** Below this, Stirling's series is not yet good to a double's last digit. */
const seriesFrom = 16;

/**
 * What Stirling's formula misses: ln Γ(z + 1) - [(z + 1/2) ln z - z + ln(2π)/2], for z > 0.
 *
 * From 16 on by its asymptotic series, below by the recurrence from z + 1.
 * Accuracy: absolute 3e-15.
 */
export function stirlingError(z: number): number {
  let below = 0;
  let at = z;
  while (at < seriesFrom) {
    below += (at + 0.5) * Math.log1p(1 / at) - 1;
    at += 1;
  }
  const square = 1 / (at * at);
  const series =
    1 / 12 - square * (1 / 360 - square * (1 / 1260 - square * (1 / 1680 - square / 1188)));
  return below + series / at;
}

/** How far a count is from its mean, x ln(x / mean) + mean - x, without cancellation where they are near. */
function deviance(x: number, mean: number): number {
  const difference = x - mean;
  if (Math.abs(difference) >= 0.1 * (x + mean)) return x * Math.log(x / mean) - difference;
  const v = difference / (x + mean);
  let term = 2 * x * v;
  let sum = difference * v;
  for (let odd = 3; ; odd += 2) {
    term *= v * v;
    const next = sum + term / odd;
    if (next === sum) return sum;
    sum = next;
  }
}

/**
 * mean^k e^(-mean) / Γ(k + 1), for k > 0 and mean >= 0.
 *
 * Accuracy: relative 1e-14, more below 1e-100: the exponent's rounding.
 */
export function poissonDensity(k: number, mean: number): number {
  if (mean === 0 || mean === Number.POSITIVE_INFINITY) return 0;
  return Math.exp(-stirlingError(k) - deviance(k, mean)) / Math.sqrt(2 * Math.PI * k);
}

/**
 * Γ(a + b + 1) / (Γ(a + 1) Γ(b + 1)) x^a y^b, for a, b > 0 and y = 1 - x, which the caller
 * gives so that neither loses digits.
 *
 * Accuracy: as `poissonDensity`.
 */
export function binomialDensity(a: number, b: number, x: number, y: number): number {
  if (x === 0 || y === 0) return 0;
  const n = a + b;
  const exponent =
    stirlingError(n) -
    stirlingError(a) -
    stirlingError(b) -
    deviance(a, n * x) -
    deviance(b, n * y);
  return Math.exp(exponent) * Math.sqrt(n / (2 * Math.PI * a * b));
}
