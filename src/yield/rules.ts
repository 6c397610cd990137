/** What yields are told apart by. */
export type Dimension = 'model' | 'configuration' | 'cell' | 'station' | 'shift';

/** Each dimension's bits in a grouping; a configuration is of one model, so it has that one's too. */
export const DIMENSION_BITS: Readonly<Record<Dimension, number>> = Object.freeze({
  model: 1,
  configuration: 3,
  cell: 4,
  station: 8,
  shift: 16,
});

/** The groupings that are kept, those of fewer rows first: see migrations/0005_yield.sql. */
export const GROUPINGS: readonly number[] = Object.freeze([0, 1, 3, 16, 8, 4, 31]);
/** The grouping that tells every dimension apart. */
export const FULL_CUBE = 31;

/** Whether a grouping tells a dimension apart. */
export function tells(grouping: number, dimension: Dimension): boolean {
  return (DIMENSION_BITS[dimension] & ~grouping) === 0;
}

/** The smallest grouping that tells these dimensions apart. */
export function groupingFor(dimensions: readonly Dimension[]): number {
  const tellsAll = (grouping: number) => dimensions.every((one) => tells(grouping, one));
  return GROUPINGS.find(tellsAll) ?? FULL_CUBE;
}

/** Days as asked for, `YYYY-MM-DD`; null where the window is open. The last is counted too. */
export interface Days {
  fromDay: string | null;
  untilDay: string | null;
}

export const GRAIN = Object.freeze({ day: 0, month: 1 });

/** Periods of one grain, from the first to before the last, as text is ordered. */
export type PeriodRange = readonly [grain: number, from: string, before: string];

const FIRST_DAY = '0000-01-01';
const LAST_DAY = '9999-12-31';
/** Behind a day or month it makes a text just after it, and after all days of that month. */
const AFTER = '~';

/** A window of days, read day by day. */
export function dayRange({ fromDay, untilDay }: Days): PeriodRange {
  return [GRAIN.day, fromDay ?? FIRST_DAY, (untilDay ?? LAST_DAY) + AFTER];
}

/** What of a window lies behind a day. */
export function dayRangeAfter(days: Days, day: string): PeriodRange {
  const [grain, from, before] = dayRange(days);
  return [grain, from > day ? from : day + AFTER, before];
}

/** The same window, of which whole months are read as such and the days before and after them. */
export function mixedRanges(days: Days): PeriodRange[] {
  const from = days.fromDay ?? FIRST_DAY;
  const until = days.untilDay ?? LAST_DAY;
  const wholeFirst = from.endsWith('-01');
  const wholeLast = until === lastDayOf(until);
  const [first, last] = [monthOf(from), monthOf(until)];
  if (from > until) return [];
  if (first === last && !(wholeFirst && wholeLast)) return [dayRange(days)];
  const ranges: PeriodRange[] = [
    [GRAIN.month, wholeFirst ? first : first + AFTER, wholeLast ? last + AFTER : last],
  ];
  if (!wholeFirst) ranges.push([GRAIN.day, from, first + AFTER]);
  if (!wholeLast) ranges.push([GRAIN.day, last, until + AFTER]);
  return ranges;
}

/** `YYYY-MM` of a day. */
export function monthOf(day: string): string {
  return day.slice(0, 7);
}

const DAY_MS = 24 * 60 * 60 * 1000;

/** The last day of a day's month. */
export function lastDayOf(day: string): string {
  const [year = 0, month = 0] = day.split('-').map(Number);
  const last = new Date(0);
  // Date.UTC would take the years 0 to 99 for those of another century.
  last.setUTCFullYear(year, month, 0);
  return last.toISOString().slice(0, 10);
}

/** The day so many days later, or earlier. */
export function addDays(day: string, days: number): string {
  return new Date(Date.parse(day) + days * DAY_MS).toISOString().slice(0, 10);
}

/** 1 is Monday, 7 is Sunday (ISO 8601). */
function weekdayOf(day: string): number {
  return new Date(day).getUTCDay() || 7;
}

/** The Monday of a day's week. */
export function mondayOf(day: string): string {
  return addDays(day, 1 - weekdayOf(day));
}

/**
 * The week of a day as ISO 8601 writes it, such as `2026-W48`. It belongs to the year of
 * its Thursday, so 1 January may lie in the last week of the year before.
 */
export function isoWeek(day: string): string {
  const thursday = addDays(mondayOf(day), 3);
  const year = thursday.slice(0, 4);
  const days = (Date.parse(thursday) - Date.parse(`${year}-01-01`)) / DAY_MS;
  return `${year}-W${String(Math.floor(days / 7) + 1).padStart(2, '0')}`;
}

/** Days that are read beside the scans, in a few milliseconds; longer windows go to a worker. */
const SHORT_DAYS = 100;

/** Whether a window is too long to be read day by day, or key by key, beside the scans. */
export function isLong({ fromDay, untilDay }: Days): boolean {
  if (fromDay === null || untilDay === null) return true;
  return Date.parse(untilDay) - Date.parse(fromDay) > SHORT_DAYS * DAY_MS;
}
