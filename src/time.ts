import { DateTime } from 'luxon';
import { Problem } from './problems.js';

/** Milliseconds since the epoch, now. Tests and the demo bring their own. */
export type Clock = () => number;

/** A clock that was put back by no more than this stands still until it has caught up. */
export const STAND_STILL_MS = 2 * 60 * 60 * 1000;

/**
 * A clock that is put back a little does not go back: nothing is recorded before what is
 * recorded, and what was in force stays so. One that is put back further was wrong before, and
 * is believed at once: a plant cannot stand still until a year that was set by mistake has come.
 * @param recordedMs when the last event was recorded; 0 for none
 */
export function steadyClock(clock: Clock, recordedMs: number): Clock {
  let latest = recordedMs;
  return () => {
    const read = clock();
    const isPutBack = read < latest && latest - read <= STAND_STILL_MS;
    if (!isPutBack) latest = read;
    return latest;
  };
}

/** How far a caller's clock may run ahead of the server's. */
export const CLOCK_SKEW_MS = 2 * 60 * 1000;
/** How late a happening may be recorded. */
export const LATEST_RECORDING_MS = 31 * 24 * 60 * 60 * 1000;

/** What `happenedAt` may refuse a time with. */
export const timeProblems = ['time-in-future', 'time-too-old'] as const;

/** RFC 3339 in UTC with three decimals. */
export function iso(ms: number): string {
  return new Date(ms).toISOString();
}

export function isoOrNull(ms: number | null): string | null {
  return ms === null ? null : iso(ms);
}

/**
 * When something happened: the caller's time, or now where none is given. A caller's
 * clock that runs a little ahead is taken as now.
 * @throws Problem time-in-future, time-too-old
 */
export function happenedAt(now: number, occurredAt: number | undefined): number {
  if (occurredAt === undefined) return now;
  if (occurredAt > now + CLOCK_SKEW_MS) {
    throw new Problem('time-in-future', `${iso(occurredAt)} is ahead of the server’s ${iso(now)}.`);
  }
  if (occurredAt < now - LATEST_RECORDING_MS) {
    throw new Problem('time-too-old', `${iso(occurredAt)} is more than 31 days ago.`);
  }
  return Math.min(occurredAt, now);
}

/** The calendar day, `YYYY-MM-DD`, of an instant in the plant's time zone. */
export function plantDay(ms: number, timeZone: string): string {
  return DateTime.fromMillis(ms, { zone: timeZone }).toFormat('yyyy-MM-dd');
}

/** The calendar year of an instant in the plant's time zone. */
export function plantYear(ms: number, timeZone: string): number {
  return DateTime.fromMillis(ms, { zone: timeZone }).year;
}

/** The instant at which a calendar day begins in the plant's time zone. */
export function dayStart(day: string, timeZone: string): number {
  return DateTime.fromISO(day, { zone: timeZone }).startOf('day').toMillis();
}

/** The instant at which a calendar day ends, which is when the next one begins. */
export function dayEnd(day: string, timeZone: string): number {
  return DateTime.fromISO(day, { zone: timeZone }).startOf('day').plus({ days: 1 }).toMillis();
}
