import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import { JOURNAL_SIZE_LIMIT_BYTES } from './open.js';

/**
 * Copies the write-ahead log into the database file in a thread of its own, so that the
 * reading and syncing of many pages never stands between a scan and its answer.
 */
export class Checkpointer {
  readonly #thread: Worker;
  #passing: Promise<void> | undefined;

  constructor(path: string, entry: string) {
    this.#thread = new Worker(entry, {
      workerData: { path, journalSizeLimitBytes: JOURNAL_SIZE_LIMIT_BYTES },
    });
    this.#thread.unref();
  }

  /** One pass over what the log holds now; a call during a pass waits for that one. */
  pass(): Promise<void> {
    this.#passing ??= this.#pass().finally(() => {
      this.#passing = undefined;
    });
    return this.#passing;
  }

  async #pass(): Promise<void> {
    const passed = once(this.#thread, 'message');
    this.#thread.postMessage('pass');
    await passed;
  }

  /** Lets a pass end, and closes its connection. */
  async close(): Promise<void> {
    await this.#passing;
    // From here on it must be waited for: its connection has to close before the writer's.
    this.#thread.ref();
    const ended = once(this.#thread, 'exit');
    this.#thread.postMessage('close');
    await ended;
  }
}
