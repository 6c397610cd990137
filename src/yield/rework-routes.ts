import type { z } from 'zod';
import { cutPage, decodeCursor } from '../http/cursor.js';
import { type Asking, type Route, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import type { Plant } from '../plant.js';
import type {
  CuresAsked,
  MotorFound,
  MotorsAsked,
  ParetoAsked,
  TimesAsked,
  WaitingAsked,
  WaitingLine,
  WaitingPageAsked,
} from './rework-questions.js';
import type { ReworkFilter } from './rework-records.js';
import {
  agesLine,
  agesPage,
  agesQuery,
  cureLine,
  curesPage,
  curesQuery,
  loopsPerMotorLine,
  loopsPerMotorPage,
  loopsPerMotorQuery,
  motorLine,
  motorsPage,
  motorsQuery,
  noFaultLine,
  noFaultPage,
  noFaultQuery,
  paretoLine,
  paretoPage,
  paretoQuery,
  refailLine,
  refailsPage,
  refailsQuery,
  timesLine,
  timesPage,
  timesQuery,
  waitingLine,
  waitingPage,
  waitingQuery,
} from './rework-schema.js';
import { windowOf } from './step-questions.js';
import { stepRoutes } from './step-routes.js';

const tag = 'Rework';

const dated =
  'A failed run counts in the window in which it ended, with all that came of it since.';

function askedOf(
  plant: Plant,
  query: z.output<typeof refailsQuery>,
  { settings }: Asking,
): ReworkFilter {
  const { model = null, cell = null } = query;
  return { ...windowOf(plant, query, settings.timeZone), model, cell };
}

export const reworkRoutes: readonly Route[] = [
  table({
    path: '/v1/rework/loops-per-motor',
    tag,
    summary: 'Rework loops per motor: how many motors had how many, with their mean',
    description:
      'Motors whose first completed run is in the window, by completed runs beyond it, whatever led to them: a failure, a nonconformance found outside the test, or a passed motor sent to another test.',
    query: loopsPerMotorQuery,
    item: loopsPerMotorLine,
    answer: loopsPerMotorPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const asked = askedOf(plant, query, asking);
      type Line = z.input<typeof loopsPerMotorLine>;
      return whole(await asking.inWorker<Line[]>('rework-loops-per-motor', asked));
    },
  }),
  table({
    path: '/v1/rework/times',
    tag,
    summary: 'How long rework takes: from a failed run to the next completed one',
    description: `${dated} Loops that are not finished are counted apart and are in no quantile: while many are open, the hours tell of the quick ones only.`,
    query: timesQuery,
    item: timesLine,
    answer: timesPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const asked: TimesAsked = { ...askedOf(plant, query, asking), by: query.by ?? 'model' };
      return whole(await asking.inWorker<z.input<typeof timesLine>[]>('rework-times', asked));
    },
  }),
  table({
    path: '/v1/rework/waiting',
    tag,
    summary: 'Motors now in repair or waiting for another test, the longest first',
    description:
      'A motor that is in a test cell now does not wait; one that has never completed a run waits only while it is in repair.',
    query: waitingQuery,
    item: waitingLine,
    answer: waitingPage,
    problems: ['question-too-long'],
    ask: async (_plant, { query }, asking) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const [since = 0, id = 0] = query.after
        ? decodeCursor(query.after, ['number', 'number'])
        : [];
      const asked: WaitingPageAsked = {
        ...waitingOf(query, asking),
        ageClass: query.ageClass ?? null,
        after: [Number(since), Number(id)],
        limit: limit + 1,
      };
      const found = await asking.inWorker<WaitingLine[]>('rework-waiting', asked);
      const { items, last } = cutPage(found, limit, (one) => one.key);
      return { items: items.map((one) => one.line), last };
    },
  }),
  table({
    path: '/v1/rework/waiting/ages',
    tag,
    summary: 'Motors now in repair or waiting for another test, by age',
    description: 'The age classes are common practice, no source.',
    query: agesQuery,
    item: agesLine,
    answer: agesPage,
    problems: ['question-too-long'],
    ask: async (_plant, { query }, asking) => {
      const asked = waitingOf(query, asking);
      return whole(await asking.inWorker<z.input<typeof agesLine>[]>('rework-waiting-ages', asked));
    },
  }),
  table({
    path: '/v1/rework/pareto',
    tag,
    summary: 'What fails, why, and what was done: largest first (Pareto)',
    description: `${dated} Repairs, those of nonconformances found outside the test too, count when they were opened.`,
    query: paretoQuery,
    item: paretoLine,
    answer: paretoPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const asked: ParetoAsked = { ...askedOf(plant, query, asking), of: query.of };
      return whole(await asking.inWorker<z.input<typeof paretoLine>[]>('rework-pareto', asked));
    },
  }),
  table({
    path: '/v1/rework/cures',
    tag,
    summary: 'Which action cured which failure',
    description: `${dated} For each failed characteristic, or cause, and each action: the loops, and how many passed the next completed run. A run that failed on several characteristics counts under each.`,
    query: curesQuery,
    item: cureLine,
    answer: curesPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const asked: CuresAsked = {
        ...askedOf(plant, query, asking),
        of: query.of ?? 'characteristic',
      };
      return whole(await asking.inWorker<z.input<typeof cureLine>[]>('rework-cures', asked));
    },
  }),
  table({
    path: '/v1/rework/refails',
    tag,
    summary: 'How often a characteristic that failed fails again in the next run',
    description: dated,
    query: refailsQuery,
    item: refailLine,
    answer: refailsPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const asked = askedOf(plant, query, asking);
      return whole(await asking.inWorker<z.input<typeof refailLine>[]>('rework-refails', asked));
    },
  }),
  table({
    path: '/v1/rework/no-fault-found',
    tag,
    summary: 'Failed runs in whose repair no fault was found, by cell',
    description: `${dated} A cell with a large share may be what is at fault.`,
    query: noFaultQuery,
    item: noFaultLine,
    answer: noFaultPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      type Line = z.input<typeof noFaultLine>;
      const asked = askedOf(plant, query, asking);
      return whole(await asking.inWorker<Line[]>('rework-no-fault-found', asked));
    },
  }),
  table({
    path: '/v1/rework/motors',
    tag,
    summary: 'The motors behind a figure about rework, with their runs and repairs',
    description: `${dated} The runs of all lines together are the failed runs of the figure, the repairs its repairs.`,
    query: motorsQuery,
    item: motorLine,
    answer: motorsPage,
    problems: ['question-too-long'],
    ask: async (plant, { query }, asking) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const [after] = query.after ? decodeCursor(query.after, ['number']) : [0];
      const { characteristic, symptom, cause, action, outcome, nextRun, afterFailedRun } = query;
      const asked: MotorsAsked = {
        ...askedOf(plant, query, asking),
        loops: query.loops ?? null,
        filter: { characteristic, symptom, cause, action, outcome, nextRun, afterFailedRun },
        afterId: Number(after),
        limit: limit + 1,
      };
      const found = await asking.inWorker<MotorFound[]>('rework-motors', asked);
      const { items, last } = cutPage(found, limit, (one) => [one.id]);
      return { items: items.map((one) => one.line), last };
    },
  }),
  ...stepRoutes,
];

function whole<T>(items: T[]) {
  return { items, last: null };
}

function waitingOf(query: z.output<typeof agesQuery>, { now }: Asking): WaitingAsked {
  return { model: query.model ?? null, cell: query.cell ?? null, nowMs: now };
}
