import { betaLogOddsQuantile } from './beta-quantile.js';
import { betaTails } from './beta-tails.js';
import { checkDegreesOfFreedom, checkProbability } from './degrees-of-freedom.js';
import type { Tails } from './gamma-tails.js';

/**
 * The shares of an F distribution at or below a value, and above it: the latter is the p
 * value of an analysis of variance.
 *
 * Method: the regularised incomplete beta function at d1·value / (d1·value + d2).
 * Source: NIST/SEMATECH e-Handbook 1.3.6.6.5; DLMF 8.17.
 * Domain: value >= 0, Infinity included; degrees of freedom from degreesOfFreedomMin to degreesOfFreedomMax, whole or not.
 * Accuracy: relative 1e-13 in the smaller tail down to 1e-50, 1e-12 at 1e-300 and with
 * degreesOfFreedomMax (measured against 50-digit arithmetic).
 *
 * @example
 * fTails(3.3258, 5, 10).upper; // 0.0500
 *
 * @throws RangeError outside the domain.
 */
export function fTails(value: number, d1: number, d2: number): Tails {
  if (!(value >= 0)) throw new RangeError(`the value ${value} is not at least 0`);
  checkDegreesOfFreedom(d1);
  checkDegreesOfFreedom(d2);
  const odds = (d1 / d2) * value;
  return betaTails(1 / (1 + 1 / odds), 1 / (1 + odds), d1 / 2, d2 / 2);
}

/**
 * The value that an F-distributed quantity stays below with a given probability.
 *
 * Method: from the odds of `betaLogOddsQuantile`.
 * Source: the inverse of `fTails`.
 * Variant: lower tail, so fQuantile(0.95, d1, d2) is the 5 % point of the tables.
 * Domain: 0 < probability < 1, degrees of freedom from degreesOfFreedomMin to degreesOfFreedomMax.
 * Accuracy: relative 1e-13 up to 2,000,000 degrees of freedom (measured against 50-digit
 * arithmetic).
 *
 * @example
 * fQuantile(0.95, 5, 10); // 3.3258
 *
 * @throws RangeError outside the domain.
 */
export function fQuantile(probability: number, d1: number, d2: number): number {
  checkProbability(probability);
  checkDegreesOfFreedom(d1);
  checkDegreesOfFreedom(d2);
  const tails = { lower: probability, upper: 1 - probability };
  return (d2 / d1) * Math.exp(betaLogOddsQuantile(tails, d1 / 2, d2 / 2));
}
