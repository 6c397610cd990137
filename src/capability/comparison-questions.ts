import { DateTime } from 'luxon';
import type { z } from 'zod';
import { cutPage, type Page } from '../http/cursor.js';
import type { Plant } from '../plant.js';
import { readSeries, type SeriesFilter } from '../series/questions.js';
import {
  byCell,
  type CellValues,
  cellFigures,
  differencesOf,
  meanFigures,
} from './comparison-rules.js';
import type { comparisonAnswer } from './comparison-schema.js';
import { presentCharacteristic, revisionsWith } from './revisions.js';
import { presentWindow, readingsLink } from './schema.js';

export interface ComparisonAsked {
  filter: SeriesFilter;
  timeZone: string;
}

type Answer = z.input<typeof comparisonAnswer>;

/**
 * The test cells compared by one characteristic; for a worker thread.
 * @throws Problem model-unknown, characteristic-unknown
 */
export function comparisonOf(plant: Plant, { filter, timeZone }: ComparisonAsked): Answer {
  return plant.atomically(() => {
    const series = readSeries(plant, filter);
    const { lower, upper } = series.characteristic;
    const parted = byCell(series);
    const { endedAtMs } = series;
    const weeks = weeksOf(endedAtMs, timeZone).slice(-WEEKS_SHOWN);
    const cells = parted.map(({ cell, values }) => ({
      cell,
      ...cellFigures(values, { lower, upper }),
      link: readingsLink({ ...filter, cell }),
    }));
    return {
      model: filter.model,
      characteristic: presentCharacteristic(revisionsWith(plant, filter.model, filter.code)),
      window: presentWindow(filter),
      runs: filter.runs,
      count: series.values.length,
      link: readingsLink(filter),
      lower,
      upper,
      cells,
      ...differencesOf(cells),
      weeks: parted.flatMap((one) => linesOf(one, weeks, filter)),
    };
  });
}

/** A year of weeks: of ten years they would be megabytes. */
const WEEKS_SHOWN = 53;

export interface WeeksAsked extends ComparisonAsked {
  /** The cell and the first day of the week behind which the page begins. */
  after: { cell: string; fromDay: string } | null;
  limit: number;
}

/**
 * A page of the cells' means by week, cell by cell; for a worker thread.
 * @throws Problem model-unknown, characteristic-unknown
 */
export function cellWeeks(
  plant: Plant,
  { filter, timeZone, after, limit }: WeeksAsked,
): Page<Answer['weeks'][number]> {
  const series = plant.atomically(() => readSeries(plant, filter));
  const weeks = weeksOf(series.endedAtMs, timeZone);
  const found: Answer['weeks'] = [];
  for (const one of byCell(series)) {
    if (after !== null && one.cell < after.cell) continue;
    const behind = after?.cell === one.cell ? after.fromDay : '';
    const left = weeks.filter(({ fromDay }) => fromDay > behind);
    found.push(...linesOf(one, left, filter));
    if (found.length > limit) break;
  }
  return cutPage(found, limit, ({ cell, fromDay }) => [cell, fromDay]);
}

interface Week {
  week: string;
  fromDay: string;
  untilDay: string;
  fromMs: number;
  untilMs: number;
}

/** The ISO weeks from the first end of a run to the last; of a calendar each is asked once. */
function weeksOf(endedAtMs: Float64Array, timeZone: string): Week[] {
  const [firstMs, lastMs] = [endedAtMs[0], endedAtMs.at(-1)];
  if (firstMs === undefined || lastMs === undefined) return [];
  const weeks: Week[] = [];
  let start = DateTime.fromMillis(firstMs, { zone: timeZone }).startOf('week');
  while (start.toMillis() <= lastMs) {
    const next = start.plus({ weeks: 1 });
    weeks.push({
      week: start.toFormat("kkkk-'W'WW"),
      fromDay: start.toFormat('yyyy-MM-dd'),
      untilDay: next.minus({ days: 1 }).toFormat('yyyy-MM-dd'),
      fromMs: start.toMillis(),
      untilMs: next.toMillis(),
    });
    start = next;
  }
  return weeks;
}

/** One line for each week in which the cell has values. */
function linesOf(
  { cell, values, endedAtMs }: CellValues,
  weeks: readonly Week[],
  filter: SeriesFilter,
): Answer['weeks'] {
  const start = endedAtMs.findIndex((ms) => ms >= (weeks[0]?.fromMs ?? 0));
  if (start < 0) return [];
  let until = start;
  return weeks.flatMap(({ fromMs, untilMs, ...week }) => {
    const from = until;
    while ((endedAtMs[until] ?? Number.POSITIVE_INFINITY) < untilMs) until += 1;
    if (from === until) return [];
    const within = {
      fromMs: Math.max(filter.fromMs, fromMs),
      untilMs: Math.min(filter.untilMs, untilMs),
    };
    const figures = meanFigures(values.subarray(from, until));
    return [{ cell, ...week, ...figures, link: readingsLink({ ...filter, ...within, cell }) }];
  });
}
