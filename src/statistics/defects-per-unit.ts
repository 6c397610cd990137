/**
 * Defects per unit, where one unit may have several.
 *
 * Method: defects / units. Source: the definition.
 * Domain: whole defects >= 0, whole units >= 1. Accuracy: one rounding.
 *
 * @example
 * defectsPerUnit(6, 120); // 0.05
 *
 * @throws RangeError outside the domain.
 */
export function defectsPerUnit(defects: number, units: number): number {
  if (!Number.isSafeInteger(units) || units < 1) {
    throw new RangeError(`units is ${units}, not a whole number of at least 1`);
  }
  if (!Number.isSafeInteger(defects) || defects < 0) {
    throw new RangeError(`defects is ${defects}, not a whole number of at least 0`);
  }
  return defects / units;
}

/**
 * The share of units without a defect that so many defects per unit lead one to expect.
 *
 * Method: the Poisson probability of none, e^-dpu.
 * Source: the distribution's definition.
 * Variant: defects fall independently and alike on all units. Where they come in clusters,
 * more units are free of them than this says.
 * Domain: a rate >= 0. Accuracy: relative 1e-16.
 *
 * @example
 * poissonYield(0.05); // 0.951229
 *
 * @throws RangeError outside the domain.
 */
export function poissonYield(defectsPerUnit: number): number {
  if (!(defectsPerUnit >= 0 && Number.isFinite(defectsPerUnit))) {
    throw new RangeError(`${defectsPerUnit} defects per unit is not finite and at least 0`);
  }
  return Math.exp(-defectsPerUnit);
}

/**
 * The defects per unit that a yield stands for, if they fell as Poisson has it: the
 * inverse of `poissonYield`, -ln(yield).
 *
 * Domain: 0 < yield <= 1; at yield 0 there is no such number. Accuracy: absolute 1e-16 near 1, else
 * relative 1e-15.
 *
 * @example
 * defectsPerUnitOf(0.945847); // 0.055674
 *
 * @throws RangeError outside the domain.
 */
export function defectsPerUnitOf(yieldShare: number): number {
  if (!(yieldShare > 0 && yieldShare <= 1)) {
    throw new RangeError(`the yield ${yieldShare} is not above 0 and at most 1`);
  }
  return 0 - Math.log(yieldShare);
}
