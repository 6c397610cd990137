import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Database, Statement } from 'better-sqlite3';
import { pino } from 'pino';
import { makeApp } from '../../../src/app.js';
import { databaseFile } from '../../../src/config.js';
import { makeMetrics } from '../../../src/http/metrics.js';
import { packageFile } from '../../../src/package-root.js';
import { connectPlant } from '../../../src/plant.js';
import { openWriter } from '../../../src/store/open.js';
import { Store } from '../../../src/store/store.js';
import { closedLoop } from '../support/load.js';
import { settings } from '../support/plant.js';
import { type Completion, completionCalls } from './material.js';

type Method = 'get' | 'all' | 'run';
const methods: readonly string[] = ['get', 'all', 'run'] satisfies Method[];

interface Executed {
  sql: string;
  method: Method;
  parameters: unknown[];
}

/** The statements of one command on the writing connection, in order, with their values. */
export type Transaction = Executed[];

/**
 * What the service says to SQLite: completes runs through the whole application on a
 * copy of the data, one request at a time, and writes down each statement that its
 * writing connection executes.
 */
export async function captureTransactions(
  data: string,
  token: string,
  completions: readonly Completion[],
): Promise<Transaction[]> {
  const executed: Executed[] = [];
  const store = new Store({
    path: databaseFile(data),
    migrationsFolder: packageFile('migrations'),
    connect: (db) => connectPlant(db.readonly ? db : listening(db, executed)),
  });
  const app = makeApp({
    store,
    clock: Date.now,
    settings,
    log: pino({ level: 'silent' }),
    metrics: makeMetrics({
      queue: () => 0,
      logBytes: () => 0,
      questions: () => 0,
      lastBackupMs: () => 0,
    }),
    ready: () => true,
    inWorker: () => Promise.reject(new Error('no long question is asked here')),
    trustedProxies: 0,
  });
  const server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  await closedLoop(address, completionCalls(token, completions), 1);
  await new Promise((resolve) => server.close(resolve));
  store.close();
  return cut(executed, completions.length);
}

/** Each command begins by looking its idempotency key up. */
function cut(executed: readonly Executed[], commands: number): Transaction[] {
  const first = executed[0]?.sql;
  const transactions: Transaction[] = [];
  for (const one of executed) {
    if (one.sql === first) transactions.push([]);
    transactions.at(-1)?.push(one);
  }
  if (transactions.length !== commands) {
    throw new Error(`captured ${transactions.length} commands, not ${commands}`);
  }
  return transactions;
}

function listening(db: Database, executed: Executed[]): Database {
  return new Proxy(db, {
    get(target, name) {
      if (name === 'prepare') {
        return (sql: string) => listeningStatement(target.prepare(sql), sql, executed);
      }
      const member = Reflect.get(target, name, target);
      return typeof member === 'function' ? member.bind(target) : member;
    },
  });
}

function listeningStatement(statement: Statement, sql: string, executed: Executed[]): Statement {
  return new Proxy(statement, {
    get(target, name) {
      const member = Reflect.get(target, name, target);
      if (typeof member !== 'function') return member;
      if (!methods.includes(String(name))) return member.bind(target);
      return (...parameters: unknown[]) => {
        executed.push({ sql, method: name as Method, parameters });
        return member.apply(target, parameters);
      };
    },
  });
}

/** Replays transactions, each in its own BEGIN IMMEDIATE and COMMIT, as fast as they go. */
export class Replay {
  readonly #db;
  readonly #statements = new Map<string, Statement>();
  readonly #begin;
  readonly #commit;

  constructor(data: string) {
    this.#db = openWriter(databaseFile(data), packageFile('migrations'));
    this.#begin = this.#db.prepare('BEGIN IMMEDIATE');
    this.#commit = this.#db.prepare('COMMIT');
  }

  /** Returns transactions a second. `writesOnly` leaves out what only reads. */
  run(transactions: readonly Transaction[], writesOnly = false): number {
    const prepared = transactions.map((transaction) =>
      transaction
        .filter((one) => !writesOnly || one.method === 'run')
        .map(({ sql, method, parameters }) => ({ statement: this.#of(sql), method, parameters })),
    );
    const started = performance.now();
    for (const transaction of prepared) {
      this.#begin.run();
      for (const { statement, method, parameters } of transaction) {
        statement[method](...parameters);
      }
      this.#commit.run();
    }
    return (transactions.length / (performance.now() - started)) * 1000;
  }

  #of(sql: string): Statement {
    const known = this.#statements.get(sql) ?? this.#db.prepare(sql);
    this.#statements.set(sql, known);
    return known;
  }

  close(): void {
    this.#db.close();
  }
}
