import type { z } from 'zod';
import { isFiltered, type Page, pageById } from '../http/cursor.js';
import { command, table } from '../http/route.js';
import type { ProblemSlug } from '../problems.js';
import { timeProblems } from '../time.js';
import { installComponent, liftHold, placeHold, removeComponent } from './actions.js';
import { enterUnit, fastenUnit, inspectUnit, useLots } from './entry-actions.js';
import { unitsListed } from './questions.js';
import { scanProblems } from './resolve.js';
import {
  fasteningsAnswer,
  fasteningsDraft,
  holdDraft,
  holdPage,
  holdParams,
  holdQuery,
  holdShape,
  inspectionDraft,
  installationDraft,
  liftDraft,
  lotUsesDraft,
  presentHold,
  presentUnit,
  removalDraft,
  unitDraft,
  unitPage,
  unitQuery,
  unitShape,
} from './schema.js';

const tag = 'Units';
const ofFitting: ProblemSlug[] = [
  'scrapped',
  'already-installed',
  'not-accepted',
  'on-hold',
  'position-occupied',
];

export const unitRoutes = [
  command({
    path: '/v1/units',
    tag,
    summary: 'Enter a unit with its upstream inspection',
    description:
      'A lower unit comes with its paint inspection, a powerhead with its build record and fastening results, a component with its receiving inspection.',
    roles: ['set', 'quality'],
    joins: true,
    bodyLimit: 256 * 1024,
    body: unitDraft,
    answer: unitShape,
    problems: [
      ...scanProblems,
      ...timeProblems,
      ...ofFitting,
      'installation-depth',
      'part-class-unknown',
      'part-unknown',
      'part-not-for-class',
      'serial-exists',
      'unit-invalid',
      'fastening-outside-window',
    ],
    act: (context, { body }) => ({ body: presentUnit(enterUnit(context, body)) }),
  }),
  table({
    path: '/v1/units',
    tag,
    summary: 'Units, filtered',
    query: unitQuery,
    item: unitShape,
    answer: unitPage,
    problems: ['question-too-long'],
    ask: (plant, { query }, { inWorker }) =>
      isFiltered(query)
        ? inWorker<Page<z.input<typeof unitShape>>>('units', query)
        : unitsListed(plant, query),
  }),
  command({
    path: '/v1/inspections',
    tag,
    summary: 'Inspect a unit again: accept what was rejected, or the reverse',
    roles: ['set', 'quality'],
    joins: true,
    status: 200,
    bodyLimit: 256 * 1024,
    body: inspectionDraft,
    answer: unitShape,
    problems: [
      ...scanProblems,
      ...timeProblems,
      'scrapped',
      'already-installed',
      'unit-invalid',
      'fastening-outside-window',
    ],
    act: (context, { body }) => ({ body: presentUnit(inspectUnit(context, body)) }),
  }),
  command({
    path: '/v1/fastenings',
    tag,
    summary: 'Record fastening results; one outside its window puts the unit on hold',
    roles: ['set', 'repair', 'quality'],
    joins: true,
    status: 200,
    bodyLimit: 256 * 1024,
    body: fasteningsDraft,
    answer: fasteningsAnswer,
    problems: [...scanProblems, ...timeProblems, 'scrapped'],
    act: (context, { body }) => {
      const { unit, outside } = fastenUnit(context, body);
      return { body: { unit: presentUnit(unit), outside } };
    },
  }),
  command({
    path: '/v1/lot-uses',
    tag,
    summary: 'Record that lots were used on a unit',
    roles: ['set', 'repair', 'quality'],
    joins: true,
    status: 200,
    body: lotUsesDraft,
    answer: unitShape,
    problems: [...scanProblems, ...timeProblems, 'scrapped', 'unit-invalid'],
    act: (context, { body }) => ({ body: presentUnit(useLots(context, body)) }),
  }),
  command({
    path: '/v1/installations',
    tag,
    summary: 'Fit a component into a unit that is not under test yet',
    roles: ['set', 'repair', 'quality'],
    joins: true,
    body: installationDraft,
    answer: unitShape,
    problems: [...scanProblems, ...timeProblems, ...ofFitting, 'motor-state', 'installation-depth'],
    act: (context, { body }) => ({ body: presentUnit(installComponent(context, body)) }),
  }),
  command({
    path: '/v1/removals',
    tag,
    summary: 'Take a component out of a unit that is not under test yet',
    roles: ['set', 'repair', 'quality'],
    joins: true,
    status: 200,
    body: removalDraft,
    answer: unitShape,
    problems: [...scanProblems, ...timeProblems, 'unit-invalid', 'motor-state', 'scrapped'],
    act: (context, { body }) => ({ body: presentUnit(removeComponent(context, body)) }),
  }),
  command({
    path: '/v1/holds',
    tag,
    summary: 'Put a unit on hold',
    roles: ['set', 'cell', 'repair', 'quality'],
    joins: true,
    body: holdDraft,
    answer: holdShape,
    problems: [...scanProblems, ...timeProblems, 'scrapped', 'unit-invalid'],
    act: (context, { body }) => ({ body: presentHold(placeHold(context, body)) }),
  }),
  table({
    path: '/v1/holds',
    tag,
    summary: 'Holds, open or all',
    query: holdQuery,
    item: holdShape,
    answer: holdPage,
    ask: (plant, { query }) =>
      pageById(
        query,
        (after, limit) => plant.units.holds(query.open ?? null, after, limit),
        presentHold,
      ),
  }),
  command({
    path: '/v1/holds/{hold}/lift',
    tag,
    summary: 'Lift a hold',
    roles: ['quality'],
    joins: true,
    status: 200,
    params: holdParams,
    body: liftDraft,
    answer: holdShape,
    problems: ['hold-unknown', 'hold-lifted', 'hold-of-containment', 'hold-of-reference-motor'],
    act: (context, { params, body }) => ({
      body: presentHold(liftHold(context, params.hold, body.reason)),
    }),
  }),
];
