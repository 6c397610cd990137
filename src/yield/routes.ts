import type { z } from 'zod';
import { cutPage, decodeCursor, type Page } from '../http/cursor.js';
import { table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import {
  looksLong,
  type MotorsAsked,
  motorsBehind,
  presentMotor,
  presentRun,
  type RunsAsked,
  readsMuch,
  runsBehind,
  type YieldAsked,
  yieldPage,
} from './questions.js';
import type { CountedRun, MotorRow } from './records.js';
import {
  firstPassLine,
  firstPassPage,
  firstPassQuery,
  loopsLine,
  loopsPage,
  loopsQuery,
  motorLine,
  motorsPage,
  motorsQuery,
  runLine,
  runsPage,
  runsQuery,
} from './schema.js';

const tag = 'Yield';

export const yieldRoutes = [
  table({
    path: '/v1/yield/first-pass',
    tag,
    summary: 'First-pass and final yield with 95 % Wilson intervals (ISO 22400-2)',
    description:
      'First-pass: motors whose first completed run passed, over motors with a first completed run, by the plant day of that run. A motor repaired between set and first run is not first-pass; an aborted run is no attempt. Final: of the same motors, those whose latest completed run passed.',
    query: firstPassQuery,
    item: firstPassLine,
    answer: firstPassPage,
    problems: ['question-too-long'],
    ask: async (plant, { query: { limit = PAGE_DEFAULT, after, ...query } }, { inWorker }) => {
      const asked: YieldAsked = { query, after: sliceOf(after), limit };
      return readsMuch(query)
        ? await inWorker<Page<z.input<typeof firstPassLine>>>('first-pass-yield', asked)
        : yieldPage(plant, asked);
    },
  }),
  table({
    path: '/v1/yield/motors',
    tag,
    summary: 'The motors behind a line of the yield, by the day of their first completed run',
    query: motorsQuery,
    item: motorLine,
    answer: motorsPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker }) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const begin = afterOf(query.after);
      const after = begin && { day: begin.day, motorId: begin.id };
      const asked: MotorsAsked = { query, after, limit: limit + 1 };
      const rows = looksLong(query)
        ? await inWorker<MotorRow[]>('yield-motors', asked)
        : motorsBehind(plant, asked);
      const { items, last } = cutPage(rows, limit, (row) => [row.day, row.motorId]);
      return { items: items.map(presentMotor), last };
    },
  }),
  table({
    path: '/v1/yield/runs',
    tag,
    summary: 'The runs behind a line of the yield, by the day that they count on',
    description:
      'Every ended run by its own day, shift and cell, repeated and aborted ones too: as completedRuns, passedRuns, defects and abortedRuns count them.',
    query: runsQuery,
    item: runLine,
    answer: runsPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, { inWorker }) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const begin = afterOf(query.after);
      const after = begin && { day: begin.day, runId: begin.id };
      const asked: RunsAsked = { query, after, limit: limit + 1 };
      const rows = looksLong(query)
        ? await inWorker<CountedRun[]>('yield-runs', asked)
        : runsBehind(plant, asked);
      const { items, last } = cutPage(rows, limit, (row) => [row.day, row.runId]);
      return { items: items.map(presentRun), last };
    },
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
    ask: async (_plant, { query }, { inWorker }) => {
      const { fromDay = null, untilDay = null } = query;
      const items = await inWorker<z.input<typeof loopsLine>[]>('rework-loops', {
        fromDay,
        untilDay,
      });
      return { items, last: null };
    },
  }),
];

/** The slice that a page begins behind. */
function sliceOf(cursor: string | undefined): string | null {
  return cursor === undefined ? null : String(decodeCursor(cursor, ['string'])[0]);
}

/** The day and the motor or run that a page begins behind. */
function afterOf(cursor: string | undefined): { day: string; id: number } | null {
  if (cursor === undefined) return null;
  const [day, id] = decodeCursor(cursor, ['string', 'number']);
  return { day: String(day), id: Number(id) };
}
