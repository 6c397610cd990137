import type { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { anyScanProblems } from '../units/resolve.js';
import { existingReturn, recordReturn } from './actions.js';
import { returnAnswers } from './answers-schema.js';
import type { AnswersAsked } from './questions.js';
import {
  answersQuery,
  NEIGHBOURS_DEFAULT,
  presentReturn,
  returnDraft,
  returnPage,
  returnParams,
  returnQuery,
  returnShape,
  survivalAnswer,
  survivalQuery,
  triangleLine,
  trianglePage,
  triangleQuery,
  WINDOW_DAYS_DEFAULT,
} from './schema.js';

const tag = 'Field returns';

export const returnRoutes = [
  command({
    path: '/v1/returns',
    tag,
    summary: 'Record that a motor, or a unit in one, came back',
    description:
      'By any serial or scan. The motor is the one that the unit was in on that day, which must have been released by then.',
    roles: ['quality'],
    body: returnDraft,
    answer: returnShape,
    problems: [...anyScanProblems, 'repair-code-unknown', 'time-in-future', 'not-released'],
    act: (context, { body }) => {
      const row = recordReturn(context, body);
      return { body: presentReturn(row), location: `/v1/returns/${row.id}` };
    },
  }),
  table({
    path: '/v1/returns',
    tag,
    summary: 'Field returns',
    query: returnQuery,
    item: returnShape,
    answer: returnPage,
    ask: (plant, { query }) => {
      const filter = {
        symptom: query.symptom ?? null,
        model: query.model ?? null,
        fromDay: query.fromDay ?? '0000-01-01',
        untilDay: query.untilDay ?? '9999-12-31',
      };
      return pageById(
        query,
        (after, limit) => plant.returns.list(filter, after, limit),
        presentReturn,
      );
    },
  }),
  question({
    path: '/v1/returns/{return}',
    tag,
    summary: 'One field return',
    params: returnParams,
    answer: returnShape,
    problems: ['return-unknown'],
    ask: (plant, { params }) => presentReturn(existingReturn(plant, params.return)),
  }),
  question({
    path: '/v1/returns/{return}/answers',
    tag,
    summary: 'What is known of a returned motor, of those beside it, and of returns like it',
    description:
      'The tree as released, runs, repairs, where its margins stood among its like, motors made and tested beside it, and what motors of the model that came back with the symptom share more than chance would have it. Fuel, hot and moving parts and exhaust gas can hurt whoever looks into a returned motor: follow the service instructions and local rules.',
    params: returnParams,
    query: answersQuery,
    answer: returnAnswers,
    problems: ['return-unknown', 'question-too-long'],
    ask: (_plant, { params, query }, { inWorker, settings }) => {
      const asked: AnswersAsked = {
        id: params.return,
        windowDays: query.windowDays ?? WINDOW_DAYS_DEFAULT,
        neighbours: query.neighbours ?? NEIGHBOURS_DEFAULT,
        timeZone: settings.timeZone,
      };
      return inWorker<z.input<typeof returnAnswers>>('return-answers', asked);
    },
  }),
  table({
    path: '/v1/returns/triangle',
    tag,
    summary: 'First returns of a model by month of release and full months in service',
    description:
      'One line for each month of release and each number of months that its oldest motor has reached. The first return of a motor counts.',
    query: triangleQuery,
    item: triangleLine,
    answer: trianglePage,
    problems: ['model-unknown', 'question-too-long'],
    ask: async (_plant, { query }, { inWorker, now, settings }) => {
      const asked = { model: query.model, nowMs: now, timeZone: settings.timeZone };
      const items = await inWorker<z.input<typeof triangleLine>[]>('return-triangle', asked);
      return { items, last: null };
    },
  }),
  question({
    path: '/v1/returns/survival',
    tag,
    summary: 'How long a model’s motors stay out before their first return (Kaplan-Meier)',
    query: survivalQuery,
    answer: survivalAnswer,
    problems: ['model-unknown', 'question-too-long'],
    ask: (_plant, { query }, { inWorker, now, settings }) =>
      inWorker<z.input<typeof survivalAnswer>>('return-survival', {
        model: query.model,
        by: query.by ?? 'months',
        hoursPerMonth: query.hoursPerMonth ?? null,
        nowMs: now,
        timeZone: settings.timeZone,
      }),
  }),
];
