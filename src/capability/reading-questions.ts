import type { z } from 'zod';
import { type CursorKey, cutPage, type Page } from '../http/cursor.js';
import { acceptanceLimits } from '../measurement/limits.js';
import type { Plant } from '../plant.js';
import { readSeries, type Series, type SeriesFilter } from '../series/questions.js';
import type { ProcessLimits } from '../statistics/fraction-outside.js';
import { iso } from '../time.js';
import { runAt } from './capability-questions.js';
import { judgedBy, revisionsWith } from './revisions.js';
import type { Beyond, readingLine } from './schema.js';

export interface ReadingsAsked {
  filter: SeriesFilter;
  /** Null: whatever the limits. */
  beyond: Beyond | null;
  valueFrom: number;
  valueUntil: number;
  /** Null: whichever judged the run. */
  revision: number | null;
  /** End and run of the last reading of the page before; null for the first page. */
  after: { endedAtMs: number; runId: number } | null;
  limit: number;
}

type Line = z.input<typeof readingLine>;

/**
 * The readings behind a figure, in the order in which their runs ended; for a worker thread.
 * @throws Problem model-unknown, characteristic-unknown
 */
export function readingsOf(plant: Plant, asked: ReadingsAsked): Page<Line> {
  return plant.atomically(() => {
    const series = readSeries(plant, asked.filter);
    const isWanted = wantedBy(plant, asked, series);
    const places: number[] = [];
    for (let i = startOf(series, asked.after); i < series.values.length; i += 1) {
      if (places.length > asked.limit) break;
      if (isWanted(i)) places.push(i);
    }
    const { items, last } = cutPage(places, asked.limit, (place) => keyOf(series, place));
    return { items: items.map((place) => presentReading(plant, series, place)), last };
  });
}

function keyOf({ endedAtMs, runIds }: Series, place: number): CursorKey[] {
  return [endedAtMs[place] ?? 0, runIds[place] ?? 0];
}

/** The place behind the reading that a page ended with. */
function startOf({ endedAtMs, runIds }: Series, after: ReadingsAsked['after']): number {
  if (after === null) return 0;
  let first = 0;
  while ((endedAtMs[first] ?? Number.POSITIVE_INFINITY) < after.endedAtMs) first += 1;
  // Runs that ended at the same instant keep their order.
  for (let i = first; endedAtMs[i] === after.endedAtMs; i += 1) {
    if (runIds[i] === after.runId) return i + 1;
  }
  return first;
}

function wantedBy(plant: Plant, asked: ReadingsAsked, series: Series): (place: number) => boolean {
  const { beyond, valueFrom, valueUntil } = asked;
  const judged = judgedWanted(plant, asked, series);
  return (place) => {
    const value = series.values[place] as number;
    if (value < valueFrom || value >= valueUntil || !judged(place)) return false;
    return beyond === null || isBeyond(value, beyond, series.characteristic);
  };
}

function judgedWanted(
  plant: Plant,
  { filter, revision }: ReadingsAsked,
  { runIds }: Series,
): (place: number) => boolean {
  if (revision === null) return () => true;
  const revisions = revisionsWith(plant, filter.model, filter.code);
  const wanted = revisions.findIndex((one) => one.specification.revision === revision);
  if (revisions.length === 1) return () => wanted === 0;
  const places = judgedBy(plant, filter, revisions, runIds);
  return (place) => places[place] === wanted;
}

function isBeyond(value: number, beyond: Beyond, own: Series['characteristic']): boolean {
  const { lower, upper } = beyond.endsWith('acceptance') ? acceptanceLimits(own) : own;
  const below = lower !== null && value < lower;
  const above = upper !== null && value > upper;
  if (beyond.startsWith('lower')) return below;
  return beyond.startsWith('upper') ? above : below || above;
}

function presentReading(plant: Plant, series: Series, place: number): Line {
  const run = runAt(plant, series, place);
  const value = series.values[place] ?? 0;
  return {
    run: run.id,
    motor: run.motor,
    cell: run.cell,
    endedAt: iso(series.endedAtMs[place] ?? 0),
    attempt: run.attempt,
    revision: run.specificationRevision,
    value,
    unit: series.characteristic.unit,
    withinSpecification: isWithin(value, series.characteristic),
    withinAcceptance: isWithin(value, acceptanceLimits(series.characteristic)),
  };
}

function isWithin(value: number, { lower, upper }: ProcessLimits): boolean {
  return (lower === null || value >= lower) && (upper === null || value <= upper);
}
