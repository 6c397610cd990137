import { statSync } from 'node:fs';
import type { Database } from 'better-sqlite3';
import { type CommitObserver, GroupCommit } from './group-commit.js';
import { lockDatabase, openReader, openWriter } from './open.js';

export interface StoreOptions<Records> {
  path: string;
  migrationsFolder: string;
  /** Prepares every statement of every capability on a connection. */
  connect: (db: Database) => Records;
  observer?: CommitObserver;
}

/**
 * One database file: a writing connection behind a group commit, and a reading
 * connection that sees committed state only. `Records` is whatever `connect`
 * prepares, so the store itself knows no table.
 */
export class Store<Records> {
  readonly path: string;
  readonly #lock;
  readonly #writer: Database;
  readonly #reader: Database;
  readonly #connect: (db: Database) => Records;
  readonly #commits: GroupCommit;
  #writing: Records;
  #reading: Records;

  constructor(options: StoreOptions<Records>) {
    this.path = options.path;
    this.#connect = options.connect;
    this.#lock = lockDatabase(options.path);
    const opened: Database[] = [];
    try {
      this.#writer = openWriter(options.path, options.migrationsFolder);
      opened.push(this.#writer);
      this.#writing = this.#connect(this.#writer);
      this.#reader = openReader(options.path);
      opened.push(this.#reader);
      this.#reading = this.#connect(this.#reader);
    } catch (error) {
      for (const db of opened.reverse()) db.close();
      this.#lock.release();
      throw error;
    }
    this.#commits = new GroupCommit(
      this.#writer,
      () => {
        this.#writing = this.#connect(this.#writer);
      },
      options.observer,
    );
  }

  /** Records on the reading connection; for questions. */
  get reading(): Records {
    return this.#reading;
  }

  /** False while the last commit failed: disk full, file damaged or out of reach. */
  get writable(): boolean {
    return this.#commits.healthy;
  }

  get waiting(): number {
    return this.#commits.waiting;
  }

  /**
   * Runs one command in one transaction and settles once it is durable.
   * `work` is synchronous; what it throws undoes it whole and rejects.
   */
  command<T>(work: (records: Records) => T): Promise<T> {
    return this.#commits.run(() => work(this.#writing));
  }

  /** Bytes of the write-ahead log, 0 when there is none. */
  logBytes(): number {
    return statSync(`${this.path}-wal`, { throwIfNoEntry: false })?.size ?? 0;
  }

  /**
   * Moves what the log still holds into the database file, so that the next commit
   * begins the log anew. Short when a Checkpointer has just passed over it; without
   * this, a busy writer would stay ahead of every pass and the log would never end.
   * Returns false when a reader was in the way.
   */
  checkpoint(): boolean {
    const [row] = this.#writer.pragma('wal_checkpoint(PASSIVE)') as {
      busy: number;
      log: number;
      checkpointed: number;
    }[];
    return row?.busy === 0 && row.log === row.checkpointed;
  }

  /** Refreshes the planner's statistics where the tables have changed enough. */
  optimize(): void {
    this.#writer.pragma('optimize');
  }

  /** Commits what waits and closes; the reader first, so that the log goes too. */
  close(): void {
    this.#commits.flush();
    this.#reader.close();
    this.#writer.close();
    this.#lock.release();
  }
}
