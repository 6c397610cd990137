import { clopperPearsonInterval } from './clopper-pearson-interval.js';
import { normalQuantile } from './normal-quantile.js';
import type { Interval } from './wilson-interval.js';

/** How many times as high the first share or rate is as the second. */
export interface RatioEstimate extends Interval {
  /** First over second; Infinity when only the second is 0, null when both are 0. */
  ratio: number | null;
}

/** Two groups of motors, and how many in each have the feature. */
export interface TwoShares {
  events1: number;
  trials1: number;
  events2: number;
  trials2: number;
}

/** Two counts, and the hours, months or motors that each was counted over. */
export interface TwoRates {
  events1: number;
  exposure1: number;
  events2: number;
  exposure2: number;
}

/** The range of ln(ratio) searched: any counts that are safe integers stay far inside it. */
const logRatioMax = 100;

/**
 * The ratio of two shares with its confidence interval: the share of returned
 * motors that have a feature over the share of the others that have it. Where
 * what is counted are events over running time, use `poissonRateRatio`.
 *
 * Method: the score interval, the ratios that a two-sided score test at this
 * confidence would not reject; the variance is taken at the shares that are most
 * likely under the ratio tested. Each end by 64 halvings of ln(ratio).
 * Source: Koopman, Biometrics 40 (1984) 513; the most likely shares in closed form
 * from Miettinen and Nurminen, Statist. Med. 4 (1985) 213.
 * Variant: Koopman's, without the factor N/(N - 1) that Miettinen and Nurminen put
 * on the variance; theirs is slightly wider. Two-sided, no continuity correction.
 * Domain: whole events in 0..trials, whole trials >= 1, 0 < confidence < 1.
 * No events in group 1: lower is 0. None in group 2: upper is Infinity (JSON has no
 * such number). None in either: ratio null, 0 to Infinity, for the data say nothing.
 * Accuracy: relative 1e-12 in either end. The interval itself is approximate: its
 * coverage is near the confidence, not above it for certain.
 *
 * @example
 * riskRatio({ events1: 7, trials1: 34, events2: 1, trials2: 34 });
 * // { ratio: 7, lower: 1.2209, upper: 42.5757 } to four places
 *
 * @throws RangeError outside the domain.
 */
export function riskRatio(shares: TwoShares, confidence = 0.95): RatioEstimate {
  checkCounts(shares.events1, shares.trials1);
  checkCounts(shares.events2, shares.trials2);
  checkConfidence(confidence);
  const { events1, trials1, events2, trials2 } = shares;
  const z = normalQuantile(1 - (1 - confidence) / 2);
  return {
    ratio: ratioOf(events1 / trials1, events2 / trials2),
    lower: events1 === 0 ? 0 : ratioWithScore(shares, z),
    upper: events2 === 0 ? Number.POSITIVE_INFINITY : ratioWithScore(shares, -z),
  };
}

/** The ratio at which the score, which falls as the ratio grows, has this value. */
function ratioWithScore(shares: TwoShares, wanted: number): number {
  let below = -logRatioMax;
  let above = logRatioMax;
  for (let halving = 0; halving < 64; halving++) {
    const middle = (below + above) / 2;
    if (score(shares, Math.exp(middle)) > wanted) below = middle;
    else above = middle;
  }
  return Math.exp((below + above) / 2);
}

/** The score test's z of the hypothesis that share 1 is so many times share 2. */
function score({ events1, trials1, events2, trials2 }: TwoShares, ratio: number): number {
  const excess = events1 / trials1 - (ratio * events2) / trials2;
  if (excess === 0) return 0;
  // The most likely share 2 is the smaller root of a·p² - (b1 + b2)·p + c with a = ratio·(trials1 +
  // trials2). Its discriminant b² - 4ac is this sum, and the root this quotient, without the
  // cancellation that would spoil shares near 1, such as of a revision that nearly all motors have.
  const b1 = ratio * (trials1 + events2);
  const b2 = events1 + trials2;
  const discriminant = (b1 - b2) ** 2 + 4 * ratio * (trials1 - events1) * (trials2 - events2);
  const share2 = (2 * (events1 + events2)) / (b1 + b2 + Math.sqrt(discriminant));
  const share1 = ratio * share2;
  const variance =
    (share1 * (1 - share1)) / trials1 + (ratio * ratio * share2 * (1 - share2)) / trials2;
  return excess / Math.sqrt(variance);
}

/**
 * The ratio of two rates with its exact confidence interval: returns for one
 * symptom per running hour with a feature over those without. Where what is
 * counted are motors out of motors, use `riskRatio`.
 *
 * Method: given both counts together, the first is binomial, and its odds are the
 * ratio of the rates times that of the exposures; the ends are the odds at the
 * Clopper-Pearson interval of its share.
 * Source: Przyborowski and Wilenski, Biometrika 31 (1940) 313; Lehmann and Romano,
 * Testing Statistical Hypotheses (2005), p. 125, both as cited by others.
 * Variant: two-sided with equal tails, conditional.
 * Domain: whole events of 0 or more, together at most binomialTrialsMax; exposures
 * above 0 and finite, both in the same unit; 0 < confidence < 1.
 * No events in group 1: lower is 0. None in group 2: upper is Infinity (JSON has no
 * such number). None in either: ratio null, 0 to Infinity.
 * Accuracy: relative 1e-12. Exact coverage: at least the confidence, if counts are Poisson.
 *
 * @example
 * poissonRateRatio({ events1: 2, exposure1: 17877, events2: 9, exposure2: 16660 });
 * // { ratio: 0.2071, lower: 0.0218, upper: 1.0005 } to four places
 *
 * @throws RangeError outside the domain.
 */
export function poissonRateRatio(rates: TwoRates, confidence = 0.95): RatioEstimate {
  const { events1, exposure1, events2, exposure2 } = rates;
  for (const events of [events1, events2]) checkCounts(events, Number.MAX_SAFE_INTEGER);
  for (const exposure of [exposure1, exposure2]) {
    if (!(exposure > 0 && Number.isFinite(exposure))) {
      throw new RangeError(`the exposure ${exposure} is not above zero and finite`);
    }
  }
  checkConfidence(confidence);
  const ratio = ratioOf(events1 / exposure1, events2 / exposure2);
  const together = events1 + events2;
  if (together === 0) return { ratio, lower: 0, upper: Number.POSITIVE_INFINITY };
  // Both shares' intervals, rather than 1 minus one of them, keep the digits of a small share.
  const share1 = clopperPearsonInterval(events1, together, confidence);
  const share2 = clopperPearsonInterval(events2, together, confidence);
  const perOdds = exposure2 / exposure1;
  return {
    ratio,
    lower: (share1.lower / share2.upper) * perOdds,
    upper: (share1.upper / share2.lower) * perOdds,
  };
}

function ratioOf(first: number, second: number): number | null {
  return first === 0 && second === 0 ? null : first / second;
}

function checkCounts(events: number, trials: number): void {
  if (!Number.isSafeInteger(trials) || trials < 1) {
    throw new RangeError(`trials is ${trials}, not a whole number of at least 1`);
  }
  if (!Number.isSafeInteger(events) || events < 0 || events > trials) {
    throw new RangeError(`events is ${events}, not a whole number from 0 to ${trials}`);
  }
}

function checkConfidence(confidence: number): void {
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`the confidence ${confidence} is not strictly between 0 and 1`);
  }
}
