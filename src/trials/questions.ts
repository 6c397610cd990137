import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import type { Characteristic } from '../testing/rules.js';
import { trialMotors } from './motor-questions.js';
import { presentTrial } from './present.js';
import { judgedBlocks, openTrial, type Trial, type TrialAsked } from './replay.js';
import type { Uncertainty } from './risks.js';
import type { trialAnswer } from './schema.js';
import { TrialTally } from './tally.js';

/**
 * What a specification, draft or approved, would have said of a model's past runs; for a
 * worker thread.
 * @throws Problem specification-unknown
 */
export function limitTrial(plant: Plant, asked: TrialAsked): z.input<typeof trialAnswer> {
  return plant.atomically(() => {
    const trial = openTrial(plant, asked);
    const tally = new TrialTally(plant, uncertaintiesOf(plant, trial));
    for (const judged of judgedBlocks(plant, trial)) tally.add(judged);
    return presentTrial(trial, tally);
  });
}

/** By code: what the specification on trial states, else the newest approved revision that does. */
function uncertaintiesOf(plant: Plant, { specification }: Trial): ReadonlyMap<string, Uncertainty> {
  const byCode = new Map(statedIn(specification.characteristics, 'trial'));
  for (const id of plant.series.specificationsOf(specification.model).reverse()) {
    const past = statedIn(existingSpecification(plant, id).characteristics, 'past');
    for (const [code, uncertainty] of past) {
      if (!byCode.has(code)) byCode.set(code, uncertainty);
    }
  }
  return byCode;
}

function statedIn(
  characteristics: readonly Characteristic[],
  statedBy: Uncertainty['statedBy'],
): [string, Uncertainty][] {
  return characteristics.flatMap((one): [string, Uncertainty][] => {
    if (one.kind === 'attribute' || one.standardUncertainty === null) return [];
    return [[one.code, { value: one.standardUncertainty, unit: one.unit, statedBy }]];
  });
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const trialQuestions = {
  'limit-trial': limitTrial,
  'limit-trial-motors': trialMotors,
};
