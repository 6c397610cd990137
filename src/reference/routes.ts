import type { z } from 'zod';
import { cutPage, decodeCursor, pageById } from '../http/cursor.js';
import { command, question, type Route, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import { dayEnd, dayStart, timeProblems } from '../time.js';
import { motorScanProblems } from '../units/resolve.js';
import {
  designateReference,
  existingReference,
  existingReferenceRun,
  recordReferenceRun,
  rescheduleReference,
  retireReference,
} from './actions.js';
import type { StudyAsked } from './questions.js';
import {
  presentReferenceCell,
  presentReferenceMotor,
  presentReferenceRun,
  presentReferenceRunDetail,
  referenceCellPage,
  referenceCellQuery,
  referenceCellShape,
  referenceMotorDraft,
  referenceMotorPage,
  referenceMotorParams,
  referenceMotorQuery,
  referenceMotorShape,
  referenceRunDetail,
  referenceRunDraft,
  referenceRunPage,
  referenceRunParams,
  referenceRunQuery,
  referenceRunShape,
  retirementDraft,
  scheduleDraft,
} from './schema.js';
import { gaugeStudyAnswer, gaugeStudyQuery } from './study-schema.js';

const tag = 'Reference motors';
/** As a test run’s: ten thousand readings fit. */
const READINGS_BODY_LIMIT = 1024 * 1024;

export const referenceRoutes: readonly Route[] = [
  command({
    path: '/v1/reference-motors',
    tag,
    summary: 'Keep a motor as a reference that each cell has to run on a schedule',
    description:
      'It is put on hold in the same transaction and stays so: it is neither tested for release nor released until it is retired. Its first runs become its accepted history; to gather that anew, retire it and designate it again.',
    roles: ['quality'],
    body: referenceMotorDraft,
    answer: referenceMotorShape,
    problems: [...motorScanProblems, 'scrapped', 'motor-state', 'reference-motor-exists'],
    act: (context, { body }) => {
      const row = designateReference(context, body);
      return { body: presentReferenceMotor(row), location: `/v1/reference-motors/${row.id}` };
    },
  }),
  table({
    path: '/v1/reference-motors',
    tag,
    summary: 'Reference motors, in use and retired',
    query: referenceMotorQuery,
    item: referenceMotorShape,
    answer: referenceMotorPage,
    ask: (plant, { query }) => {
      const filter = {
        model: query.model ?? null,
        inUse: query.inUse === undefined ? null : Number(query.inUse),
      };
      return pageById(
        query,
        (after, limit) => plant.reference.referenceMotors(filter, after, limit),
        presentReferenceMotor,
      );
    },
  }),
  question({
    path: '/v1/reference-motors/{referenceMotor}',
    tag,
    summary: 'One reference motor',
    params: referenceMotorParams,
    answer: referenceMotorShape,
    problems: ['reference-motor-unknown'],
    ask: (plant, { params }) =>
      presentReferenceMotor(existingReference(plant, params.referenceMotor)),
  }),
  command({
    path: '/v1/reference-motors/{referenceMotor}/schedule',
    tag,
    summary: 'Change how often and in which cells a reference motor runs',
    description:
      'A cell that is new on the schedule has the whole interval from now on; one that stays, from its last run. The accepted history stays.',
    roles: ['quality'],
    status: 200,
    params: referenceMotorParams,
    body: scheduleDraft,
    answer: referenceMotorShape,
    problems: ['reference-motor-unknown', 'reference-motor-retired'],
    act: (context, { params, body }) => ({
      body: presentReferenceMotor(rescheduleReference(context, params.referenceMotor, body)),
    }),
  }),
  command({
    path: '/v1/reference-motors/{referenceMotor}/retirement',
    tag,
    summary: 'Retire a reference motor: lifts its hold',
    roles: ['quality'],
    status: 200,
    params: referenceMotorParams,
    body: retirementDraft,
    answer: referenceMotorShape,
    problems: ['reference-motor-unknown', 'reference-motor-retired'],
    act: (context, { params, body }) => ({
      body: presentReferenceMotor(retireReference(context, params.referenceMotor, body.reason)),
    }),
  }),
  command({
    path: '/v1/reference-runs',
    tag,
    summary: 'Record a cell’s run of a reference motor',
    description:
      'Its readings are taken by the model’s specification in force, but it has no verdict, is no attempt and counts in no yield and on no chart. Once the motor’s accepted history is complete, each value is compared with it; a cell that reads off it is told so with every run that it posts, until a later reference run there reads within. A running engine can hurt and kill: follow the cell’s own interlocks, local rules and trained staff.',
    roles: ['cell'],
    bodyLimit: READINGS_BODY_LIMIT,
    body: referenceRunDraft,
    answer: referenceRunDetail,
    problems: [
      ...motorScanProblems,
      ...timeProblems,
      'not-a-reference-motor',
      'scrapped',
      'motor-state',
      'cell-not-scheduled',
      'no-specification',
      'reading-invalid',
      'run-incomplete',
    ],
    act: (context, { body }) => {
      const row = recordReferenceRun(context, body);
      return {
        body: presentReferenceRunDetail(context.plant, row),
        location: `/v1/reference-runs/${row.id}`,
      };
    },
  }),
  table({
    path: '/v1/reference-runs',
    tag,
    summary: 'Reference runs, filtered',
    query: referenceRunQuery,
    item: referenceRunShape,
    answer: referenceRunPage,
    ask: (plant, { query }) => {
      const filter = {
        referenceMotorId: query.referenceMotor ?? null,
        cell: query.cell ?? null,
        fromMs: query.from ?? 0,
        untilMs: query.until ?? Number.MAX_SAFE_INTEGER,
      };
      return pageById(
        query,
        (after, limit) => plant.reference.referenceRuns(filter, after, limit),
        presentReferenceRun,
      );
    },
  }),
  question({
    path: '/v1/reference-runs/{referenceRun}',
    tag,
    summary: 'One reference run with its values',
    params: referenceRunParams,
    answer: referenceRunDetail,
    problems: ['reference-run-unknown'],
    ask: (plant, { params }) =>
      presentReferenceRunDetail(plant, existingReferenceRun(plant, params.referenceRun)),
  }),
  table({
    path: '/v1/reference-cells',
    tag,
    summary: 'How each cell stands with each reference motor: last run, due, overdue, shifted',
    query: referenceCellQuery,
    item: referenceCellShape,
    answer: referenceCellPage,
    ask: (plant, { query }, { now }) => {
      const limit = query.limit ?? PAGE_DEFAULT;
      const [id, cell] = query.after ? decodeCursor(query.after, ['number', 'string']) : [0, ''];
      const rows = plant.reference.referenceCells(
        query.cell ?? null,
        Number(id),
        String(cell),
        limit + 1,
      );
      const { items, last } = cutPage(rows, limit, (row) => [row.referenceMotorId, row.cell]);
      return { items: items.map((row) => presentReferenceCell(row, now)), last };
    },
  }),
  question({
    path: '/v1/gauge-study',
    tag,
    summary: 'Gauge study of a characteristic from the reference runs',
    description:
      'Repeatability and reproducibility of the cells by analysis of variance, and by averages and ranges, with the runs that they were computed from. Needs two cells and two runs of each motor in each; with one motor only, what motors differ by stays unknown. A motor that was designated twice is two parts, since it may have changed between.',
    query: gaugeStudyQuery,
    answer: gaugeStudyAnswer,
    problems: ['model-unknown', 'characteristic-unknown', 'question-too-long'],
    ask: (_plant, { query }, { inWorker, settings }) => {
      const { fromDay, untilDay } = query;
      const asked: StudyAsked = {
        model: query.model,
        characteristic: query.characteristic,
        referenceMotors: query.referenceMotors ?? null,
        cells: query.cells ?? null,
        fromMs: fromDay ? dayStart(fromDay, settings.timeZone) : 0,
        untilMs: untilDay ? dayEnd(untilDay, settings.timeZone) : Number.MAX_SAFE_INTEGER,
      };
      return inWorker<z.input<typeof gaugeStudyAnswer>>('gauge-study', asked);
    },
  }),
];
