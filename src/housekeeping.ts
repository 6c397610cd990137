import type { Logger } from 'pino';
import { SESSION_IDLE_MS } from './access/session-actions.js';
import { KEEP_ANSWERS_MS } from './http/idempotency.js';
import type { Plant } from './plant.js';
import type { Store } from './store/store.js';
import type { Clock } from './time.js';

const HOUSEKEEPING_EVERY_MS = 2_000;
/** Only a log that a busy writer keeps ahead of every pass of the Checkpointer grows to this. */
const RESET_ABOVE_BYTES = 32 * 1024 * 1024;
const OPTIMIZE_EVERY_MS = 60 * 60 * 1000;
/** A plant that sends nothing is to learn of a failing disk before it needs it. */
const PROVE_EVERY_MS = 30_000;
/** A clock that moved by more than this beside the time that passed was set. */
const LEAP_MS = 60_000;
/** Whoever set it wrong has so long to set it right, before anything is forgotten by it. */
const DOUBT_MS = 60 * 60 * 1000;
/** Stored answers, and sessions, removed in one sweep, so that a sweep stays short. */
const SWEEP_LIMIT = 2000;

/** Every so often, by the time that really passes, which no clock set by hand changes. */
function every(ms: number): () => boolean {
  let lastMs = performance.now();
  return () => {
    const isTime = performance.now() - lastMs >= ms;
    if (isTime) lastMs = performance.now();
    return isTime;
  };
}

/** A function, to be called often, that says whether the clock leapt lately; logs each leap. */
export function watchLeaps(clock: Clock, log: Logger): () => boolean {
  let ahead = clock() - performance.now();
  let doubtUntil = 0;
  return () => {
    const leap = clock() - performance.now() - ahead;
    ahead += leap;
    if (Math.abs(leap) > LEAP_MS) {
      doubtUntil = performance.now() + DOUBT_MS;
      log.warn({ leapSeconds: Math.round(leap / 1000) }, 'the clock was set');
    }
    return performance.now() < doubtUntil;
  };
}

interface HouseTime {
  clock: Clock;
  isInDoubt: () => boolean;
}

/** Lets the log begin anew, forgets old answers and sessions, refreshes statistics, off the hot path. */
export function keepHouse(
  store: Store<Plant>,
  { clock, isInDoubt }: HouseTime,
  log: Logger,
): () => void {
  const isTimeToOptimize = every(OPTIMIZE_EVERY_MS);
  const isTimeToProve = every(PROVE_EVERY_MS);
  const timer = setInterval(() => {
    const forgetful = !isInDoubt();
    store
      .command((plant) => {
        if (forgetful) forget(plant, clock());
      })
      .then(() => (isTimeToProve() ? store.prove() : undefined))
      .then(() => {
        if (store.logBytes() > RESET_ABOVE_BYTES) store.checkpoint();
        if (isTimeToOptimize()) store.optimize();
      })
      .catch((err: unknown) => log.error({ err }, 'housekeeping failed'));
  }, HOUSEKEEPING_EVERY_MS);
  timer.unref();
  return () => clearInterval(timer);
}

/** Answers and sessions that are old, by a clock that nobody doubts. */
function forget({ idempotency, sessions }: Plant, now: number): void {
  idempotency.dateNow(now, SWEEP_LIMIT);
  sessions.dateNow(now, SWEEP_LIMIT);
  idempotency.expire(now - KEEP_ANSWERS_MS, SWEEP_LIMIT);
  sessions.expire(now - SESSION_IDLE_MS, SWEEP_LIMIT);
}
