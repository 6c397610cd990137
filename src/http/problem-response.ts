import type { Response } from 'express';
import { Problem } from '../problems.js';
import { isStorageTrouble, OverloadedError } from '../store/errors.js';
import { DeadlineError } from '../store/workers.js';

/** Seconds after which a caller who was turned away may come back. */
const RETRY_AFTER_SECONDS = 1;

/** Faults that Express and its parsers throw, by their `type`. */
const parserProblems: Record<string, [ConstructorParameters<typeof Problem>[0], string]> = {
  'entity.parse.failed': ['body-malformed', 'The body is not valid JSON.'],
  'entity.too.large': ['body-too-large', 'The body is larger than this address takes.'],
  'encoding.unsupported': ['media-type-unsupported', 'The body’s encoding is not supported.'],
  'charset.unsupported': ['media-type-unsupported', 'The body’s character set is not supported.'],
  'charset.broken': ['body-malformed', 'The body has bytes that are not UTF-8.'],
  'request.size.invalid': ['body-malformed', 'The body is not as long as it says.'],
  'request.aborted': ['body-malformed', 'The body broke off.'],
};

/** Any error as the problem that a caller is told; an unknown one tells nothing of its inside. */
export function problemOf(error: unknown): Problem {
  if (error instanceof Problem) return error;
  if (error instanceof OverloadedError) return new Problem('overloaded', 'Too much is waiting.');
  if (error instanceof DeadlineError) return new Problem('question-too-long', error.message);
  if (isStorageTrouble(error)) {
    return new Problem('storage-unavailable', 'The database cannot be used now.');
  }
  if (error instanceof URIError) {
    return new Problem(
      'request-invalid',
      'The address is not well-formed: a percent sign begins no escaped UTF-8 character.',
    );
  }
  const { type, status } = (error ?? {}) as { type?: unknown; status?: unknown };
  const known = typeof type === 'string' ? parserProblems[type] : undefined;
  if (known) return new Problem(...known);
  if (status === 400) return new Problem('body-malformed', 'The request cannot be read.');
  return new Problem('internal-error', 'Something went wrong here; it is logged.');
}

/** Sends a problem document with the headers that its status calls for. */
export function sendProblem(res: Response, problem: Problem): void {
  const { slug, status } = problem;
  if (status === 503) res.setHeader('Retry-After', RETRY_AFTER_SECONDS);
  if (slug === 'idempotency-in-flight') res.setHeader('Retry-After', RETRY_AFTER_SECONDS);
  if (status === 401) res.setHeader('WWW-Authenticate', 'Bearer realm="skeg"');
  res.locals.problem = slug;
  res.setHeader('Cache-Control', 'no-store');
  sendJson(res, status, 'application/problem+json', JSON.stringify(problem.document()));
}

/** Sends text already made, with its length. */
export function sendJson(res: Response, status: number, type: string, text: string): void {
  res.statusCode = status;
  res.setHeader('Content-Type', type);
  res.setHeader('Content-Length', Buffer.byteLength(text));
  res.end(text);
}
