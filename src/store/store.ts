import type { Database } from 'better-sqlite3';
import { numbered } from './commit-count.js';
import { fileBytes } from './file-bytes.js';
import { type CommitObserver, GroupCommit } from './group-commit.js';
import { closeWriter, lockDatabase, openReader, openWriter } from './open.js';

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
    const closing: (() => void)[] = [() => this.#lock.release()];
    try {
      const writer = openWriter(options.path, options.migrationsFolder);
      closing.push(() => closeWriter(writer));
      this.#writer = writer;
      this.#writing = this.#connect(writer);
      const reader = openReader(options.path);
      closing.push(() => reader.close());
      this.#reader = reader;
      this.#reading = this.#connect(reader);
    } catch (error) {
      for (const close of closing.reverse()) close();
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

  /** Writes the file, and nothing into it. @throws StorageError when it cannot be written */
  prove(): Promise<void> {
    return this.#commits.prove();
  }

  /** Bytes of the write-ahead log, 0 when there is none. */
  logBytes(): number {
    return fileBytes(`${this.path}-wal`);
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
    numbered(this.#writer, () => this.#writer.pragma('optimize'));
  }

  /** Commits what waits and closes; the reader first, so that the log goes too. */
  close(): void {
    this.#commits.flush();
    this.#reader.close();
    closeWriter(this.#writer);
    this.#lock.release();
  }
}
