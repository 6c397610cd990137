import type { z } from 'zod';
import { cutPage, decodeCursor } from '../http/cursor.js';
import { table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import {
  firstPassYield,
  looksLong,
  type MotorsAsked,
  motorsBehind,
  presentMotor,
  readsMuch,
} from './questions.js';
import type { MotorRow } from './records.js';
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
    ask: async (plant, { query }, { inWorker }) => {
      const items = readsMuch(query)
        ? await inWorker<z.input<typeof firstPassLine>[]>('first-pass-yield', query)
        : firstPassYield(plant, query);
      return { items, last: null };
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
      const asked: MotorsAsked = { query, after: afterOf(query.after), limit: limit + 1 };
      const rows = looksLong(query)
        ? await inWorker<MotorRow[]>('yield-motors', asked)
        : motorsBehind(plant, asked);
      const { items, last } = cutPage(rows, limit, (row) => [row.day, row.motorId]);
      return { items: items.map(presentMotor), last };
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

/** The day and the motor that a page begins behind. */
function afterOf(cursor: string | undefined): MotorsAsked['after'] {
  if (cursor === undefined) return null;
  const [day, motorId] = decodeCursor(cursor, ['string', 'number']);
  return { day: String(day), motorId: Number(motorId) };
}
