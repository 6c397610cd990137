import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import type { Plant } from '../plant.js';
import { runBlocks, type Series, type SeriesFilter } from '../series/questions.js';
import { isoOrNull } from '../time.js';
import type { capabilityAnswer } from './capability-schema.js';
import { type characteristicHead, readingsLink } from './schema.js';

/** A revision that has the characteristic. */
export interface Revision {
  specification: SpecificationRow;
  characteristic: Series['characteristic'];
}

/** Approved revisions of a model that measure or derive a characteristic, oldest first. */
export function revisionsWith(plant: Plant, model: string, code: string): Revision[] {
  return plant.series.specificationsOf(model).flatMap((id) => {
    const specification = existingSpecification(plant, id);
    const found = specification.characteristics.find((one) => one.code === code);
    return found && found.kind !== 'attribute' ? [{ specification, characteristic: found }] : [];
  });
}

/** A characteristic as the newest revision has it. */
export function presentCharacteristic(
  revisions: readonly Revision[],
): z.input<typeof characteristicHead> {
  const { specification, characteristic } = newestOf(revisions);
  const { code, name, kind, unit, decimals } = characteristic;
  const { id, revision } = specification;
  return { code, name, kind, unit, decimals, specification: id, revision };
}

function newestOf(revisions: readonly Revision[]): Revision {
  const newest = revisions.at(-1);
  if (!newest) throw new Error('no revision has the characteristic');
  return newest;
}

/**
 * Which revision judged each of the runs: its place in `revisions`, of which there are two
 * or more.
 * @param runIds runs of the filter's window that have the characteristic
 */
export function judgedBy(
  plant: Plant,
  filter: SeriesFilter,
  revisions: readonly Revision[],
  runIds: Float64Array,
): Uint16Array {
  const placeOf = new Map(revisions.map((one, place) => [one.specification.id, place]));
  let largest = 0;
  for (const id of runIds) largest = Math.max(largest, id);
  // Run ids are given out one after another, so that a table by id is small.
  const byRun = new Uint16Array(largest + 1);
  for (const block of runBlocks(plant, filter.model, filter)) {
    const place = placeOf.get(block.specification.id);
    if (place === undefined) continue;
    for (const id of block.runIds) if (id <= largest) byRun[id] = place;
  }
  const places = new Uint16Array(runIds.length);
  for (let i = 0; i < runIds.length; i += 1) places[i] = byRun[runIds[i] as number] as number;
  return places;
}

/** Runs of a filter that each revision judged. */
export function judgedCounts(
  plant: Plant,
  filter: SeriesFilter,
  revisions: readonly Revision[],
  runIds: Float64Array,
): number[] {
  if (revisions.length === 1) return [runIds.length];
  const counts = revisions.map(() => 0);
  for (const place of judgedBy(plant, filter, revisions, runIds)) {
    counts[place] = (counts[place] ?? 0) + 1;
  }
  return counts;
}

type Told = Pick<z.input<typeof capabilityAnswer>, 'revisions' | 'limitsChanged' | 'limitsNote'>;

/** The revisions behind a series, and whether its values were judged by other limits than now. */
export function presentRevisions(
  filter: SeriesFilter,
  revisions: readonly Revision[],
  counts: readonly number[],
): Told {
  const newest = newestOf(revisions);
  const used = revisions
    .map((one, place) => ({ ...one, count: counts[place] ?? 0 }))
    .filter((one) => one.count > 0 || one.specification === newest.specification);
  const others = used.filter((one) => one.count > 0 && !isSameLimits(one, newest));
  const values = sumOf(others.map((one) => one.count));
  const { revision } = newest.specification;
  return {
    revisions: used.map(({ specification, characteristic, count }) => ({
      specification: specification.id,
      revision: specification.revision,
      effectiveFrom: isoOrNull(specification.effectiveFromMs),
      unit: characteristic.unit,
      lower: characteristic.lower,
      upper: characteristic.upper,
      guardBand: characteristic.guardBand,
      count,
      link: readingsLink(filter, { revision: specification.revision }),
    })),
    limitsChanged: others.length > 0,
    limitsNote:
      others.length > 0
        ? `All figures are against the limits of revision ${revision}; ${values} of ${sumOf(counts)} values were judged by other limits, of revision ${listOf(others)}.`
        : `All values were judged by the limits of revision ${revision} or by the same ones.`,
  };
}

function isSameLimits({ characteristic: a }: Revision, { characteristic: b }: Revision): boolean {
  const members = ['unit', 'lower', 'upper', 'guardBand'] as const;
  return members.every((member) => a[member] === b[member]);
}

function listOf(revisions: readonly Revision[]): string {
  return revisions.map((one) => one.specification.revision).join(', ');
}

function sumOf(counts: readonly number[]): number {
  return counts.reduce((sum, one) => sum + one, 0);
}
