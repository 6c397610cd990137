import { existingSpecification } from '../../catalogue/specification-actions.js';
import type { Plant } from '../../plant.js';

export interface Choice {
  /** Null where there is none to choose. */
  model: string | null;
  characteristics: readonly { code: string; name: string }[];
}

/** The model asked for, else the first one, with what its newest approved specification measures. */
export function choiceOf(plant: Plant, asked: string | null): Choice {
  const model = asked ?? plant.catalogue.models(0, 1)[0]?.code ?? null;
  const newest = model === null ? undefined : plant.series.specificationsOf(model).at(-1);
  if (newest === undefined) return { model, characteristics: [] };
  return {
    model,
    characteristics: existingSpecification(plant, newest).characteristics.filter(
      (one) => one.kind !== 'attribute',
    ),
  };
}
