/**
 * The chance that a unit passes every step the first time.
 *
 * Method: the product of the steps' first-pass yields.
 * Source: the usual definition (from memory); a step's first-pass yield is ISO 22400-2's,
 * good parts at the first inspection / inspected parts (from memory).
 * Variant: steps are taken as independent. Where a unit that fails one step tends to fail the
 * next, the share of units without any failure is higher: count it instead where units are known.
 * Domain: at least one step, each yield in 0..1.
 * Accuracy: relative 1e-16 times the number of steps.
 *
 * @example
 * rolledThroughputYield([0.98, 0.97, 0.995]); // 0.945847
 *
 * @throws RangeError outside the domain.
 */
export function rolledThroughputYield(stepYields: readonly number[]): number {
  if (stepYields.length === 0) throw new RangeError('there is no step');
  let rolled = 1;
  for (const stepYield of stepYields) {
    if (!(stepYield >= 0 && stepYield <= 1)) {
      throw new RangeError(`the yield ${stepYield} is not between 0 and 1`);
    }
    rolled *= stepYield;
  }
  return rolled;
}
