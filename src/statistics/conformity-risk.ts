import { checkLimits, type ProcessLimits } from './fraction-outside.js';
import { integrate } from './integrate.js';
import type { Moments } from './moments.js';
import { normalCdf } from './normal-cdf.js';
import type { Sample } from './sorted-sample.js';

/** What is conforming and what is accepted; without a guard band the two are the same. */
export interface DecisionRule {
  /** The specification limits, which true values are held against. */
  tolerance: ProcessLimits;
  /** The acceptance limits, which measured values are held against. */
  acceptance: ProcessLimits;
  /** Of one measured value, normal about the true one. */
  standardUncertainty: number;
}

/** True values of the things that are measured. */
export type NormalPopulation = Pick<Moments, 'mean' | 'standardDeviation'>;

/** Shares of all things measured, 0..1. */
export interface GlobalRisks {
  /** Accepted although not conforming. */
  consumer: number;
  /** Rejected although conforming. */
  producer: number;
  accepted: number;
  conforming: number;
}

/** Beyond this many standard deviations nothing of a normal population is left, 4e-33. */
const populationReach = 12;

/**
 * The global consumer's and producer's risk of a decision rule for a normal population:
 * how many things it will accept wrongly and reject wrongly.
 *
 * Method: numerical integration over the true values, of the density times the
 * probability that the measured one falls on the wrong side.
 * Source: JCGM 106:2012, 9.5 (formulas from memory).
 * Variant: joint probabilities: shares of everything measured, not of what was accepted.
 * The population is that of true values; from the spread of readings see `truePopulation`.
 * Domain: mean finite, standardDeviation and standardUncertainty above 0 and finite; limits
 * as `ProcessLimits`.
 * Accuracy: relative 1e-12 (measured against 40-digit arithmetic), and absolute 1e-25 for
 * risks smaller than that.
 * Cost: 1 to 5 ms.
 *
 * @example
 * const zero = { lower: null, upper: 0 };
 * globalRisks({ mean: 0, standardDeviation: 1 }, { tolerance: zero, acceptance: zero, standardUncertainty: 1 });
 * // both 1/8: true and measured value are correlated by 1/√2, so 1/4 - asin(1/√2)/2π
 *
 * @throws RangeError outside the domain.
 */
export function globalRisks(population: NormalPopulation, rule: DecisionRule): GlobalRisks {
  checkRule(rule);
  checkAboveZero('standard deviation', population.standardDeviation);
  const { mean, standardDeviation } = population;
  if (!Number.isFinite(mean)) throw new RangeError(`the mean ${mean} is not finite`);
  const { tolerance, acceptance, standardUncertainty } = rule;
  let consumer = 0;
  let producer = 0;
  const ends = breakPoints(population, rule);
  for (const [index, to] of ends.entries()) {
    const from = ends[index - 1];
    if (from === undefined) continue;
    const inside = within(mean + standardDeviation * ((from + to) / 2), tolerance);
    const part = integrate(
      (t) => {
        const { outside, within: accepted } = shares(
          mean + standardDeviation * t,
          acceptance,
          standardUncertainty,
        );
        return Math.exp(-(t * t) / 2) * (inside ? outside : accepted);
      },
      from,
      to,
    );
    if (inside) producer += part;
    else consumer += part;
  }
  const measuredSpread = Math.hypot(standardDeviation, standardUncertainty);
  return {
    consumer: consumer / Math.sqrt(2 * Math.PI),
    producer: producer / Math.sqrt(2 * Math.PI),
    accepted: shares(mean, acceptance, measuredSpread).within,
    conforming: shares(mean, tolerance, standardDeviation).within,
  };
}

/** Where the integrand turns, in standard deviations of the population, ascending. */
function breakPoints(population: NormalPopulation, rule: DecisionRule): number[] {
  const { tolerance, acceptance, standardUncertainty } = rule;
  const points = new Set([-populationReach, -6, -3, -1, 1, 3, 6, populationReach]);
  const add = (place: number) => {
    const t = (place - population.mean) / population.standardDeviation;
    if (Math.abs(t) < populationReach) points.add(t);
  };
  for (const limit of [tolerance.lower, tolerance.upper]) if (limit !== null) add(limit);
  for (const limit of [acceptance.lower, acceptance.upper]) {
    if (limit === null) continue;
    for (const steps of [-40, -12, -6, -3, -1, 0, 1, 3, 6, 12, 40]) {
      add(limit + steps * standardUncertainty);
    }
  }
  return [...points].sort((a, b) => a - b);
}

/**
 * The global risks for a population given by its members, such as the motors of a month.
 *
 * Method: the mean over the members of the probability that the measured value falls on
 * the wrong side.
 * Source: JCGM 106:2012, 9.5 (formulas from memory), with the sample in the density's place.
 * Variant: as `globalRisks`; the members are taken as true values. Readings hold the
 * uncertainty once already, so that with them the risks come out a little too large.
 * Domain: at least one member, all finite; rule as `globalRisks`.
 * Accuracy: relative 1e-13.
 * Cost: two values of Φ a member.
 *
 * @example
 * const rule = { tolerance: { lower: null, upper: 10 }, acceptance: { lower: null, upper: 9 }, standardUncertainty: 0.5 };
 * empiricalGlobalRisks([8, 11], rule);
 * // consumer Φ(-4)/2 = 0.0000158, producer Φ(-2)/2 = 0.01138
 *
 * @throws RangeError outside the domain.
 */
