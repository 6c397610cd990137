import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import { JOURNAL_SIZE_LIMIT_BYTES } from './open.js';

/**
 * A pass has little to write when it comes often. One every two seconds wrote so much
 * that a commit meanwhile waited up to 900 ms for the same disk.
 */
const EVERY_MS = 200;

/**
 * Copies the write-ahead log into the database file in a thread of its own, again and
 * again, so that reading and syncing many pages never stands between a scan and its answer.
 */
export class Checkpointer {
  readonly #thread: Worker;

  constructor(path: string, entry: string) {
    this.#thread = new Worker(entry, {
      workerData: {
        path,
        journalSizeLimitBytes: JOURNAL_SIZE_LIMIT_BYTES,
        everyMs: EVERY_MS,
      },
    });
    this.#thread.unref();
  }

  /** Lets a pass end, and closes its connection. */
  async close(): Promise<void> {
    // From here on it must be waited for: its connection has to close before the writer's.
    this.#thread.ref();
    const ended = once(this.#thread, 'exit');
    this.#thread.postMessage('close');
    await ended;
  }
}
