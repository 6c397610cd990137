import type { z } from 'zod';
import { decodeCursor, type Page } from '../http/cursor.js';
import { type Asking, question, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import type { CapabilityAsked, OverviewAsked } from './capability-questions.js';
import { capabilityAnswer, overviewLine, overviewPage } from './capability-schema.js';
import type { ComparisonAsked, WeeksAsked } from './comparison-questions.js';
import { comparisonAnswer, pairLine, pairPage, weekLine, weekPage } from './comparison-schema.js';
import type { ReadingsAsked } from './reading-questions.js';
import {
  capabilityQuery,
  comparisonQuery,
  overviewQuery,
  readingLine,
  readingPage,
  readingsParams,
  readingsQuery,
  type Selection,
  selectionOf,
  weeksQuery,
} from './schema.js';

const tag = 'Capability';
const ofOne = ['model-unknown', 'characteristic-unknown', 'question-too-long'] as const;

interface OfCharacteristic {
  model: string;
  characteristic: string;
}

/** Whose values a query asks for. */
function filterOf(query: OfCharacteristic & Parameters<typeof selectionOf>[0], timeZone: string) {
  return { model: query.model, code: query.characteristic, ...selectionOf(query, timeZone) };
}

/** Days that an overview looks back unless said: forty characteristics of ten years take long. */
const OVERVIEW_DAYS = 365;
const DAY_MS = 24 * 60 * 60 * 1000;

function overviewSelection(
  query: z.output<typeof overviewQuery>,
  timeZone: string,
  now: number,
): Selection {
  const selection = selectionOf(query, timeZone);
  if (query.from !== undefined || query.fromDay !== undefined) return selection;
  return { ...selection, fromMs: Math.min(now, selection.untilMs) - OVERVIEW_DAYS * DAY_MS };
}

function compare(
  query: z.output<typeof comparisonQuery>,
  { inWorker, settings: { timeZone } }: Asking,
): Promise<z.input<typeof comparisonAnswer>> {
  const asked: ComparisonAsked = { filter: filterOf(query, timeZone), timeZone };
  return inWorker('cell-comparison', asked);
}

export const capabilityRoutes = [
  question({
    path: '/v1/capability',
    tag,
    summary: 'Capability and performance of one characteristic of a model',
    description:
      'Indices against the specification limits and, apart from them, against the acceptance limits, both of the newest approved revision. Neighbours are runs one after another in time in whichever cell: ask for one cell to keep differences between cells out of the spread within.',
    query: capabilityQuery,
    answer: capabilityAnswer,
    problems: ofOne,
    ask: (_plant, { query }, { inWorker, settings }) => {
      const asked: CapabilityAsked = {
        filter: filterOf(query, settings.timeZone),
        subgroup: query.subgroup ?? null,
      };
      return inWorker<z.input<typeof capabilityAnswer>>('capability', asked);
    },
  }),
  table({
    path: '/v1/capability/overview',
    tag,
    summary: 'Capability of every measured and derived characteristic of a model',
    description: `One line for each, in the order of the newest approved specification, against its limits. Over the ${OVERVIEW_DAYS} days up to now, or to the end of the window, unless a beginning is said; each line’s \`link\` states it.`,
    query: overviewQuery,
    item: overviewLine,
    answer: overviewPage,
    problems: ['model-unknown', 'question-too-long'],
    ask: async (_plant, { query }, { inWorker, now, settings }) => {
      const asked: OverviewAsked = {
        model: query.model,
        selection: overviewSelection(query, settings.timeZone, now),
        subgroup: query.subgroup ?? null,
      };
      const items = await inWorker<z.input<typeof overviewLine>[]>('capability-overview', asked);
      return { items, last: null };
    },
  }),
  table({
    path: '/v1/models/{model}/characteristics/{characteristic}/readings',
    tag,
    summary: 'Judged values of one characteristic, with their runs and motors',
    description:
      'In the order in which the runs ended, in the unit of the newest approved revision. Figures of capability give the address of the readings behind them.',
    params: readingsParams,
    query: readingsQuery,
    item: readingLine,
    answer: readingPage,
    problems: ofOne,
    ask: (_plant, { params, query }, { inWorker, settings }) => {
      const [endedAtMs, runId] = query.after ? decodeCursor(query.after, ['number', 'number']) : [];
      const asked: ReadingsAsked = {
        filter: filterOf({ ...params, ...query }, settings.timeZone),
        beyond: query.beyond ?? null,
        valueFrom: query.valueFrom ?? Number.NEGATIVE_INFINITY,
        valueUntil: query.valueUntil ?? Number.POSITIVE_INFINITY,
        revision: query.revision ?? null,
        after: query.after ? { endedAtMs: Number(endedAtMs), runId: Number(runId) } : null,
        limit: query.limit ?? PAGE_DEFAULT,
      };
      return inWorker<Page<z.input<typeof readingLine>>>('capability-readings', asked);
    },
  }),
  question({
    path: '/v1/cells/comparison',
    tag,
    summary: 'Test cells compared by one characteristic of a model',
    description:
      'Each cell’s mean and spread, whether the means differ (analysis of variance, and Welch’s where spreads differ), which pairs differ, and each cell’s mean by ISO week over the last year of the window, so that a drift shows; all weeks: `/v1/cells/comparison/weeks`.',
    query: comparisonQuery,
    answer: comparisonAnswer,
    problems: ofOne,
    ask: (_plant, { query }, asking) => compare(query, asking),
  }),
  table({
    path: '/v1/cells/comparison/pairs',
    tag,
    summary: 'Differences between the means of test cells, pair by pair',
    query: comparisonQuery,
    item: pairLine,
    answer: pairPage,
    problems: ofOne,
    ask: async (_plant, { query }, asking) => ({
      items: (await compare(query, asking)).pairs,
      last: null,
    }),
  }),
  table({
    path: '/v1/cells/comparison/weeks',
    tag,
    summary: 'Means of each test cell by ISO week',
    query: weeksQuery,
    item: weekLine,
    answer: weekPage,
    problems: ofOne,
    ask: (_plant, { query }, { inWorker, settings: { timeZone } }) => {
      const [cell, fromDay] = query.after ? decodeCursor(query.after, ['string', 'string']) : [];
      const asked: WeeksAsked = {
        filter: filterOf(query, timeZone),
        timeZone,
        after: query.after ? { cell: String(cell), fromDay: String(fromDay) } : null,
        limit: query.limit ?? PAGE_DEFAULT,
      };
      return inWorker<Page<z.input<typeof weekLine>>>('cell-weeks', asked);
    },
  }),
];
