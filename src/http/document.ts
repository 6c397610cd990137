import { stringify } from 'yaml';
import { z } from 'zod';
import {
  createDocument,
  type ZodOpenApiOperationObject,
  type ZodOpenApiPathsObject,
  type ZodOpenApiResponsesObject,
} from 'zod-openapi';
import { type ProblemSlug, problemCatalogue } from '../problems.js';
import type { Route } from './route.js';

const problem = z
  .looseObject({
    type: z.string().meta({
      format: 'uri-reference',
      description: 'A stable address; it tells more about the problem.',
    }),
    title: z.string(),
    status: z.int(),
    detail: z.string(),
    errors: z
      .array(
        z.strictObject({
          pointer: z.string().optional(),
          parameter: z.string().optional(),
          line: z.int().optional(),
          column: z.string().optional(),
          detail: z.string(),
        }),
      )
      .optional(),
  })
  .meta({ id: 'Problem', description: 'RFC 9457 problem details.' });

/** Problems that any route of a kind may answer with. */
const alwaysPossible: ProblemSlug[] = [
  'request-invalid',
  'unauthenticated',
  'forbidden',
  'too-many-requests',
  'internal-error',
  'overloaded',
  'storage-unavailable',
];
const ofQuestions: ProblemSlug[] = ['not-acceptable'];
/** What a session cookie alone does not allow: see src/http/session.ts. */
const ofSending: ProblemSlug[] = ['cross-site-request'];
const ofBodies: ProblemSlug[] = ['body-malformed', 'body-too-large', 'media-type-unsupported'];
const ofCommands: ProblemSlug[] = [
  'idempotency-key-missing',
  'idempotency-key-reused',
  'idempotency-in-flight',
];

/** Every problem that a route may answer with. */
export function problemsOf(route: Route): ProblemSlug[] {
  const kind = route.ask ? ofQuestions : ofCommands;
  const match: ProblemSlug[] = route.needsIfMatch ? ['precondition-required'] : [];
  const body = route.body ? ofBodies : [];
  const sending = route.method === 'get' ? [] : ofSending;
  const own = route.problems ?? [];
  return [...new Set([...alwaysPossible, ...sending, ...kind, ...body, ...match, ...own])];
}

function problemResponses(route: Route): ZodOpenApiResponsesObject {
  const byStatus = new Map<number, ProblemSlug[]>();
  for (const slug of problemsOf(route)) {
    const status = problemCatalogue[slug][0];
    byStatus.set(status, [...(byStatus.get(status) ?? []), slug]);
  }
  const entries = [...byStatus]
    .sort(([a], [b]) => a - b)
    .map(([status, slugs]) => [
      String(status),
      {
        description: slugs.map((slug) => `\`${slug}\`: ${problemCatalogue[slug][1]}.`).join('\n'),
        content: { 'application/problem+json': { schema: problem } },
      },
    ]);
  return Object.fromEntries(entries);
}

const idempotencyKey = z.string().min(1).max(255).meta({
  description:
    'A key of the caller’s own choosing for this command. The same key and request again give the stored answer and change nothing twice.',
  example: '1f0c6a52-7f2d-4c43-9c5e-0d7b54b1f7a1',
});
const ifMatch = z
  .string()
  .meta({ description: 'ETag of the draft as it was read.', example: '"v1"' });

function headersOf(route: Route) {
  if (route.ask) return undefined;
  return z.object({
    'Idempotency-Key': idempotencyKey,
    ...(route.needsIfMatch ? { 'If-Match': ifMatch } : {}),
  });
}

function successHeaders(route: Route): z.ZodObject {
  const headers: Record<string, z.ZodType> = {};
  if (route.kind === 'table')
    headers.Link = z.string().optional().meta({ description: 'The next page (RFC 8288).' });
  if (route.version) headers.ETag = z.string();
  if (route.status === 201) headers.Location = z.string().optional();
  if (!route.ask) {
    headers['Idempotency-Replayed'] = z
      .literal('true')
      .optional()
      .meta({ description: 'The answer to an earlier send of the same command.' });
  }
  return z.object(headers);
}

/** A page's body: text, or the bytes of another kind of document. */
function sheetOf(media: string): z.ZodType {
  return media.startsWith('text/') ? z.string() : z.string().meta({ contentMediaType: media });
}

function answerContent(route: Route) {
  if (route.media) {
    return Object.fromEntries(route.media.map((media) => [media, { schema: sheetOf(media) }]));
  }
  const json = { 'application/json': { schema: route.answer } };
  if (route.columns === undefined) return json;
  const csv = z.string().meta({ description: `Columns: ${route.columns?.join(', ')}` });
  return { ...json, 'text/csv': { schema: csv } };
}

function operation(route: Route): ZodOpenApiOperationObject {
  const roles =
    route.roles === 'any' ? 'any key' : `a key with the role ${route.roles.join(' or ')}`;
  const header = headersOf(route);
  const media = route.kind === 'import' ? 'text/csv' : 'application/json';
  return {
    operationId: operationId(route),
    tags: [route.tag],
    summary: route.summary,
    description: [route.description, `Takes ${roles}.`].filter(Boolean).join('\n\n'),
    requestParams: {
      ...(route.params ? { path: route.params } : {}),
      ...(route.query ? { query: route.query } : {}),
      ...(header ? { header } : {}),
    },
    ...(route.body
      ? {
          requestBody: {
            required: true,
            description: `At most ${route.bodyLimit / 1024} KiB.`,
            content: { [media]: { schema: route.body } },
          },
        }
      : {}),
    responses: {
      [String(route.status) as '200']: {
        description: route.status === 201 ? 'Made.' : 'Done.',
        headers: successHeaders(route),
        content: answerContent(route),
      },
      ...problemResponses(route),
    },
  };
}

/** A stable name for client generators: `getOrders`, `postRunsCompletion`. */
function operationId(route: Route): string {
  const words = route.path
    .replace('/v1/', '')
    .split('/')
    .map((step) => (step.startsWith('{') ? `By-${step.slice(1, -1)}` : step))
    .join('-')
    .split(/[-.]/);
  const tail = words.map((word) => word.charAt(0).toUpperCase() + word.slice(1)).join('');
  return `${route.method}${tail}`;
}

const description = `Pairs powerheads with lower units against configurations in force, judges hot tests
by the specification in force, leads repairs and tests again, guards release, and answers for every serial.

Times are RFC 3339. Units of measure are UCUM codes. Errors are RFC 9457 problem documents.
Tables are paged by key, with the next page in a Link header (RFC 8288), and are also to be had as CSV.

This service records and judges; it moves nothing and guards nobody. Running engines bring moving and
hot parts, fuel and carbon monoxide: follow the plant's interlocks, local rules and trained staff.`;

/** A document as YAML, as it is served and kept as a file. */
export function documentText(document: ReturnType<typeof makeDocument>): string {
  return stringify(document, { lineWidth: 0, aliasDuplicateObjects: false });
}

/** The OpenAPI 3.1 document of the interface, from the schemas that validate its requests. */
export function makeDocument(routes: readonly Route[]) {
  const paths: ZodOpenApiPathsObject = {};
  for (const route of routes) {
    paths[route.path] = { ...paths[route.path], [route.method]: operation(route) };
  }
  return createDocument({
    openapi: '3.1.0',
    info: { title: 'Skeg', version: '1.0.0', description },
    servers: [{ url: '/' }],
    security: [{ key: [] }],
    components: {
      securitySchemes: {
        key: { type: 'http', scheme: 'bearer', description: 'An API key’s token.' },
      },
    },
    paths,
  });
}
