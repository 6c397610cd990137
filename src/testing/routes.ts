import type { z } from 'zod';
import { isFiltered, type Page } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { timeProblems } from '../time.js';
import { motorScanProblems } from '../units/resolve.js';
import {
  abortRun,
  completeRun,
  existingRun,
  outstanding,
  postBatch,
  resumeRun,
  startRun,
} from './actions.js';
import { presentCompletion, presentOpenRun, presentRunDetail } from './present.js';
import { runsListed } from './questions.js';
import {
  abortDraft,
  batchAnswer,
  batchDraft,
  cellParams,
  completionAnswer,
  completionDraft,
  openRunShape,
  presentRun,
  resumptionDraft,
  runDetail,
  runDraft,
  runPage,
  runParams,
  runQuery,
  runShape,
  testCellShape,
} from './schema.js';
import { testCell } from './standing.js';

const tag = 'Testing';
/** Ten thousand readings fit, at about a hundred bytes each. */
const READINGS_BODY_LIMIT = 1024 * 1024;

const caution =
  'A running engine can hurt and kill: moving and hot parts, fuel, carbon monoxide. This service moves nothing and guards nobody; follow the cell’s own interlocks, local rules and trained staff.';

export const testingRoutes = [
  command({
    path: '/v1/runs',
    tag,
    summary: 'Start a test run: freezes the specification in force and hands out its prompts',
    description: caution,
    roles: ['cell'],
    joins: true,
    body: runDraft,
    answer: openRunShape,
    problems: [
      ...motorScanProblems,
      'motor-state',
      'on-hold',
      'no-specification',
      'cell-busy',
      ...timeProblems,
    ],
    act: (context, { body }) => {
      const run = startRun(context, body);
      return {
        body: presentOpenRun(context.plant, run, context.now),
        location: `/v1/runs/${run.id}`,
      };
    },
  }),
  table({
    path: '/v1/runs',
    tag,
    summary: 'Test runs, filtered',
    query: runQuery,
    item: runShape,
    answer: runPage,
    problems: ['question-too-long'],
    // Those that are open are few, and a cell may need them at once.
    ask: (plant, { query }, { inWorker }) =>
      query.state === 'open' || !isFiltered(query)
        ? runsListed(plant, query)
        : inWorker<Page<z.input<typeof runShape>>>('runs', query),
  }),
  question({
    path: '/v1/runs/{run}',
    tag,
    summary: 'One run: every reading as posted, and as judged against the limits then in force',
    params: runParams,
    answer: runDetail,
    problems: ['run-unknown'],
    ask: (plant, { params }) => presentRunDetail(plant, existingRun(plant, params.run)),
  }),
  question({
    path: '/v1/test-cells/{cell}',
    tag,
    summary: 'How a test cell stands: its open run with what it read so far, and its last one',
    description: 'What a screen at the cell asks again and again.',
    params: cellParams,
    answer: testCellShape,
    ask: (plant, { params }, { now }) => testCell(plant, params.cell, now),
  }),
  command({
    path: '/v1/runs/{run}/batches',
    tag,
    summary: 'Post a batch of readings; late, repeated and out-of-order batches are fine',
    roles: ['cell'],
    joins: true,
    status: 200,
    bodyLimit: READINGS_BODY_LIMIT,
    params: runParams,
    body: batchDraft,
    answer: batchAnswer,
    problems: [
      'run-unknown',
      'run-not-open',
      'batch-conflict',
      'reading-invalid',
      'too-many-readings',
      ...timeProblems,
    ],
    act: (context, { params, body }) => {
      const run = postBatch(context, params.run, body);
      return {
        body: {
          run: run.id,
          sequence: body.sequence,
          readings: context.plant.testing.held(run.id).readings,
          outstanding: outstanding(context.plant, run),
        },
      };
    },
  }),
  command({
    path: '/v1/runs/{run}/completion',
    tag,
    summary: 'Complete a run: the server judges it',
    description: 'May carry the last, or all, of the run’s readings.',
    roles: ['cell'],
    joins: true,
    status: 200,
    bodyLimit: READINGS_BODY_LIMIT,
    params: runParams,
    body: completionDraft,
    answer: completionAnswer,
    problems: [
      'run-unknown',
      'run-not-open',
      'run-incomplete',
      'reading-invalid',
      'too-many-readings',
      ...timeProblems,
    ],
    act: (context, { params, body }) => ({
      body: presentCompletion(context.plant, completeRun(context, params.run, body), context.now),
    }),
  }),
  command({
    path: '/v1/runs/{run}/abort',
    tag,
    summary: 'Abort a run; it counts as no attempt',
    roles: ['cell', 'quality'],
    joins: true,
    status: 200,
    params: runParams,
    body: abortDraft,
    answer: runShape,
    problems: ['run-unknown', 'run-not-open', ...timeProblems],
    act: (context, { params, body }) => ({ body: presentRun(abortRun(context, params.run, body)) }),
  }),
  command({
    path: '/v1/runs/{run}/resumption',
    tag,
    summary: 'Take an open run over, in this cell or another',
    description: caution,
    roles: ['cell'],
    joins: true,
    status: 200,
    params: runParams,
    body: resumptionDraft,
    answer: openRunShape,
    problems: ['run-unknown', 'run-not-open', 'cell-busy'],
    act: (context, { params, body }) => ({
      body: presentOpenRun(context.plant, resumeRun(context, params.run, body.cell), context.now),
    }),
  }),
];
