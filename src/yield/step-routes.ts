import type { z } from 'zod';
import { cutPage, decodeCursor } from '../http/cursor.js';
import { table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import { iso } from '../time.js';
import { address } from './rework-links.js';
import { type Days, isLong } from './rules.js';
import {
  type InspectedAsked,
  type RefusedAsked,
  rolledThroughput,
  type StepsAsked,
  stepYields,
  windowOf,
} from './step-questions.js';
import type { InspectedRow } from './step-records.js';
import {
  inspectedLine,
  inspectedPage,
  inspectedQuery,
  refusedLine,
  refusedPage,
  refusedQuery,
  rolledLine,
  rolledPage,
  rolledQuery,
  stepLine,
  stepsPage,
  stepsQuery,
} from './step-schema.js';

const tag = 'Yield';

function daysOf(query: z.output<typeof rolledQuery>): Days {
  return { fromDay: query.fromDay ?? null, untilDay: query.untilDay ?? null };
}

export const stepRoutes = [
  table({
    path: '/v1/yield/steps',
    tag,
    summary: 'First-pass yield of the set and of upstream inspections, with 95 % Wilson intervals',
    description:
      'By the plant day of the attempt. Each attempt at a set counts by itself, since a refused scan often names no unit; of inspections the first of each unit counts.',
    query: stepsQuery,
    item: stepLine,
    answer: stepsPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker, settings }) => {
      const asked: StepsAsked = { query, timeZone: settings.timeZone };
      // Each day's link takes its bounds from the shift calendar.
      const items =
        query.by === 'day' || isLong(daysOf(query))
          ? await inWorker<z.input<typeof stepLine>[]>('step-yields', asked)
          : stepYields(plant, asked);
      return { items, last: null };
    },
  }),
  table({
    path: '/v1/yield/refused-sets',
    tag,
    summary: 'Why sets were refused, or where, largest first (Pareto)',
    query: refusedQuery,
    item: refusedLine,
    answer: refusedPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker, settings }) => {
      const asked: RefusedAsked = {
        ...windowOf(plant, query, settings.timeZone),
        by: query.by ?? 'reason',
        reason: query.reason ?? null,
        station: query.station ?? null,
      };
      const items = await inWorker<z.input<typeof refusedLine>[]>('refused-sets', asked);
      return { items, last: null };
    },
  }),
  table({
    path: '/v1/yield/rolled-throughput',
    tag,
    summary: 'Rolled throughput yield over inspections, set and first-pass test',
    description:
      'One line for each step with attempts in the window, in the order of the way: inspections, the set, the test. Steps are taken as independent and each as passed once: a motor with several units of one kind of inspection passes each of them. Each step counts by its own day.',
    query: rolledQuery,
    item: rolledLine,
    answer: rolledPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker }) => {
      const days = daysOf(query);
      const items = isLong(days)
        ? await inWorker<z.input<typeof rolledLine>[]>('rolled-throughput', days)
        : rolledThroughput(plant, days);
      return { items, last: null };
    },
  }),
  table({
    path: '/v1/yield/inspected-units',
    tag,
    summary: 'Units inspected in a step: what its yield counts',
    query: inspectedQuery,
    item: inspectedLine,
    answer: inspectedPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker, settings }) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const [after] = query.after ? decodeCursor(query.after, ['number']) : [0];
      const asked: InspectedAsked = {
        step: query.step ?? null,
        ...windowOf(plant, query, settings.timeZone),
        result: query.result ?? null,
        first: query.first === undefined ? null : Number(query.first),
        station: query.station ?? null,
        afterId: Number(after),
        limit: limit + 1,
      };
      const rows = await inWorker<InspectedRow[]>('inspected-units', asked);
      const { items, last } = cutPage(rows, limit, (row) => [row.id]);
      return { items: items.map(presentInspected), last };
    },
  }),
];

function presentInspected(row: InspectedRow): z.input<typeof inspectedLine> {
  return {
    class: row.class,
    unit: row.serial,
    result: row.result,
    first: row.first === 1,
    station: row.station,
    at: iso(row.atMs),
    link: address('/v1/history', { class: row.class, serial: row.serial }),
  };
}
