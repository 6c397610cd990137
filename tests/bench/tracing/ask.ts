import type { Call } from '../support/load.js';

export interface Asked<T> {
  body: T;
  /** Milliseconds until the whole answer was read. */
  ms: number;
}

/**
 * Sends one call and reads its answer.
 * @throws Error unless the status is the wanted one
 */
export async function ask<T>(address: string, call: Call, wanted: number): Promise<Asked<T>> {
  const { method, path, headers, body = null } = call;
  const started = performance.now();
  const answer = await fetch(new URL(path, address), {
    method,
    headers: headers as Record<string, string>,
    body,
  });
  const text = await answer.text();
  const ms = performance.now() - started;
  if (answer.status !== wanted) {
    throw new Error(`${method} ${path} was answered with ${answer.status}: ${text.slice(0, 300)}`);
  }
  return { body: JSON.parse(text) as T, ms };
}
