import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import formatsPlugin from 'ajv-formats';
import { makeDocument } from '../../src/http/document.js';
import { routes } from '../../src/routes.js';

const addFormats = formatsPlugin as unknown as (ajv: Ajv2020) => void;

interface DocumentedResponse {
  content?: Record<string, { schema: object }>;
}

interface DocumentedOperation {
  responses: Record<string, DocumentedResponse>;
}

/** The part of a supertest response that is compared with the document. */
export interface Answered {
  status: number;
  headers: Record<string, string>;
  body: unknown;
  text: string;
}

const document = makeDocument(routes) as unknown as {
  paths: Record<string, Record<string, DocumentedOperation>>;
  components: object;
};

const ajv = new Ajv2020({ strict: false, allErrors: true });
addFormats(ajv);
ajv.addSchema({ $id: 'document', ...document } as object);
const validators = new Map<string, ValidateFunction>();

/** The documented path with fixed words first, so that `/orders/next` is not an order's number. */
const patterns = Object.keys(document.paths)
  .sort((a, b) => a.split('{').length - b.split('{').length)
  .map((path) => ({ path, form: new RegExp(`^${path.replaceAll(/\{\w+\}/g, '[^/]+')}$`) }));

/**
 * Throws unless a response is one that the API document describes: its status, its
 * media type, and its body by the schema given there.
 */
export function assertDocumented(method: string, address: string, answer: Answered): void {
  const path = address.split('?', 1)[0] ?? '';
  const found = patterns.find((one) => one.form.test(path));
  if (!found) throw new Error(`${path} is not in the document`);
  const operation = document.paths[found.path]?.[method];
  if (!operation) {
    if (answer.status === 405) return;
    throw new Error(
      `${method} ${found.path} is not in the document, yet answered ${answer.status}`,
    );
  }
  const response = operation.responses[String(answer.status)];
  if (!response) {
    throw new Error(
      `${method} ${found.path} answered ${answer.status}, which is not documented: ${answer.text.slice(0, 500)}`,
    );
  }
  const media = (answer.headers['content-type'] ?? '').split(';', 1)[0] ?? '';
  const described = response.content?.[media];
  if (!described)
    throw new Error(`${method} ${found.path} ${answer.status}: ${media} is not documented`);
  if (!media.endsWith('json')) return;
  const pointer = [
    'paths',
    found.path,
    method,
    'responses',
    String(answer.status),
    'content',
    media,
    'schema',
  ]
    .map((step) => encodeURIComponent(step.replaceAll('~', '~0').replaceAll('/', '~1')))
    .join('/');
  const validate = validators.get(pointer) ?? ajv.compile({ $ref: `document#/${pointer}` });
  validators.set(pointer, validate);
  if (!validate(JSON.parse(answer.text))) {
    const faults = validate.errors?.map((one) => `${one.instancePath} ${one.message}`).join('; ');
    throw new Error(
      `${method} ${found.path} ${answer.status}: ${faults}\n${answer.text.slice(0, 800)}`,
    );
  }
  assertDeclaredProblem(found.path, method, response, answer);
}

/** A problem's slug must stand in the description of its status. */
function assertDeclaredProblem(
  path: string,
  method: string,
  response: DocumentedResponse & { description?: string },
  answer: Answered,
): void {
  if (answer.status < 400) return;
  const slug = (JSON.parse(answer.text) as { type: string }).type.replace('/problems/', '');
  if (response.description?.includes(`\`${slug}\``)) return;
  throw new Error(`${method} ${path} answered ${slug}, which its ${answer.status} does not list`);
}
