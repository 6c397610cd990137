import { chiSquaredQuantile } from './chi-squared.js';
import { checkConfidence, checkDegreesOfFreedom } from './degrees-of-freedom.js';
import { checkLimits, type ProcessLimits } from './fraction-outside.js';
import { normalQuantile } from './normal-quantile.js';
import type { Interval } from './wilson-interval.js';

/** A process as a capability index sees it. */
export interface ProcessSpread {
  /** Values behind the mean. */
  count: number;
  mean: number;
  standardDeviation: number;
  /** Behind the standard deviation; not whole if it comes from moving ranges. */
  degreesOfFreedom: number;
}

/** An index with its confidence interval. */
export interface CapabilityIndex extends Interval {
  estimate: number;
}

/** The four indices of one spread: Cp, Cpl, Cpu, Cpk from the spread within, Pp, Ppl, Ppu, Ppk from the overall one. */
export interface CapabilityIndices {
  /** Cp or Pp; null with one limit only. */
  both: CapabilityIndex | null;
  /** Cpl or Ppl; null without a lower limit. */
  lower: CapabilityIndex | null;
  /** Cpu or Ppu; null without an upper limit. */
  upper: CapabilityIndex | null;
  /** Cpk or Ppk, the smaller one of lower and upper. */
  nearest: CapabilityIndex;
}

/**
 * The capability indices of a process with their confidence intervals.
 *
 * Method: both = (upper - lower) / 6σ, lower = (mean - lower) / 3σ, upper = (upper - mean) / 3σ,
 * nearest = the smaller one. The interval of `both` is index · √(χ²/ν), exact for normal
 * values with a σ of ν degrees of freedom; those of the others are Bissell's approximation,
 * index ± z √(1/9n + index²/2ν).
 * Source: NIST/SEMATECH e-Handbook 6.1.6; Bissell, Appl. Statist. 39 (1990) 331, quoted in
 * Rodriguez, J. Qual. Technol. 24 (1992), special issue on capability.
 * Variant: Cp and Cpk for the spread within, Pp and Ppk for the overall one; intervals two-sided.
 * Domain: count >= 2, degrees of freedom from degreesOfFreedomMin to degreesOfFreedomMax, mean
 * finite, standardDeviation >= 0 and finite; limits as `ProcessLimits`; 0 < confidence < 1.
 * Accuracy: estimates relative 1e-15; Bissell's interval is good from some 30 values on and
 * too short below.
 *
 * @returns null if the standard deviation is 0: no index is large enough.
 *
 * @example
 * const spread = { count: 50, mean: 16, standardDeviation: 2, degreesOfFreedom: 49 };
 * capabilityIndices(spread, { lower: 8, upper: 20 }); // both 1, lower 1.333, upper and nearest 0.667
 *
 * @throws RangeError outside the domain.
 */
export function capabilityIndices(
  spread: ProcessSpread,
  limits: ProcessLimits,
  confidence = 0.95,
): CapabilityIndices | null {
  checkLimits(limits);
  checkConfidence(confidence);
  checkSpread(spread);
  if (spread.standardDeviation === 0) return null;
  const { mean: centre, standardDeviation: sigma } = spread;
  const lower = limits.lower === null ? null : oneSided((centre - limits.lower) / (3 * sigma));
  const upper = limits.upper === null ? null : oneSided((limits.upper - centre) / (3 * sigma));
  const nearest = nearerOf(lower, upper);
  let both: CapabilityIndex | null = null;
  if (limits.lower !== null && limits.upper !== null) {
    const estimate = (limits.upper - limits.lower) / (6 * sigma);
    const at = (p: number) =>
      estimate *
      Math.sqrt(chiSquaredQuantile(p, spread.degreesOfFreedom) / spread.degreesOfFreedom);
    both = { estimate, lower: at((1 - confidence) / 2), upper: at((1 + confidence) / 2) };
  }
  return { both, lower, upper, nearest };

  function oneSided(estimate: number): CapabilityIndex {
    const z = normalQuantile((1 + confidence) / 2);
    const variance = 1 / (9 * spread.count) + (estimate * estimate) / (2 * spread.degreesOfFreedom);
    const reach = z * Math.sqrt(variance);
    return { estimate, lower: estimate - reach, upper: estimate + reach };
  }
}

function nearerOf(lower: CapabilityIndex | null, upper: CapabilityIndex | null): CapabilityIndex {
  const nearest =
    lower !== null && (upper === null || lower.estimate <= upper.estimate) ? lower : upper;
  if (nearest === null) throw new RangeError('there is no limit to be capable of');
  return nearest;
}

function checkSpread({ count, mean: centre, standardDeviation, degreesOfFreedom }: ProcessSpread) {
  if (!Number.isSafeInteger(count) || count < 2) {
    throw new RangeError(`the count ${count} is not a whole number of at least 2`);
  }
  if (!Number.isFinite(centre)) throw new RangeError(`the mean ${centre} is not finite`);
  if (!(standardDeviation >= 0 && Number.isFinite(standardDeviation))) {
    throw new RangeError(
      `the standard deviation ${standardDeviation} is not finite and at least 0`,
    );
  }
  checkDegreesOfFreedom(degreesOfFreedom);
}
