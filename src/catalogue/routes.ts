import { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, importRoute, question, table } from '../http/route.js';
import { code, idText, instant, pageQuery } from '../http/shapes.js';
import {
  addModel,
  addPart,
  addPartClass,
  addRepairCode,
  approveConfiguration,
  draftConfiguration,
  existingConfiguration,
  reviseConfiguration,
} from './actions.js';
import { importConfigurations } from './import.js';
import {
  approval,
  configurationDraft,
  configurationPage,
  configurationShape,
  importAnswer,
  modelDraft,
  modelPage,
  modelShape,
  partClassPage,
  partClassShape,
  partDraft,
  partPage,
  partShape,
  presentConfiguration,
  presentModel,
  presentPart,
  repairCodePage,
  repairCodeShape,
} from './schema.js';

const tag = 'Catalogue';
const configurationParams = z.strictObject({ configuration: idText });

export const catalogueRoutes = [
  command({
    path: '/v1/part-classes',
    tag,
    summary: 'Add a class of serialised components',
    roles: ['configuration'],
    body: partClassShape,
    answer: partClassShape,
    problems: ['part-class-exists'],
    act: (context, { body }) => ({ body: addPartClass(context, body) }),
  }),
  table({
    path: '/v1/part-classes',
    tag,
    summary: 'The part classes',
    item: partClassShape,
    answer: partClassPage,
    ask: (plant) => ({ items: plant.catalogue.classes(), last: null }),
  }),
  command({
    path: '/v1/parts',
    tag,
    summary: 'Add a part revision',
    roles: ['configuration'],
    body: partDraft,
    answer: partShape,
    problems: ['part-exists', 'part-class-unknown'],
    act: (context, { body }) => ({ body: presentPart(addPart(context, body)) }),
  }),
  table({
    path: '/v1/parts',
    tag,
    summary: 'The parts',
    query: z.strictObject(pageQuery),
    item: partShape,
    answer: partPage,
    ask: (plant, { query }) => pageById(query, plant.catalogue.parts, presentPart),
  }),
  command({
    path: '/v1/models',
    tag,
    summary: 'Add a model',
    roles: ['configuration'],
    body: modelDraft,
    answer: modelShape,
    problems: ['model-exists'],
    act: (context, { body }) => ({ body: presentModel(addModel(context, body)) }),
  }),
  table({
    path: '/v1/models',
    tag,
    summary: 'The models',
    query: z.strictObject(pageQuery),
    item: modelShape,
    answer: modelPage,
    ask: (plant, { query }) => pageById(query, plant.catalogue.models, presentModel),
  }),
  command({
    path: '/v1/repair-codes',
    tag,
    summary: 'Add a symptom, cause or action code',
    roles: ['quality'],
    body: repairCodeShape,
    answer: repairCodeShape,
    problems: ['repair-code-exists'],
    act: (context, { body }) => ({ body: addRepairCode(context, body) }),
  }),
  table({
    path: '/v1/repair-codes',
    tag,
    summary: 'Symptom, cause and action codes',
    item: repairCodeShape,
    answer: repairCodePage,
    ask: (plant) => ({ items: plant.catalogue.repairCodes(), last: null }),
  }),
  command({
    path: '/v1/configurations',
    tag,
    summary: 'Draft the next revision of a configuration',
    roles: ['configuration'],
    body: configurationDraft,
    answer: configurationShape,
    problems: ['configuration-faulty', 'draft-exists'],
    act: (context, { body }) => {
      const row = draftConfiguration(context, body);
      return { body: presentConfiguration(row), location: `/v1/configurations/${row.id}` };
    },
  }),
  table({
    path: '/v1/configurations',
    tag,
    summary: 'Configurations: all revisions, or those in force at a time',
    query: z.strictObject({
      ...pageQuery,
      code: code.optional(),
      model: code.optional(),
      state: z.enum(['draft', 'approved']).optional(),
      inForceAt: instant.optional(),
    }),
    item: configurationShape,
    answer: configurationPage,
    ask: (plant, { query }) => {
      const filter = {
        code: query.code ?? null,
        model: query.model ?? null,
        state: query.state ?? null,
        inForceAtMs: query.inForceAt ?? null,
      };
      return pageById(
        query,
        (after, limit) => plant.catalogue.configurations(filter, after, limit),
        presentConfiguration,
      );
    },
  }),
  question({
    path: '/v1/configurations/{configuration}',
    tag,
    summary: 'One revision of a configuration',
    params: configurationParams,
    answer: configurationShape,
    problems: ['configuration-unknown'],
    version: (body) => body.version,
    ask: (plant, { params }) =>
      presentConfiguration(existingConfiguration(plant, params.configuration)),
  }),
  command({
    method: 'put',
    path: '/v1/configurations/{configuration}',
    tag,
    summary: 'Edit a draft configuration',
    roles: ['configuration'],
    status: 200,
    needsIfMatch: true,
    params: configurationParams,
    body: configurationDraft,
    answer: configurationShape,
    problems: ['configuration-unknown', 'configuration-faulty', 'not-a-draft', 'version-conflict'],
    act: (context, { params, body, ifMatch }) => ({
      body: presentConfiguration(reviseConfiguration(context, params.configuration, ifMatch, body)),
    }),
  }),
  command({
    path: '/v1/configurations/{configuration}/approval',
    tag,
    summary: 'Approve a draft configuration; another key than the author’s does',
    roles: ['configuration', 'quality'],
    status: 200,
    params: configurationParams,
    body: approval,
    answer: configurationShape,
    problems: [
      'configuration-unknown',
      'not-a-draft',
      'approval-by-author',
      'effective-date-past',
      'version-conflict',
      'version-conflict',
    ],
    act: (context, { params, body }) => ({
      body: presentConfiguration(approveConfiguration(context, params.configuration, body)),
    }),
  }),
  importRoute({
    path: '/v1/configurations/import',
    tag,
    summary: 'Draft configurations from CSV, all lines or none',
    description: 'The columns are those of the CSV form of /v1/configurations.',
    roles: ['configuration'],
    body: z.string(),
    answer: importAnswer,
    problems: ['import-faulty'],
    act: (context, { body }) => ({ body: importConfigurations(context, body) }),
  }),
];
