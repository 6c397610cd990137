import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Logger } from 'pino';
import { addKey } from './access/actions.js';
import type { Role } from './access/schema.js';
import { makeApp } from './app.js';
import { keepHouse, watchLeaps } from './housekeeping.js';
import { answerUnreadable } from './http/client-error.js';
import { messageClasses } from './http/message-classes.js';
import { makeMetrics } from './http/metrics.js';
import { recordEvent } from './journal/record.js';
import { packageFile } from './package-root.js';
import { connectPlant, type Plant } from './plant.js';
import { unwrap, type WorkerAnswer } from './reader.js';
import { catchUpSeries } from './series/catch-up.js';
import type { Settings } from './settings.js';
import { lastBackupMs } from './store/backup.js';
import { Checkpointer } from './store/checkpointer.js';
import { Store } from './store/store.js';
import { Workers } from './store/workers.js';
import { type Clock, steadyClock } from './time.js';

export interface ServiceOptions {
  /** The database file; made when it is not there. */
  path: string;
  host: string;
  port: number;
  settings: Settings;
  clock: Clock;
  log: Logger;
  trustedProxies?: number;
}

/** A caller that has not sent its request by then is cut off. */
const REQUEST_TIMEOUT_MS = 30_000;
const HEADERS_TIMEOUT_MS = 10_000;
const KEEP_ALIVE_MS = 65_000;
/**
 * Connections that may wait to be taken. Where they are too many the system drops some without
 * a word, and their callers try again after one, three, seven … seconds: with Node's own 511
 * a caller of six thousand at one moment was measured to wait for 57 seconds.
 */
const BACKLOG = 4096;
/** How often those limits are looked at; Node's own half minute would let callers dawdle for a minute. */
const TIMEOUTS_EVERY_MS = 1000;
/** Open requests may finish for this long at shutdown. */
const DRAIN_MS = 10_000;
/** How often, meanwhile, connections that have become idle are closed. */
const IDLE_SWEEP_MS = 20;

export interface RunningService {
  address: string;
  store: Store<Plant>;
  server: Server;
  /** Stops taking requests, lets open ones finish, closes the database. Call it once or often. */
  stop(): Promise<void>;
}

/** Opens the database, listens, and keeps house. */
export async function startService(options: ServiceOptions): Promise<RunningService> {
  const { path, settings, log } = options;
  let stopping: Promise<void> | undefined;
  const closing = new AbortController();
  const metrics = makeMetrics({
    queue: () => store.waiting,
    logBytes: () => store.logBytes(),
    questions: () => workers.waiting,
    lastBackupMs: () => lastBackupMs(path),
  });
  const store = new Store<Plant>({
    path,
    migrationsFolder: packageFile('migrations'),
    connect: connectPlant,
    observer: {
      committed: (size, seconds) => {
        metrics.batch.observe(size);
        metrics.commits.observe(seconds);
      },
    },
  });
  const clock = steadyClock(options.clock, store.reading.journal.last()?.recordedAtMs ?? 0);
  const workers = new Workers(path, packageFile('dist', 'src', 'reader.js'));
  const checkpointer = new Checkpointer(
    path,
    packageFile('dist', 'src', 'store', 'checkpoint-thread.js'),
  );
  const app = makeApp({
    store,
    clock,
    settings,
    log,
    metrics,
    ready: () => stopping === undefined && store.writable,
    closing: closing.signal,
    inWorker: async <T>(question: string, parameters: unknown) =>
      unwrap(await workers.ask<WorkerAnswer>(question, parameters)) as T,
    trustedProxies: options.trustedProxies ?? 0,
  });
  const server = createServer(
    {
      requestTimeout: REQUEST_TIMEOUT_MS,
      headersTimeout: HEADERS_TIMEOUT_MS,
      connectionsCheckingInterval: TIMEOUTS_EVERY_MS,
      keepAliveTimeout: KEEP_ALIVE_MS,
      ...messageClasses(app),
    },
    app,
  );
  server.on('clientError', answerUnreadable);
  try {
    await store.command(catchUpSeries);
    await listen(server, options.port, options.host);
  } catch (error) {
    await Promise.all([workers.close(), checkpointer.close()]);
    store.close();
    throw error;
  }
  const stopHousekeeping = keepHouse(
    store,
    { clock, isInDoubt: watchLeaps(options.clock, log) },
    log,
  );
  const stop = () => {
    closing.abort();
    stopping ??= shutDown(server, store, [workers, checkpointer], stopHousekeeping);
    return stopping;
  };
  return { address: addressOf(server), store, server, stop };
}

/** Makes the first keys of a new database, in its first event; undefined when there are keys. */
export function firstKey(
  store: Store<Plant>,
  now: number,
  name = 'first administrator',
  roles: Role[] = ['admin'],
): Promise<string | undefined> {
  return store.command((plant) => {
    if (plant.access.list(0, 1).length > 0) return undefined;
    const { key, token } = addKey(plant, { name, roles }, now);
    const content = { keyId: key.id, roles: [...key.roles], expiresAtMs: null };
    recordEvent(plant, { keyId: key.id, now }, 'key.issued', content);
    return token;
  });
}

function listen(server: Server, port: number, host: string): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', reject);
    server.listen({ port, host, backlog: BACKLOG }, () => {
      server.off('error', reject);
      resolve();
    });
  });
}

function addressOf(server: Server): string {
  const { address, port, family } = server.address() as AddressInfo;
  return `http://${family === 'IPv6' ? `[${address}]` : address}:${port}`;
}

async function shutDown(
  server: Server,
  store: Store<Plant>,
  threads: readonly { close(): Promise<void> }[],
  stopHousekeeping: () => void,
): Promise<void> {
  stopHousekeeping();
  const closed = new Promise<void>((resolve) => server.close(() => resolve()));
  server.closeIdleConnections();
  // A connection whose last request is answered only now would else be kept alive.
  const idle = setInterval(() => server.closeIdleConnections(), IDLE_SWEEP_MS);
  const deadline = setTimeout(() => server.closeAllConnections(), DRAIN_MS);
  await closed;
  clearInterval(idle);
  clearTimeout(deadline);
  await Promise.all(threads.map((thread) => thread.close()));
  store.close();
}
