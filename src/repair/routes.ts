import { pageById } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { timeProblems } from '../time.js';
import { anyScanProblems, motorScanProblems, scanProblems } from '../units/resolve.js';
import { presentUnit, unitShape } from '../units/schema.js';
import { allowRetest, closeRepair, disposeUnit, existingRepair, openRepair } from './actions.js';
import { exchangePart } from './exchange-actions.js';
import { recognisePart, repairsListed } from './questions.js';
import {
  closureDraft,
  dispositionDraft,
  exchangeDraft,
  partScanQuery,
  partScanShape,
  presentRepair,
  presentRepairDetail,
  repairDetail,
  repairDraft,
  repairPage,
  repairParams,
  repairQuery,
  repairShape,
  retestDraft,
} from './schema.js';

const tag = 'Repair';

export const repairRoutes = [
  command({
    path: '/v1/repairs',
    tag,
    summary: 'Open a repair for a nonconformance found outside a test run',
    roles: ['repair', 'quality'],
    joins: true,
    body: repairDraft,
    answer: repairShape,
    problems: [...scanProblems, ...timeProblems, 'motor-state'],
    act: (context, { body }) => {
      const repair = openRepair(context, body);
      return { body: presentRepair(repair), location: `/v1/repairs/${repair.id}` };
    },
  }),
  table({
    path: '/v1/repairs',
    tag,
    summary: 'Repairs, open or all',
    query: repairQuery,
    item: repairShape,
    answer: repairPage,
    problems: motorScanProblems,
    ask: (plant, { query }) =>
      pageById(query, (after, limit) => repairsListed(plant, query, after, limit), presentRepair),
  }),
  question({
    path: '/v1/repairs/{repair}',
    tag,
    summary: 'One repair with its exchanged parts',
    params: repairParams,
    answer: repairDetail,
    problems: ['repair-unknown'],
    ask: (plant, { params }) =>
      presentRepairDetail(
        existingRepair(plant, params.repair),
        plant.repair.exchanges(params.repair),
      ),
  }),
  question({
    path: '/v1/repairs/{repair}/scan',
    tag,
    summary: 'What a part scanned at the bench is to this repair: in its motor, or from outside',
    description: 'So that a bench may take the old part and the new one in any order.',
    params: repairParams,
    query: partScanQuery,
    answer: partScanShape,
    problems: ['repair-unknown', ...anyScanProblems],
    ask: (plant, { params, query }) => recognisePart(plant, params.repair, query),
  }),
  command({
    path: '/v1/repairs/{repair}/exchanges',
    tag,
    summary: 'Exchange a part of the motor under repair',
    roles: ['repair'],
    joins: true,
    params: repairParams,
    body: exchangeDraft,
    answer: repairDetail,
    problems: [
      ...scanProblems,
      ...timeProblems,
      'repair-unknown',
      'repair-closed',
      'unit-invalid',
      'scrapped',
      'already-installed',
      'not-accepted',
      'on-hold',
      'position-occupied',
      'installation-depth',
      'no-configuration',
      'attribute-conflict',
    ],
    act: (context, { params, body }) => ({
      body: presentRepairDetail(
        exchangePart(context, params.repair, body),
        context.plant.repair.exchanges(params.repair),
      ),
    }),
  }),
  command({
    path: '/v1/repairs/{repair}/closure',
    tag,
    summary: 'Close a repair: the motor waits for its next test',
    roles: ['repair'],
    joins: true,
    status: 200,
    params: repairParams,
    body: closureDraft,
    answer: repairShape,
    problems: [
      ...timeProblems,
      'repair-unknown',
      'repair-closed',
      'repair-code-unknown',
      'motor-state',
    ],
    act: (context, { params, body }) => ({
      body: presentRepair(closeRepair(context, params.repair, body)),
    }),
  }),
  command({
    path: '/v1/retests',
    tag,
    summary: 'Let a motor be tested again without a repair',
    description: 'An open repair ends as no fault found. A passed motor has to pass again.',
    roles: ['quality'],
    joins: true,
    status: 200,
    body: retestDraft,
    answer: unitShape,
    problems: [...scanProblems, ...timeProblems, 'motor-state'],
    act: (context, { body }) => ({ body: presentUnit(allowRetest(context, body)) }),
  }),
  command({
    path: '/v1/dispositions',
    tag,
    summary: 'Dispose of a nonconforming unit: rework, scrap or concession',
    description:
      'A concession accepts the failed run of a motor in repair and needs a reason; it leaves first-pass yield as it was. Scrapping a motor gives its place in the order back.',
    roles: ['quality'],
    joins: true,
    status: 200,
    body: dispositionDraft,
    answer: unitShape,
    problems: [...scanProblems, ...timeProblems, 'disposition-not-possible'],
    act: (context, { body }) => ({ body: presentUnit(disposeUnit(context, body)) }),
  }),
];
