import { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { pageQuery } from '../http/shapes.js';
import {
  closeContainment,
  disposeContained,
  existingContainment,
  openContainment,
  type SnapshotAnswer,
} from './actions.js';
import { containedUnits } from './questions.js';
import {
  closureDraft,
  containedPage,
  containedQuery,
  containedShape,
  containmentDraft,
  containmentPage,
  containmentParams,
  containmentShape,
  dispositionDraft,
  presentContained,
  presentContainment,
} from './schema.js';

const tag = 'Containment';

export const containmentRoutes = [
  command({
    path: '/v1/containments',
    tag,
    summary: 'Freeze a where-used question and hold every picked unit that is inside',
    description:
      'In one transaction. A unit that comes to fit the question later joins, and is held, by the command that makes it fit.',
    roles: ['quality'],
    body: containmentDraft,
    bodyLimit: 1024 * 1024,
    answer: containmentShape,
    problems: ['too-many-picked', 'question-too-long'],
    prepare: ({ body }, { inWorker }) =>
      inWorker<SnapshotAnswer>('containment-snapshot', { condition: body.where }),
    act: (context, { body, prepared }) => {
      const row = openContainment(context, body, prepared as SnapshotAnswer);
      return { body: presentContainment(row), location: `/v1/containments/${row.id}` };
    },
  }),
  table({
    path: '/v1/containments',
    tag,
    summary: 'Containments with their progress',
    query: z.strictObject(pageQuery),
    item: containmentShape,
    answer: containmentPage,
    ask: (plant, { query }) => pageById(query, plant.containment.list, presentContainment),
  }),
  question({
    path: '/v1/containments/{containment}',
    tag,
    summary: 'One containment with its progress',
    params: containmentParams,
    answer: containmentShape,
    problems: ['containment-unknown'],
    ask: (plant, { params }) => presentContainment(existingContainment(plant, params.containment)),
  }),
  table({
    path: '/v1/containments/{containment}/units',
    tag,
    summary: 'The units of a containment; with `held=false`, those to be notified of',
    params: containmentParams,
    query: containedQuery,
    item: containedShape,
    answer: containedPage,
    problems: ['containment-unknown'],
    ask: (plant, { params, query }) => {
      const containment = existingContainment(plant, params.containment);
      const flag = (value: boolean | undefined) => (value === undefined ? null : Number(value));
      const filter = { waiting: flag(query.waiting), held: flag(query.held) };
      return pageById(
        query,
        (after, limit) => containedUnits(plant, containment, filter, after, limit),
        presentContained,
      );
    },
  }),
  command({
    path: '/v1/containments/{containment}/dispositions',
    tag,
    summary: 'Dispose of contained units, one or many, with evidence',
    description:
      'Lifts this containment’s hold; a unit held by another stays held. Rework sends a motor to repair and a loose unit back to its inspection.',
    roles: ['quality'],
    status: 200,
    bodyLimit: 1024 * 1024,
    params: containmentParams,
    body: dispositionDraft,
    answer: containmentShape,
    problems: ['containment-unknown', 'containment-closed', 'disposition-not-possible'],
    act: (context, { params, body }) => ({
      body: presentContainment(disposeContained(context, params.containment, body)),
    }),
  }),
  command({
    path: '/v1/containments/{containment}/closure',
    tag,
    summary: 'Close a containment in which every unit has its disposition',
    roles: ['quality'],
    status: 200,
    params: containmentParams,
    body: closureDraft,
    answer: containmentShape,
    problems: ['containment-unknown', 'containment-closed', 'containment-not-done'],
    act: (context, { params, body }) => ({
      body: presentContainment(closeContainment(context, params.containment, body.reason)),
    }),
  }),
];
