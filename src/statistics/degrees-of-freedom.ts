/** The largest number of degrees of freedom that the distributions here take, which bounds their cost. */
export const degreesOfFreedomMax = 1_000_000_000;

/** Below this, the tail that is not computed itself could lose its digits. */
export const degreesOfFreedomMin = 0.5;

/** @throws RangeError unless degreesOfFreedomMin <= degreesOfFreedom <= degreesOfFreedomMax. */
export function checkDegreesOfFreedom(degreesOfFreedom: number): void {
  if (!(degreesOfFreedom >= degreesOfFreedomMin && degreesOfFreedom <= degreesOfFreedomMax)) {
    throw new RangeError(
      `${degreesOfFreedom} degrees of freedom are not between ${degreesOfFreedomMin} and ${degreesOfFreedomMax}`,
    );
  }
}

/** @throws RangeError unless 0 < probability < 1. */
export function checkProbability(probability: number): void {
  if (!(probability > 0 && probability < 1)) {
    throw new RangeError(`the probability ${probability} is not strictly between 0 and 1`);
  }
}

/** @throws RangeError unless 0 < confidence < 1. */
export function checkConfidence(confidence: number): void {
  if (!(confidence > 0 && confidence < 1)) {
    throw new RangeError(`the confidence ${confidence} is not strictly between 0 and 1`);
  }
}
