import BetterSqlite3, { type Database } from 'better-sqlite3';
import { CHAIN_START, chainHash } from '../../../src/journal/chain.js';
import { journalRecords } from '../../../src/journal/records.js';
import { type Answer, type Command, type Connections, rowsOf } from './command.js';
import type { Floor } from './floor.js';

/** What the last life left open, by what became of it. */
export interface Unanswered {
  /** Carried out before the kill; only the answer was lost. */
  replayed: number;
  /** Not carried out before, and now. */
  carriedOut: number;
}

interface Kept {
  status: number;
  body: string;
}

/** Looks into the file of a restarted service, beside it. */
export class AfterCrash {
  /** The last event known to be in the chain. */
  #last: { seq: number; hash: Buffer } = { seq: 0, hash: CHAIN_START };

  constructor(
    private readonly path: string,
    private readonly floor: Floor,
  ) {}

  /**
   * Checks everything that the clients were told against the restarted service, before any
   * of them goes on, and repeats what is still unanswered.
   * @throws Error that says which promise was broken
   */
  async check(connections: Connections, life: number): Promise<Unanswered> {
    const db = new BetterSqlite3(this.path, { readonly: true });
    try {
      this.#checkFile(db);
      const kept = keptAnswers(db);
      for (const command of this.floor.commands) {
        if (command.answer) assertSame(command, command.answer, kept.get(command.key));
      }
      const ofLastLife = this.floor.commands.filter((one) => one.life === life && one.answer);
      for (const command of ofLastLife) assertRows(db, command, command.answer as Answer);
      const [found] = await Promise.all([
        this.#repeatUnanswered(connections, db, kept),
        repeatAnswered(connections, ofLastLife),
      ]);
      return found;
    } finally {
      db.close();
    }
  }

  /** Repeats every command there ever was, and counts its rows. */
  async checkAll(connections: Connections): Promise<void> {
    const db = new BetterSqlite3(this.path, { readonly: true });
    try {
      const answered = this.floor.commands.filter((one) => one.answer);
      for (const command of answered) assertRows(db, command, command.answer as Answer);
      await repeatAnswered(connections, answered);
    } finally {
      db.close();
    }
  }

  /** Every command under way is in the file whole, or not at all; its client gets its answer. */
  async #repeatUnanswered(
    connections: Connections,
    db: Database,
    kept: ReadonlyMap<string, Kept>,
  ): Promise<Unanswered> {
    const found = { replayed: 0, carriedOut: 0 };
    const waiting = [...this.floor.underWay.keys()];
    for (const command of waiting) {
      const before = kept.get(command.key);
      if (before) assertRows(db, command, before);
      else if (rowCount(db, command) !== 0) fail(command, 'left rows, but no answer: it is half');
    }
    await Promise.all(
      waiting.map(async (command) => {
        const answer = await connections.send(command);
        if (!answer) return fail(command, 'is not answered by the restarted service');
        const before = kept.get(command.key);
        if (answer.replayed !== (before !== undefined)) fail(command, 'is not replayed as it must');
        if (before) assertSame(command, before, answer);
        found[before ? 'replayed' : 'carriedOut'] += 1;
        assertRows(db, command, answer);
        this.floor.resume(command, answer);
      }),
    );
    return found;
  }

  /** SQLite's own checks, the chain of events, and sums that every command keeps. */
  #checkFile(db: Database): void {
    const sound = db.pragma('integrity_check', { simple: true });
    if (sound !== 'ok') throw new Error(`the file is damaged: ${sound}`);
    if ((db.pragma('foreign_key_check') as unknown[]).length > 0) {
      throw new Error('a row refers to one that is not there');
    }
    this.#checkChain(db);
    for (const [what, sql] of alwaysZero) {
      const found = db.prepare(sql).pluck().get();
      if (found !== 0) throw new Error(`${what}: ${found}`);
    }
  }

  #checkChain(db: Database): void {
    const journal = journalRecords(db);
    const known = db.prepare('SELECT hash FROM events WHERE seq = ?').pluck();
    const { seq, hash } = this.#last;
    if (seq > 0 && !hash.equals(known.get(seq) as Buffer)) {
      throw new Error(`event ${seq} is no longer the one it was`);
    }
    for (const { hash: stored, ...event } of journal.after(seq, 1_000_000)) {
      if (event.seq !== this.#last.seq + 1) throw new Error(`event ${event.seq - 1} is missing`);
      if (!chainHash(this.#last.hash, event).equals(stored)) {
        throw new Error(`event ${event.seq} does not hash to its own`);
      }
      this.#last = { seq: event.seq, hash: stored };
    }
  }
}

/** Differences that are nought after every whole command. */
const alwaysZero: readonly [what: string, sql: string][] = [
  [
    'motors counted for orders that are not theirs',
    `SELECT (SELECT SUM(set_count) FROM orders) - COUNT(*) FROM sets WHERE torn_down_at_ms IS NULL`,
  ],
  [
    'motor serials issued without a motor',
    `SELECT (SELECT next FROM serial_sequence) - 1 - COUNT(*) FROM units WHERE class = 'motor'`,
  ],
  [
    'motors in test without an open run',
    `SELECT COUNT(*) FROM units WHERE (state = 'in-test') <>
       (id IN (SELECT motor_id FROM runs WHERE state = 'open'))`,
  ],
  [
    'motors in repair without an open repair',
    `SELECT COUNT(*) FROM units WHERE (state = 'in-repair') <>
       (id IN (SELECT motor_id FROM repairs WHERE closed_at_ms IS NULL))`,
  ],
  [
    'motors released without a record of it',
    `SELECT COUNT(*) FROM units WHERE (state = 'released') <> (id IN (SELECT motor_id FROM releases))`,
  ],
  [
    'parts installed nowhere, or somewhere without being so',
    `SELECT COUNT(*) FROM units WHERE (state = 'installed') <>
       (id IN (SELECT child_id FROM installations WHERE until_ms IS NULL))`,
  ],
  [
    'events whose units are not tied to them',
    `SELECT (SELECT COUNT(*) FROM event_units) - SUM(json_array_length(units)) FROM events`,
  ],
];

function keptAnswers(db: Database): Map<string, Kept> {
  const rows = db
    .prepare<[], Kept & { key: string }>(
      'SELECT idempotency_key AS key, status, body FROM idempotency',
    )
    .all();
  return new Map(rows.map(({ key, status, body }) => [key, { status, body }]));
}

async function repeatAnswered(
  connections: Connections,
  commands: readonly Command[],
): Promise<void> {
  await Promise.all(
    commands.map(async (command) => {
      const again = await connections.send(command);
      if (!again?.replayed) fail(command, 'was answered, and is not known any more');
      assertSame(command, command.answer as Answer, again);
    }),
  );
}

function assertSame(command: Command, was: Kept, is: Kept | undefined): void {
  if (is === undefined) fail(command, 'was answered, and its answer is gone');
  if (was.status === is.status && was.body === is.body) return;
  fail(command, `was answered ${was.status} ${was.body}, and is now ${is.status} ${is.body}`);
}

function assertRows(db: Database, command: Command, answer: Kept): void {
  const wanted = rowsOf(command, answer);
  const found = rowCount(db, command);
  if (found !== wanted) fail(command, `was answered ${answer.status}, and left ${found} rows`);
}

function rowCount(db: Database, { leaves: [sql, ...parameters] }: Command): number {
  return db
    .prepare(sql)
    .pluck()
    .get(...parameters) as number;
}

function fail(command: Command, what: string): never {
  throw new Error(`${command.path} ${JSON.stringify(command.body)} ${what}`);
}
