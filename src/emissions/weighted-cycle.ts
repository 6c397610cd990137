/** One mode of a steady-state duty cycle. */
export interface CycleMode {
  mode: number;
  /** Percent of maximum test speed; null at idle. */
  speedPercent: number | null;
  /** Percent of the maximum torque at maximum test speed. */
  torquePercent: number;
  /** The mode's weighting factor; all together are 1. */
  weight: number;
}

/** What was measured in one mode. */
export interface ModeMeasurement {
  mode: number;
  /** Mass rate of the pollutant, g/h. */
  gramsPerHour: number;
  /** Engine power, kW; 0 at idle. */
  kilowatts: number;
}

/** The weighted result of a cycle for one pollutant. */
export interface WeightedResult {
  gramsPerHour: number;
  kilowatts: number;
  /** Brake-specific emission, g/(kW·h), not rounded. */
  gramsPerKilowattHour: number;
}

/**
 * The five modes of duty cycle E4 for discrete-mode testing of propulsion marine engines,
 * as 40 CFR part 1045 appendix II prints them.
 */
export const e4Modes: readonly Readonly<CycleMode>[] = Object.freeze(
  [
    { mode: 1, speedPercent: 100, torquePercent: 100, weight: 0.06 },
    { mode: 2, speedPercent: 80, torquePercent: 71.6, weight: 0.14 },
    { mode: 3, speedPercent: 60, torquePercent: 46.5, weight: 0.15 },
    { mode: 4, speedPercent: 40, torquePercent: 25.3, weight: 0.25 },
    { mode: 5, speedPercent: null, torquePercent: 0, weight: 0.4 },
  ].map((mode) => Object.freeze(mode)),
);

/**
 * The weighted brake-specific result of one pollutant over a discrete-mode cycle.
 *
 * AN AID ONLY: a certified result also needs the regulation's measurements, corrections and
 * rounding; the certifying authority decides. Running engines emit carbon monoxide and have hot and
 * rotating parts: test only in a ventilated cell under local codes.
 *
 * Method: Σ weight · mass rate / Σ weight · power.
 * Source: weights 40 CFR part 1045 appendix II; formula 40 CFR 1065.650 (from memory).
 * Variant: the ratio of the weighted sums, not the weighted sum of the modes' ratios (idle has none).
 * For HC + NOx add the two results.
 * Domain: each mode of the cycle once, in any order; rates and powers finite and >= 0, some power above 0.
 * Accuracy: relative 1e-15.
 *
 * @example
 * weightedCycleResult([
 *   { mode: 1, gramsPerHour: 200, kilowatts: 73.6 },
 *   { mode: 2, gramsPerHour: 120, kilowatts: 42.15 },
 *   { mode: 3, gramsPerHour: 80, kilowatts: 20.53 },
 *   { mode: 4, gramsPerHour: 40, kilowatts: 7.45 },
 *   { mode: 5, gramsPerHour: 15, kilowatts: 0 },
 * ]); // 56.8 g/h, 15.259 kW, 3.722393 g/(kW·h)
 *
 * @throws RangeError outside the domain.
 */
export function weightedCycleResult(
  measurements: readonly ModeMeasurement[],
  cycle: readonly Readonly<CycleMode>[] = e4Modes,
): WeightedResult {
  const byMode = new Map(measurements.map((measurement) => [measurement.mode, measurement]));
  if (byMode.size !== measurements.length || byMode.size !== cycle.length) {
    throw new RangeError(`the cycle wants each of its ${cycle.length} modes once`);
  }
  let gramsPerHour = 0;
  let kilowatts = 0;
  for (const { mode, weight } of cycle) {
    const measured = byMode.get(mode);
    if (measured === undefined) throw new RangeError(`mode ${mode} of the cycle is missing`);
    for (const figure of [measured.gramsPerHour, measured.kilowatts]) {
      if (!(figure >= 0 && Number.isFinite(figure))) {
        throw new RangeError(`the figure ${figure} of mode ${mode} is not finite and at least 0`);
      }
    }
    gramsPerHour += weight * measured.gramsPerHour;
    kilowatts += weight * measured.kilowatts;
  }
  if (kilowatts === 0) throw new RangeError('no mode has any power');
  return { gramsPerHour, kilowatts, gramsPerKilowattHour: gramsPerHour / kilowatts };
}
