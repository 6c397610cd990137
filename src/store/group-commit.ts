import type { Database } from 'better-sqlite3';
import { commitCountOn } from './commit-count.js';
import { isStorageTrouble, OverloadedError, StorageError } from './errors.js';

/** Commands that may wait for the next commit; one more is turned away. */
export const QUEUE_LIMIT = 2000;
/** Commands that share one commit at the most, so that a commit stays short. */
export const BATCH_LIMIT = 128;
/**
 * Turns of the event loop that a commit waits at the most, while each brings more commands.
 * Node takes one new connection a turn, so that callers who all connect after a stop came one
 * a commit: fifteen scans were measured to take 40 ms.
 */
export const TURNS_LIMIT = 16;

interface Waiting {
  work: () => unknown;
  resolve: (value: unknown) => void;
  reject: (error: unknown) => void;
}

type Settled = { waiting: Waiting; value: unknown } | { waiting: Waiting; error: unknown };

export interface CommitObserver {
  /** Called after each commit with the number of commands that shared it, and how long it took. */
  committed(size: number, seconds: number): void;
}

/**
 * Runs commands on the writing connection, a savepoint each, and lets those that
 * arrive in one turn of the event loop, or in turns that follow each other, share a
 * transaction and its fsync.
 *
 * Promise of `run`: it settles after COMMIT only. A command that throws is rolled
 * back alone. When COMMIT fails, or SQLite gave up the transaction, every command
 * of the batch is rejected with StorageError. `afterLoss` is called before the next
 * batch's first command, since what was read inside the lost transaction must be forgotten.
 * After a loss no batch waits for a lock, since waiting stops the event loop and with it
 * every question.
 */
export class GroupCommit {
  #queue: Waiting[] = [];
  #scheduled = false;
  #lost = false;
  readonly #count;
  readonly #changes;
  #counted: number | undefined;
  #proving = false;
  readonly #lockWaitMs;
  readonly #begin;
  readonly #commit;
  readonly #rollback;
  readonly #savepoint;
  readonly #release;
  readonly #undo;

  constructor(
    private readonly db: Database,
    private readonly afterLoss: () => void,
    private readonly observer: CommitObserver = { committed: () => {} },
  ) {
    this.#count = commitCountOn(db);
    this.#changes = db.prepare<[], number>('SELECT total_changes()').pluck();
    this.#counted = this.#changes.get();
    this.#lockWaitMs = Number(db.pragma('busy_timeout', { simple: true }));
    this.#begin = db.prepare('BEGIN IMMEDIATE');
    this.#commit = db.prepare('COMMIT');
    this.#rollback = db.prepare('ROLLBACK');
    this.#savepoint = db.prepare('SAVEPOINT command');
    this.#release = db.prepare('RELEASE command');
    this.#undo = db.prepare('ROLLBACK TO command');
  }

  get waiting(): number {
    return this.#queue.length;
  }

  /** False from a lost batch until a commit succeeds again. */
  get healthy(): boolean {
    return !this.#lost;
  }

  run<T>(work: () => T): Promise<T> {
    if (this.#queue.length >= QUEUE_LIMIT) {
      return Promise.reject(new OverloadedError(`${QUEUE_LIMIT} commands are already waiting`));
    }
    return new Promise<T>((resolve, reject) => {
      this.#queue.push({ work, resolve: resolve as (value: unknown) => void, reject });
      this.#schedule();
    });
  }

  /** Writes the file, and nothing into it. @throws StorageError when it cannot be written */
  prove(): Promise<void> {
    return this.run(() => {
      this.#proving = true;
    });
  }

  /** Commits whatever waits, now; used when the store closes. */
  flush(): void {
    while (this.#queue.length > 0) this.#commitBatch();
  }

  #schedule(): void {
    if (this.#scheduled) return;
    this.#scheduled = true;
    this.#atEndOfTurn(0, TURNS_LIMIT);
  }

  /** Ends of turns, not a timer: a lone command waits for one more, some microseconds. */
  #atEndOfTurn(known: number, turnsLeft: number): void {
    setImmediate(() => {
      const { length } = this.#queue;
      if (length > known && length < BATCH_LIMIT && turnsLeft > 1) {
        this.#atEndOfTurn(length, turnsLeft - 1);
        return;
      }
      this.#scheduled = false;
      this.#commitBatch();
      if (this.#queue.length > 0) this.#schedule();
    });
  }

  #commitBatch(): void {
    const batch = this.#queue.splice(0, BATCH_LIMIT);
    if (batch.length === 0) return;
    const begun = process.hrtime.bigint();
    let settled: Settled[];
    try {
      this.#begin.run();
      if (this.#lost) this.afterLoss();
      settled = batch.map((waiting) => this.#attempt(waiting));
      this.#number();
      this.#commit.run();
      if (this.#lost) this.#recover();
    } catch (error) {
      this.#lose(batch, error);
      return;
    }
    this.observer.committed(batch.length, Number(process.hrtime.bigint() - begun) / 1e9);
    for (const one of settled) {
      if ('error' in one) one.waiting.reject(one.error);
      else one.waiting.resolve(one.value);
    }
  }

  /**
   * Numbers the commit, unless it changes nothing: an idle service must not write. After a
   * loss, and where it is asked to, every commit is numbered, which writes the first page and
   * so proves that it can.
   */
  #number(): void {
    const changes = this.#changes.get();
    if (this.#lost || this.#proving || changes !== this.#counted) this.#count.next();
    this.#counted = changes;
    this.#proving = false;
  }

  #attempt(waiting: Waiting): Settled {
    this.#savepoint.run();
    try {
      const value = waiting.work();
      if (value instanceof Promise) throw new TypeError('a command cannot wait for anything');
      this.#release.run();
      return { waiting, value };
    } catch (error) {
      // After a full disk or an I/O error the whole batch is in doubt, not this command alone.
      if (!this.db.inTransaction || isStorageTrouble(error)) throw error;
      this.#undo.run();
      this.#release.run();
      return { waiting, error };
    }
  }

  #recover(): void {
    this.#lost = false;
    this.db.pragma(`busy_timeout = ${this.#lockWaitMs}`);
  }

  /** Never throws: whoever waits must be told, whatever else is broken. */
  #lose(batch: Waiting[], cause: unknown): void {
    this.#lost = true;
    try {
      if (this.db.inTransaction) this.#rollback.run();
      this.db.pragma('busy_timeout = 0');
    } catch {
      // The next BEGIN will fail, and its batch comes here and tries again.
    }
    const error = new StorageError('the transaction could not be committed', { cause });
    for (const waiting of batch) waiting.reject(error);
  }
}
