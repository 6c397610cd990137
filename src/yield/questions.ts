import type { z } from 'zod';
import type { Plant } from '../plant.js';
import { wilsonInterval } from '../statistics/wilson-interval.js';
import type { firstPassLine, firstPassQuery } from './schema.js';

type Line = z.input<typeof firstPassLine>;

/** First-pass yield of each slice, from the roll-up, with a 95 % Wilson interval. */
export function firstPassYield(plant: Plant, query: z.output<typeof firstPassQuery>): Line[] {
  const filter = {
    fromDay: query.fromDay ?? '0000-01-01',
    untilDay: query.untilDay ?? '9999-12-31',
    model: query.model ?? null,
    cell: query.cell ?? null,
    station: query.station ?? null,
  };
  return plant.yield.sums(query.by ?? 'model', filter).map((row) => {
    const { firstRuns, firstPasses } = row;
    if (firstRuns === 0) return { ...row, firstPassYield: null, lower: null, upper: null };
    const { lower, upper } = wilsonInterval(firstPasses, firstRuns);
    return { ...row, firstPassYield: firstPasses / firstRuns, lower, upper };
  });
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const yieldQuestions = {
  'rework-loops': (plant: Plant, { fromMs, untilMs }: { fromMs: number; untilMs: number }) =>
    plant.yield.loops(fromMs, untilMs),
};
