import { betaLogOddsQuantile } from './beta-quantile.js';
import { betaTails } from './beta-tails.js';
import { checkDegreesOfFreedom, checkProbability } from './degrees-of-freedom.js';

/**
 * The probability that a Student t quantity is at most a value.
 *
 * Method: half the tail of the beta-distributed t² / (t² + degrees of freedom).
 * Source: NIST/SEMATECH e-Handbook 1.3.6.6.4; DLMF 8.17.
 * Variant: lower tail; for an upper tail ask studentTCdf(-value), for the p value of a
 * two-sided test twice studentTCdf(-|value|).
 * Domain: value any number or ±Infinity; degrees of freedom from degreesOfFreedomMin to degreesOfFreedomMax, whole or not.
 * Accuracy: below 0 relative 1e-13 down to 1e-50, 1e-12 at 1e-300 (measured against
 * 50-digit arithmetic); above 0 as near to 1 as a double is.
 *
 * @example
 * studentTCdf(1, 1); // 3/4, the Cauchy distribution
 *
 * @throws RangeError outside the domain.
 */
export function studentTCdf(value: number, degreesOfFreedom: number): number {
  if (Number.isNaN(value)) throw new RangeError('the value is not a number');
  checkDegreesOfFreedom(degreesOfFreedom);
  const odds = (value / degreesOfFreedom) * value;
  const beyond = betaTails(1 / (1 + 1 / odds), 1 / (1 + odds), 0.5, degreesOfFreedom / 2);
  return value < 0 ? beyond.upper / 2 : 0.5 + beyond.lower / 2;
}

/**
 * The value that a Student t quantity stays below with a given probability.
 *
 * Method: the root of degrees of freedom times the odds of `betaLogOddsQuantile`.
 * Source: the inverse of `studentTCdf`.
 * Variant: lower tail, so studentTQuantile(0.975, n - 1) is the factor of a two-sided 95 % interval.
 * Domain: 0 < probability < 1, degrees of freedom from degreesOfFreedomMin to degreesOfFreedomMax.
 * Accuracy: relative 1e-13 (measured against 50-digit arithmetic); beyond 1e150 in size it
 * is only known to be that large.
 *
 * @example
 * studentTQuantile(0.975, 4); // 2.776
 *
 * @throws RangeError outside the domain.
 */
export function studentTQuantile(probability: number, degreesOfFreedom: number): number {
  checkProbability(probability);
  checkDegreesOfFreedom(degreesOfFreedom);
  if (probability === 0.5) return 0;
  const tail = Math.min(probability, 1 - probability);
  // 1 - 2p is exact near one half, where the digits of the quantile come from it.
  const tails = { lower: 1 - 2 * tail, upper: 2 * tail };
  const logOdds = betaLogOddsQuantile(tails, 0.5, degreesOfFreedom / 2);
  const size = Math.sqrt(degreesOfFreedom) * Math.exp(logOdds / 2);
  return probability < 0.5 ? -size : size;
}
