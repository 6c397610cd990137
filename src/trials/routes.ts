import type { z } from 'zod';
import { decodeCursor, type Page } from '../http/cursor.js';
import { question, type Route, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import type { Settings } from '../settings.js';
import { dayEnd, dayStart } from '../time.js';
import type { TrialMotorsAsked } from './motor-questions.js';
import type { TrialAsked } from './replay.js';
import {
  trialAnswer,
  trialMotorLine,
  trialMotorPage,
  trialMotorsQuery,
  trialParams,
  trialQuery,
} from './schema.js';

const tag = 'Limit trials';

export const trialRoutes: readonly Route[] = [
  question({
    path: '/v1/specifications/{specification}/trial',
    tag,
    summary: 'What a specification, draft or approved, would have said of past runs',
    description:
      'Judges the values of past completed runs by it: which verdicts would be others and for which limits, first-pass yield, and how many verdicts are expected to be wrong (JCGM 106:2012). It records nothing; limits that decide on safety or emissions are set by those who answer for them, not by their yield.',
    params: trialParams,
    query: trialQuery,
    answer: trialAnswer,
    problems: ['specification-unknown', 'question-too-long'],
    ask: (_plant, { params, query }, { inWorker, settings }) =>
      inWorker<z.input<typeof trialAnswer>>(
        'limit-trial',
        askedOf(params.specification, query, settings),
      ),
  }),
  table({
    path: '/v1/specifications/{specification}/trial/motors',
    tag,
    summary: 'The motors and runs behind the figures of a trial, in the order of their end',
    description:
      'How many there are in all stands in the trial, beside the link that leads here. Each page judges the period again from where it begins.',
    params: trialParams,
    query: trialMotorsQuery,
    item: trialMotorLine,
    answer: trialMotorPage,
    problems: ['specification-unknown', 'characteristic-unknown', 'question-too-long'],
    ask: (_plant, { params, query }, { inWorker, settings }) => {
      const { which = 'changed', code = null, limit = PAGE_DEFAULT, after, ...window } = query;
      const [endedAtMs, runId] = after ? decodeCursor(after, ['number', 'number']) : [0, 0];
      const asked: TrialMotorsAsked = {
        ...askedOf(params.specification, window, settings),
        which,
        code,
        after: [Number(endedAtMs), Number(runId)],
        limit,
      };
      return inWorker<Page<z.input<typeof trialMotorLine>>>('limit-trial-motors', asked);
    },
  }),
];

function askedOf(
  specification: number,
  query: z.output<typeof trialQuery>,
  { timeZone }: Settings,
): TrialAsked {
  const { fromDay, untilDay, cell = null, runs = 'all', unmeasured = 'apart' } = query;
  return {
    specification,
    fromMs: fromDay === undefined ? 0 : dayStart(fromDay, timeZone),
    untilMs: untilDay === undefined ? Number.MAX_SAFE_INTEGER : dayEnd(untilDay, timeZone),
    cell,
    runs,
    unmeasured,
    query,
  };
}
