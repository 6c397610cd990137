import type { z } from 'zod';
import { type Fault, Problem } from '../problems.js';

/** Faults told of one request at most. */
const FAULTS_TOLD = 50;

/** A JSON Pointer (RFC 6901) of a path. */
function pointerOf(path: readonly PropertyKey[]): string {
  return path
    .map((step) => `/${String(step).replaceAll('~', '~0').replaceAll('/', '~1')}`)
    .join('');
}

function faultsOf(error: z.ZodError, place: 'body' | 'query' | 'path'): Fault[] {
  const faults = error.issues.slice(0, FAULTS_TOLD).flatMap((issue): Fault[] => {
    const paths =
      issue.code === 'unrecognized_keys'
        ? issue.keys.map((key) => [...issue.path, key])
        : [issue.path];
    const detail = issue.code === 'unrecognized_keys' ? 'is not known here' : issue.message;
    return paths
      .slice(0, FAULTS_TOLD)
      .map((path) =>
        place === 'body'
          ? { pointer: pointerOf(path), detail }
          : { parameter: String(path[0] ?? ''), detail },
      );
  });
  return faults.slice(0, FAULTS_TOLD);
}

const tooDeep = { detail: 'is nested too deep' };

/** A schema that holds itself goes as deep as the value does; undefined where that is too deep. */
function readBy<S extends z.ZodType>(schema: S, value: unknown) {
  try {
    return schema.safeParse(value);
  } catch (error) {
    if (error instanceof RangeError && /call stack/.test(error.message)) return undefined;
    throw error;
  }
}

/**
 * Parses a part of a request by its schema.
 * @throws Problem request-invalid with a pointer or a parameter for each fault
 */
export function parsePart<S extends z.ZodType>(
  schema: S,
  value: unknown,
  place: 'body' | 'query' | 'path',
): z.output<S> {
  const parsed = readBy(schema, value);
  if (parsed === undefined) {
    const fault = { ...(place === 'body' ? { pointer: '' } : { parameter: '' }), ...tooDeep };
    throw new Problem('request-invalid', `The ${place} ${tooDeep.detail}.`, { errors: [fault] });
  }
  if (parsed.success) return parsed.data;
  const errors = faultsOf(parsed.error, place);
  const [first] = errors;
  const where = first?.pointer ?? first?.parameter ?? '';
  throw new Problem('request-invalid', `${where || `The ${place}`}: ${first?.detail}`, { errors });
}
