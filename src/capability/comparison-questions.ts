import { DateTime } from 'luxon';
import type { z } from 'zod';
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
    const weeks = weeksBetween(endedAtMs[0] ?? 0, endedAtMs.at(-1) ?? -1, timeZone);
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

interface Week {
  week: string;
  fromDay: string;
  untilDay: string;
  fromMs: number;
  untilMs: number;
}

/** The ISO weeks from one end of a run to another; of a calendar each is asked once. */
function weeksBetween(firstMs: number, lastMs: number, timeZone: string): Week[] {
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
  let until = 0;
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
