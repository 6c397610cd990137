import { Piscina } from 'piscina';
import { OverloadedError } from './errors.js';

/** Worker threads: two cores, one of them for scans. */
const THREADS = 1;
/** Questions that may wait for a thread; one more is turned away. */
const QUEUE_LIMIT = 20;
/** A question is given up after this; its thread is ended and replaced. */
export const DEADLINE_MS = 30_000;

/** A long question took longer than its deadline. */
export class DeadlineError extends Error {}

/** A fixed pool of threads that answer long questions on read-only connections. */
export class Workers {
  readonly #pool: Piscina;

  constructor(
    private readonly path: string,
    entry: string,
  ) {
    this.#pool = new Piscina({
      filename: entry,
      name: 'answer',
      minThreads: 0,
      maxThreads: THREADS,
      idleTimeout: 60_000,
    });
  }

  /** @throws OverloadedError when too many wait; DeadlineError past the deadline */
  async ask<T>(question: string, parameters: unknown): Promise<T> {
    // The pool's own limit would not count tasks that can be given up, as all here can.
    if (this.waiting >= QUEUE_LIMIT) throw new OverloadedError('too many long questions wait');
    try {
      return (await this.#pool.run(
        { path: this.path, question, parameters },
        { signal: AbortSignal.timeout(DEADLINE_MS) },
      )) as T;
    } catch (error) {
      if (error instanceof Error && error.name === 'AbortError') {
        throw new DeadlineError(`the question took longer than ${DEADLINE_MS / 1000} s`);
      }
      throw error;
    }
  }

  /** Questions that wait for a thread. */
  get waiting(): number {
    return this.#pool.queueSize;
  }

  async close(): Promise<void> {
    await this.#pool.destroy();
  }
}
