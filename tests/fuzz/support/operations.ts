import type { Role } from '../../../src/access/schema.js';
import { makeDocument } from '../../../src/http/document.js';
import { routes } from '../../../src/routes.js';

export type Schema = Record<string, unknown>;

export interface Parameter {
  in: 'path' | 'query' | 'header';
  name: string;
  required?: boolean;
  schema: Schema;
}

/** What the API document says of one method of one address, and nothing that only the code knows. */
export interface Operation {
  /** `POST /v1/runs/{run}/completion`. */
  name: string;
  method: 'get' | 'post' | 'put';
  path: string;
  parameters: readonly Parameter[];
  /** Media type and schema of the body, where there is one. */
  body?: { media: string; schema: Schema };
  /** Bytes that the body may have. */
  bodyLimit: number;
  roles: readonly Role[] | 'any';
  /** It changes something: it asks for an Idempotency-Key. */
  isCommand: boolean;
}

interface DocumentedOperation {
  description: string;
  parameters?: Parameter[];
  requestBody?: { description: string; content: Record<string, { schema: Schema }> };
}

const document = makeDocument(routes) as unknown as {
  paths: Record<string, Record<string, DocumentedOperation>>;
  components: { schemas: Record<string, Schema> };
};

/** Every operation of the API document, in its order. */
export const operations: readonly Operation[] = Object.entries(document.paths).flatMap(
  ([path, methods]) =>
    Object.entries(methods).map(([method, documented]) => operationOf(method, path, documented)),
);

function operationOf(method: string, path: string, documented: DocumentedOperation): Operation {
  const { requestBody, description, parameters = [] } = documented;
  const [content] = Object.entries(requestBody?.content ?? {});
  return {
    name: `${method.toUpperCase()} ${path}`,
    method: method as Operation['method'],
    path,
    parameters,
    ...(content ? { body: { media: content[0], schema: content[1].schema } } : {}),
    bodyLimit: Number(/(\d+) KiB/.exec(requestBody?.description ?? '')?.[1] ?? 0) * 1024,
    roles: rolesIn(description),
    isCommand: parameters.some((one) => one.name === 'Idempotency-Key'),
  };
}

/** Who may send it, as its description tells a reader. */
function rolesIn(description: string): readonly Role[] | 'any' {
  const [, told] = /Takes (any key|a key with the role .+)\.$/.exec(description) ?? [];
  if (told === undefined) throw new Error(`no roles in: ${description}`);
  return told === 'any key'
    ? 'any'
    : (told.replace('a key with the role ', '').split(' or ') as Role[]);
}

/** What a schema is, with a reference looked up in the document. */
export function lookedUp(schema: Schema): Schema {
  if (typeof schema.$ref !== 'string') return schema;
  const found = document.components.schemas[schema.$ref.split('/').at(-1) ?? ''];
  if (!found) throw new Error(`${schema.$ref} is not in the document`);
  return found;
}

/** The document itself, for questions about all that it says. */
export const wholeDocument: unknown = document;
