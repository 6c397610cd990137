import { answered, attemptKey } from './attempts.js';

/** An RFC 9457 problem document. */
export interface ProblemDocument {
  type: string;
  title: string;
  status: number;
  detail: string;
  errors?: { pointer?: string; parameter?: string; line?: number; detail: string }[];
  [more: string]: unknown;
}

/**
 * What came of a request:
 * - `done`: carried out, or asked, with the answer's body;
 * - `refused`: answered for good with a problem;
 * - `unanswered`: nobody knows whether it was carried out; sending the same again is safe.
 */
export type Answer<T> =
  | { kind: 'done'; body: T }
  | { kind: 'refused'; problem: ProblemDocument }
  | {
      kind: 'unanswered';
      why: 'network' | 'busy' | 'signed-out' | 'strange';
      problem?: ProblemDocument;
    };

const GIVE_UP_AFTER_MS = 10_000;

/**
 * Asks a question of the interface: a GET of one of its addresses.
 * @param giveUpAfterMs longer for questions that take their time
 */
export function ask<T>(address: string, giveUpAfterMs = GIVE_UP_AFTER_MS): Promise<Answer<T>> {
  return send<T>(address, { method: 'GET' }, giveUpAfterMs);
}

/**
 * Sends a command under an Idempotency-Key. While it has no answer for good, the same command
 * goes out under the same key again, also after the page was loaded anew.
 */
export async function command<T>(
  address: string,
  body: unknown,
  method: 'POST' | 'PUT' = 'POST',
  headers: Readonly<Record<string, string>> = {},
): Promise<Answer<T>> {
  const text = JSON.stringify(body);
  const request = `${method} ${address} ${headers['If-Match'] ?? ''} ${text}`;
  const answer = await send<T>(address, {
    method,
    body: text,
    headers: {
      'Content-Type': 'application/json',
      'Idempotency-Key': attemptKey(request),
      ...headers,
    },
  });
  if (answer.kind !== 'unanswered') answered(request);
  return answer;
}

async function send<T>(
  address: string,
  request: RequestInit,
  giveUpAfterMs = GIVE_UP_AFTER_MS,
): Promise<Answer<T>> {
  let response: Response;
  let text: string;
  try {
    response = await fetch(address, {
      ...request,
      headers: { Accept: 'application/json', ...request.headers },
      credentials: 'same-origin',
      cache: 'no-store',
      signal: AbortSignal.timeout(giveUpAfterMs),
    });
    text = await response.text();
  } catch {
    return { kind: 'unanswered', why: 'network' };
  }
  return answerOf<T>(response, text);
}

function answerOf<T>(response: Response, text: string): Answer<T> {
  const body = parsed(text);
  if (body === undefined) return { kind: 'unanswered', why: 'strange' };
  if (response.ok) return { kind: 'done', body: body as T };
  const problem = body as ProblemDocument;
  if (response.status === 401) return { kind: 'unanswered', why: 'signed-out', problem };
  if (isPassing(problem)) return { kind: 'unanswered', why: 'busy', problem };
  return { kind: 'refused', problem };
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

/** Problems that say nothing for good about the request: it may be sent again. */
function isPassing({ status, type }: ProblemDocument): boolean {
  return status >= 500 || status === 429 || type === '/problems/idempotency-in-flight';
}

const advice = new Map<string, string>();

/** What the catalogue of problems advises; nothing where it cannot be asked now. */
export async function adviceFor({ type }: ProblemDocument): Promise<string | undefined> {
  const known = advice.get(type);
  if (known !== undefined || !type.startsWith('/problems/')) return known;
  const page = await ask<{ about: string }>(type);
  if (page.kind !== 'done') return undefined;
  advice.set(type, page.body.about);
  return page.body.about;
}
