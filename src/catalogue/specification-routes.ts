import { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, importRoute, question, table } from '../http/route.js';
import { code, idText, pageQuery } from '../http/shapes.js';
import { importSpecifications } from './import.js';
import { specificationDifferences } from './rules.js';
import { approval, importAnswer } from './schema.js';
import {
  approveSpecification,
  draftSpecification,
  existingSpecification,
  reviseSpecification,
} from './specification-actions.js';
import {
  differencePage,
  differenceShape,
  presentHead,
  presentLines,
  presentSpecification,
  specificationDraft,
  specificationHead,
  specificationLine,
  specificationLinePage,
  specificationPage,
  specificationShape,
} from './specification-schema.js';

const tag = 'Catalogue';
const params = z.strictObject({ specification: idText });

export const specificationRoutes = [
  command({
    path: '/v1/specifications',
    tag,
    summary: 'Draft the next revision of a model’s test specification',
    roles: ['quality'],
    bodyLimit: 1024 * 1024,
    body: specificationDraft,
    answer: specificationShape,
    problems: ['model-unknown', 'specification-faulty', 'draft-exists'],
    act: (context, { body }) => {
      const row = draftSpecification(context, body);
      return { body: presentSpecification(row), location: `/v1/specifications/${row.id}` };
    },
  }),
  table({
    path: '/v1/specifications',
    tag,
    summary: 'Specifications, without their content',
    query: z.strictObject({
      ...pageQuery,
      model: code.optional(),
      state: z.enum(['draft', 'approved']).optional(),
    }),
    item: specificationHead,
    answer: specificationPage,
    ask: (plant, { query }) => {
      const filter = { model: query.model ?? null, state: query.state ?? null };
      return pageById(
        query,
        (after, limit) => plant.specifications.list(filter, after, limit),
        presentHead,
      );
    },
  }),
  question({
    path: '/v1/specifications/{specification}',
    tag,
    summary: 'One revision of a specification',
    params,
    answer: specificationShape,
    problems: ['specification-unknown'],
    version: (body) => body.version,
    ask: (plant, input) =>
      presentSpecification(existingSpecification(plant, input.params.specification)),
  }),
  table({
    path: '/v1/specifications/{specification}/lines',
    tag,
    summary: 'A specification a line each characteristic; its CSV form is what the import takes',
    params,
    item: specificationLine,
    answer: specificationLinePage,
    problems: ['specification-unknown'],
    ask: (plant, input) => ({
      items: presentLines(existingSpecification(plant, input.params.specification)),
      last: null,
    }),
  }),
  table({
    path: '/v1/specifications/{specification}/differences',
    tag,
    summary: 'What changed from another revision to this one',
    params,
    query: z.strictObject({ from: idText.meta({ description: 'The other revision’s id.' }) }),
    item: differenceShape,
    answer: differencePage,
    problems: ['specification-unknown'],
    ask: (plant, input) => ({
      items: specificationDifferences(
        existingSpecification(plant, input.query.from).prompts,
        existingSpecification(plant, input.params.specification).prompts,
      ),
      last: null,
    }),
  }),
  command({
    method: 'put',
    path: '/v1/specifications/{specification}',
    tag,
    summary: 'Edit a draft specification',
    roles: ['quality'],
    status: 200,
    needsIfMatch: true,
    bodyLimit: 1024 * 1024,
    params,
    body: specificationDraft,
    answer: specificationShape,
    problems: ['specification-unknown', 'specification-faulty', 'not-a-draft', 'version-conflict'],
    act: (context, input) => ({
      body: presentSpecification(
        reviseSpecification(context, input.params.specification, input.ifMatch, input.body),
      ),
    }),
  }),
  command({
    path: '/v1/specifications/{specification}/approval',
    tag,
    summary: 'Approve a draft specification; another key than the author’s does',
    roles: ['quality', 'configuration'],
    status: 200,
    params,
    body: approval,
    answer: specificationShape,
    problems: [
      'specification-unknown',
      'not-a-draft',
      'approval-by-author',
      'effective-date-past',
      'version-conflict',
      'version-conflict',
    ],
    act: (context, input) => ({
      body: presentSpecification(
        approveSpecification(context, input.params.specification, input.body),
      ),
    }),
  }),
  importRoute({
    path: '/v1/specifications/import',
    tag,
    summary: 'Draft specifications from CSV, all lines or none',
    description:
      'The columns are those of the CSV form of /v1/specifications/{specification}/lines.',
    roles: ['quality'],
    body: z.string(),
    answer: importAnswer,
    problems: ['import-faulty'],
    act: (context, { body }) => ({ body: importSpecifications(context, body) }),
  }),
];
