import { normalQuantile } from './normal-quantile.js';

/** The ends of a confidence interval. */
export interface Interval {
  lower: number;
  upper: number;
}

/**
 * The confidence interval of a proportion, such as the yield behind 95 passes in 100 motors.
 *
 * Method: Wilson's score interval, the proportions that a two-sided score test
 * at this confidence would not reject. It stays inside 0..1 and keeps a width
 * when every trial agrees, where the plain p ± z·s interval collapses.
 * Source: Wilson, J. Amer. Statist. Assoc. 22 (1927) 209; method 3 in
 * Newcombe, Statist. Med. 17 (1998) 857.
 * Variant: two-sided, without continuity correction.
 * Domain: whole successes in 0..trials, whole trials >= 1, 0 < confidence < 1.
 * Accuracy: about 1e-15; at 0 or all successes the end at 0 or 1 is exact.
 *
 * @example
 * wilsonInterval(81, 263); // { lower: 0.2553, upper: 0.3662 } to four places
 *
 * @throws RangeError outside the domain, so with no trials there is no interval.
 */
export function wilsonInterval(successes: number, trials: number, confidence = 0.95): Interval {
  if (!Number.isSafeInteger(trials) || trials < 1) {
    throw new RangeError(`trials is ${trials}, not a whole number of at least 1`);
  }
  if (!Number.isSafeInteger(successes) || successes < 0 || successes > trials) {
    throw new RangeError(`successes is ${successes}, not a whole number from 0 to ${trials}`);
  }
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`the confidence ${confidence} is not strictly between 0 and 1`);
  }
  const z = normalQuantile(1 - (1 - confidence) / 2);
  const failures = trials - successes;
  const middle = successes + (z * z) / 2;
  const reach = z * Math.sqrt((successes * failures) / trials + (z * z) / 4);
  const total = trials + z * z;
  return {
    lower: successes === 0 ? 0 : Math.max(0, (middle - reach) / total),
    upper: failures === 0 ? 1 : Math.min(1, (middle + reach) / total),
  };
}
