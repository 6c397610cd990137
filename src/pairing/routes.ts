import type { z } from 'zod';
import type { Page } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { Problem, type ProblemSlug } from '../problems.js';
import { timeProblems } from '../time.js';
import { anyScanProblems, motorScanProblems, scanProblems } from '../units/resolve.js';
import { type Match, matchPair, setPair, tearDown } from './actions.js';
import { attemptsListed } from './questions.js';
import { recognise } from './recognise.js';
import {
  attemptPage,
  attemptQuery,
  attemptShape,
  checkQuery,
  checkShape,
  recognisedShape,
  scanQuery,
  setDraft,
  setShape,
  teardownDraft,
  teardownShape,
} from './schema.js';

const tag = 'Pairing';

const refusals: ProblemSlug[] = [
  ...scanProblems,
  'not-accepted',
  'on-hold',
  'scrapped',
  'already-installed',
  'no-configuration',
  'attribute-conflict',
  'no-open-order',
  'order-unknown',
  'order-closed',
  'order-complete',
];

function presentMatch({ model, powerhead, lowerUnit, order, configuration }: Match) {
  return {
    model: model.code,
    powerhead: powerhead.serial,
    lowerUnit: lowerUnit.serial,
    order: order.number,
    configuration: configuration.code,
    configurationRevision: configuration.revision,
  };
}

export const pairingRoutes = [
  question({
    path: '/v1/sets/check',
    tag,
    summary: 'Would this pair do? Writes nothing',
    description:
      'Answers as the set itself would now, with the same problem where it would not do.',
    query: checkQuery,
    answer: checkShape,
    problems: refusals,
    ask: (plant, { query }, { now }) => ({
      wouldSet: true as const,
      ...presentMatch(matchPair(plant, query, now)),
    }),
  }),
  question({
    path: '/v1/sets/scan',
    tag,
    summary: 'What a scan at a set station is: a powerhead, a lower unit or an order',
    description:
      'So that a station may take them in any order. A unit’s serial goes before an order’s number. Writes nothing.',
    query: scanQuery,
    answer: recognisedShape,
    problems: anyScanProblems,
    ask: (plant, { query }) => recognise(plant, query.text, query.class),
  }),
  command({
    path: '/v1/sets',
    tag,
    summary: 'Set a powerhead and a lower unit together',
    description:
      'Issues the motor’s serial. A refused set changes nothing but is recorded as an attempt.',
    roles: ['set'],
    joins: true,
    body: setDraft,
    answer: setShape,
    problems: [...refusals, ...timeProblems],
    act: (context, { body }) => {
      const done = setPair(context, body);
      if (done instanceof Problem) return done;
      return {
        body: {
          motor: done.serial,
          orderSet: done.order.setCount + 1,
          orderQuantity: done.order.quantity,
          ...presentMatch(done),
        },
      };
    },
  }),
  table({
    path: '/v1/set-attempts',
    tag,
    summary: 'Sets and refused sets, in the order of time',
    query: attemptQuery,
    item: attemptShape,
    answer: attemptPage,
    problems: ['question-too-long'],
    ask: (plant, { query }, { inWorker }) =>
      query.station === undefined && query.outcome === undefined
        ? attemptsListed(plant, query)
        : inWorker<Page<z.input<typeof attemptShape>>>('set-attempts', query),
  }),
  command({
    path: '/v1/teardowns',
    tag,
    summary: 'Take a motor apart: both halves and the order’s place are free again',
    roles: ['repair', 'quality'],
    joins: true,
    status: 200,
    body: teardownDraft,
    answer: teardownShape,
    problems: [...motorScanProblems, 'motor-state', ...timeProblems],
    act: (context, { body }) => ({ body: tearDown(context, body) }),
  }),
];
