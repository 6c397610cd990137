import { DateTime } from 'luxon';
import type { z } from 'zod';
import type { Plant } from '../plant.js';
import type { returnAnswers } from './answers-schema.js';
import type { Borne } from './factor-records.js';
import type { ReturnRow, Span } from './records.js';
import { compareFactors } from './rules.js';

type Shared = z.input<typeof returnAnswers>['shared'];
type Factor = Shared['items'][number]['factor'];
type Candidate = Borne & { factor: Factor };

/** Values compared at most: those that the most returned motors bear. */
export const COMPARED_LIMIT = 100;

/**
 * What the returned motors of a model with a symptom share more than chance would have
 * it, against all released motors of the model.
 */
export function sharedBy(
  plant: Plant,
  { symptom, modelId }: Pick<ReturnRow, 'symptom' | 'modelId'>,
  timeZone: string,
): Shared {
  const alike = { symptom, modelId };
  const returned = plant.returns.returnedMotors(alike);
  const population = plant.returns.population(modelId);
  const weeks = weeksBorne(plant, alike, timeZone);
  const as = (factor: Factor) => (one: Borne) => ({ ...one, factor });
  const candidates: Candidate[] = [
    ...plant.returns.lotsBorne(alike).map(as('lot')),
    ...plant.returns.cellsBorne(alike).map(as('cell')),
    ...plant.returns.configurationsBorne(alike).map(as('configuration')),
    ...plant.returns.causesBorne(alike).map(as('repair-cause')),
    ...weeks.borne.map(as('set-week')),
  ];
  const compared = [...candidates].sort((a, b) => b.motors - a.motors).slice(0, COMPARED_LIMIT);
  const motors = countMotors(plant, compared, weeks.spans, modelId);
  const counts = compared.map((one) => ({
    factor: one.factor,
    value: one.value,
    returned: one.motors,
    motors: motors[one.factor].get(one.key) ?? 0,
  }));
  return {
    returned,
    population,
    candidates: candidates.length,
    comparisons: counts.length,
    method: methodOf(candidates.length),
    items: compareFactors(counts, returned, population, candidates.length).map((one) => ({
      ...one,
      factor: one.factor as Factor,
    })),
  };
}

function methodOf(candidates: number): string {
  return `Every lot, cell of the releasing run, configuration with its revision, repair cause and ISO week of set that at least two of the returned motors bear, against all released motors of the model: ${candidates} values, of which the ${COMPARED_LIMIT} most borne are compared at most. Risk ratio with Koopman’s 95 % score interval; Fisher’s exact test, two-sided by the tables not more probable than the observed one; Holm’s adjustment for all ${candidates}. A shared value is a place to look, not yet a cause.`;
}

/** Released motors of the model that bear each compared value, by factor and key. */
function countMotors(
  plant: Plant,
  compared: readonly Candidate[],
  spans: Readonly<Record<string, Span>>,
  modelId: number,
): Record<Factor, Map<number | string, number>> {
  const keysOf = (factor: Factor) =>
    compared.filter((one) => one.factor === factor).map((one) => one.key);
  const weeks = keysOf('set-week').flatMap((week) => {
    const span = spans[week];
    return span ? [[week, span] as const] : [];
  });
  return {
    lot: plant.returns.withLots(keysOf('lot'), modelId),
    cell: plant.returns.inCells(keysOf('cell'), modelId),
    configuration: plant.returns.ofConfigurations(keysOf('configuration'), modelId),
    'repair-cause': plant.returns.withCauses(keysOf('repair-cause'), modelId),
    'set-week': plant.returns.setIn(Object.fromEntries(weeks), modelId),
  };
}

/** ISO weeks, in the plant's time zone, in which at least two of the returned motors were set. */
function weeksBorne(
  plant: Plant,
  alike: { symptom: string; modelId: number },
  timeZone: string,
): { borne: Borne[]; spans: Record<string, Span> } {
  const motors = new Map<string, number>();
  const spans: Record<string, Span> = {};
  for (const { atMs } of plant.returns.setTimes(alike)) {
    const at = DateTime.fromMillis(atMs, { zone: timeZone });
    const week = at.toFormat("kkkk-'W'WW");
    motors.set(week, (motors.get(week) ?? 0) + 1);
    const start = at.startOf('week');
    spans[week] ??= [start.toMillis(), start.plus({ weeks: 1 }).toMillis()];
  }
  const borne = [...motors]
    .filter(([, count]) => count >= 2)
    .map(([week, count]) => ({ key: week, value: week, motors: count }));
  return { borne, spans };
}