export function empiricalGlobalRisks(trueValues: Sample, rule: DecisionRule): GlobalRisks {
  checkRule(rule);
  checkValues(trueValues);
  let [consumer, producer, accepted, conforming] = [0, 0, 0, 0];
  for (const value of trueValues) {
    const share = shares(value, rule.acceptance, rule.standardUncertainty);
    accepted += share.within;
    if (within(value, rule.tolerance)) {
      conforming += 1;
      producer += share.outside;
    } else {
      consumer += share.within;
    }
  }
  const n = trueValues.length;
  return {
    consumer: consumer / n,
    producer: producer / n,
    accepted: accepted / n,
    conforming: conforming / n,
  };
}

/**
 * The spread of the true values behind readings that hold the measurement's uncertainty.
 *
 * Method: the variances of true values and of independent errors add up to that of the readings.
 * Domain: standardDeviation >= 0, standardUncertainty > 0, both finite.
 *
 * @returns null if the readings spread no more than the measurement alone would make them.
 *
 * @example
 * truePopulation({ mean: 20, standardDeviation: 5 }, 3); // { mean: 20, standardDeviation: 4 }
 *
 * @throws RangeError outside the domain.
 */
export function truePopulation(
  readings: NormalPopulation,
  standardUncertainty: number,
): NormalPopulation | null {
  checkAboveZero('standard uncertainty', standardUncertainty);
  const { mean, standardDeviation } = readings;
  if (!(standardDeviation >= 0 && Number.isFinite(standardDeviation))) {
    throw new RangeError(
      `the standard deviation ${standardDeviation} is not finite and at least 0`,
    );
  }
  if (standardDeviation <= standardUncertainty) return null;
  const difference = standardDeviation - standardUncertainty;
  const sum = standardDeviation + standardUncertainty;
  return { mean, standardDeviation: Math.sqrt(difference * sum) };
}

/** Verdicts on measured values, and how many of them are likely wrong. */
export interface ExpectedVerdictErrors {
  accepted: number;
  rejected: number;
  /** Accepted things that are not conforming, expected number. */
  expectedFalseAccepts: number;
  /** Rejected things that are conforming, expected number. */
  expectedFalseRejects: number;
}

/**
 * How many verdicts on measured values are expected to be wrong, as a limit trial asks.
 *
 * Method: for each value its specific risk: the probability that a true value, normal
 * about the measured one, lies on the other side of a tolerance limit; summed.
 * Source: JCGM 106:2012, 7 and 9.3 (formulas from memory).
 * Variant: without prior knowledge of the population, each value by itself; where most
 * values are well inside, a rejected one is then called conforming too seldom.
 * Domain: all values finite; none gives no verdicts. Rule as `globalRisks`. A value on an
 * acceptance limit is accepted.
 * Accuracy: relative 1e-13.
 * Cost: two values of Φ a value: under 1 s for a million.
 *
 * @example
 * const limits = { lower: null, upper: 10 };
 * expectedVerdictErrors([9, 10.5], { tolerance: limits, acceptance: limits, standardUncertainty: 0.5 });
 * // { accepted: 1, rejected: 1, expectedFalseAccepts: Φ(-2) = 0.0228, expectedFalseRejects: Φ(-1) = 0.1587 }
 *
 * @throws RangeError outside the domain.
 */
export function expectedVerdictErrors(measured: Sample, rule: DecisionRule): ExpectedVerdictErrors {
  checkRule(rule);
  if (measured.length > 0) checkValues(measured);
  let [accepted, expectedFalseAccepts, expectedFalseRejects] = [0, 0, 0];
  for (const value of measured) {
    const conforming = shares(value, rule.tolerance, rule.standardUncertainty);
    if (within(value, rule.acceptance)) {
      accepted += 1;
      expectedFalseAccepts += conforming.outside;
    } else {
      expectedFalseRejects += conforming.within;
    }
  }
  return {
    accepted,
    rejected: measured.length - accepted,
    expectedFalseAccepts,
    expectedFalseRejects,
  };
}

function within(value: number, { lower, upper }: ProcessLimits): boolean {
  return (lower === null || value >= lower) && (upper === null || value <= upper);
}

/** The shares of a normal distribution within limits and outside them, neither as 1 less the other. */
function shares(
  centre: number,
  { lower, upper }: ProcessLimits,
  spread: number,
): { within: number; outside: number } {
  const toLower = lower === null ? Number.NEGATIVE_INFINITY : lower - centre;
  const toUpper = upper === null ? Number.POSITIVE_INFINITY : upper - centre;
  const outside = normalCdf(toLower, 0, spread) + normalCdf(-toUpper, 0, spread);
  // Both limits on one side: the difference of the two tails on that side keeps its digits.
  const inside =
    toLower > 0
      ? normalCdf(-toLower, 0, spread) - normalCdf(-toUpper, 0, spread)
      : normalCdf(toUpper, 0, spread) - normalCdf(toLower, 0, spread);
  return { within: inside, outside };
}

function checkRule({ tolerance, acceptance, standardUncertainty }: DecisionRule): void {
  checkLimits(tolerance);
  checkLimits(acceptance);
  checkAboveZero('standard uncertainty', standardUncertainty);
}

function checkAboveZero(name: string, value: number): void {
  if (!(value > 0 && Number.isFinite(value))) {
    throw new RangeError(`the ${name} ${value} is not above zero and finite`);
  }
}

function checkValues(values: Sample): void {
  if (values.length === 0) throw new RangeError('there are no values');
  for (const value of values) {
    if (!Number.isFinite(value)) throw new RangeError('a value is not finite');
  }
}
