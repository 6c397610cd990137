import { inquiry, type Written } from '../http/route.js';
import { pickedShape, whereUsedAnswer, whereUsedDraft } from './schema.js';

export const tracingRoutes = [
  inquiry({
    path: '/v1/where-used',
    tag: 'Genealogy',
    summary: 'Which motors have to do with a lot, serials, a part, a station, a cell, a reading …',
    description:
      'Any combination of conditions with all, any and not. Each unit comes with the reasons why it was picked and where it is. Changes nothing and needs no Idempotency-Key.',
    body: whereUsedDraft,
    item: pickedShape,
    answer: whereUsedAnswer,
    problems: ['too-many-picked', 'question-too-long'],
    ask: (_plant, { body, csv }, { inWorker }) =>
      inWorker<Written>('where-used', { condition: body.where, csv }),
  }),
];
