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

/** The log is shrunk, not only reused, once it is larger than this. */
const TRUNCATE_ABOVE_BYTES = 64 * 1024 * 1024;

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
   * Moves the log into the database file, off the hot path; shrinks the log when
   * it has grown and no reader holds it. Returns false when readers were in the way.
   */
  checkpoint(): boolean {
    const mode = this.logBytes() > TRUNCATE_ABOVE_BYTES ? 'TRUNCATE' : 'PASSIVE';
    const [row] = this.#writer.pragma(`wal_checkpoint(${mode})`) as { busy: number }[];
    return row?.busy === 0;
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
