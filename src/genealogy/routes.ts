import { cutPage, decodeCursor } from '../http/cursor.js';
import { question, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import { anyScanProblems } from '../units/resolve.js';
import { historyOf, presentEvents } from './history.js';
import { eventPage, eventQuery, eventShape, historyQuery, historyShape } from './schema.js';

const tag = 'Genealogy';

export const genealogyRoutes = [
  question({
    path: '/v1/history',
    tag,
    summary: 'Everything known of a serial',
    description:
      'By any serial or scan, of a motor, a half or a component: the tree it stands in, now or at a time, and all that happened to it, in it and around it.',
    query: historyQuery,
    answer: historyShape,
    problems: anyScanProblems,
    ask: (plant, { query }, { now }) => historyOf(plant, query, now),
  }),
  table({
    path: '/v1/events',
    tag,
    summary: 'The journal: every change, in order',
    query: eventQuery,
    item: eventShape,
    answer: eventPage,
    ask: (plant, { query }) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const [after] = query.after ? decodeCursor(query.after, ['number']) : [0];
      const page = cutPage(plant.journal.list(Number(after), limit + 1), limit, (row) => [row.seq]);
      return { items: presentEvents(plant, page.items), last: page.last };
    },
  }),
];
