import type { z } from 'zod';
import { table } from '../http/route.js';
import { dayEnd, dayStart } from '../time.js';
import { firstPassYield } from './questions.js';
import {
  firstPassLine,
  firstPassPage,
  firstPassQuery,
  loopsLine,
  loopsPage,
  loopsQuery,
} from './schema.js';

const tag = 'Yield';

export const yieldRoutes = [
  table({
    path: '/v1/yield/first-pass',
    tag,
    summary: 'First-pass yield with 95 % Wilson intervals (ISO 22400-2 first pass yield)',
    description:
      'Motors whose first completed run passed, over motors with a first completed run, by the plant day of that run. A motor repaired between set and first run is not first-pass; an aborted run is no attempt.',
    query: firstPassQuery,
    item: firstPassLine,
    answer: firstPassPage,
    ask: (plant, { query }) => ({ items: firstPassYield(plant, query), last: null }),
  }),
  table({
    path: '/v1/yield/rework-loops',
    tag,
    summary: 'Motors by number of rework loops',
    description: 'Motors whose first completed run lies in the period.',
    query: loopsQuery,
    item: loopsLine,
    answer: loopsPage,
    problems: ['question-too-long'],
    ask: async (_plant, { query }, { inWorker, settings }) => {
      const fromMs = query.fromDay ? dayStart(query.fromDay, settings.timeZone) : 0;
      const untilMs = query.untilDay
        ? dayEnd(query.untilDay, settings.timeZone)
        : Number.MAX_SAFE_INTEGER;
      const items = await inWorker<z.input<typeof loopsLine>[]>('rework-loops', {
        fromMs,
        untilMs,
      });
      return { items, last: null };
    },
  }),
];
