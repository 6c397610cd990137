import { IANAZone } from 'luxon';

/** One shift of the week, in the plant's local time. */
export interface Shift {
  code: string;
  name: string;
  /** `HH:MM`. */
  starts: string;
  /** `HH:MM`; at or before the start it is on the next day. */
  ends: string;
  /** ISO 8601 days of the week on which it starts: 1 is Monday, 7 is Sunday. */
  weekdays: readonly number[];
}

/** The shifts of a week in a time zone; without any, days are plain calendar days. */
export interface Calendar {
  /** IANA name. */
  timeZone: string;
  shifts: readonly Shift[];
}

/** The shift that an instant lies in, and the plant day that it counts on. */
export interface ShiftAt {
  /** `YYYY-MM-DD`: the local date on which the shift began, else the calendar date. */
  day: string;
  /** Null between shifts. */
  shift: Shift | null;
}

/** A stretch of time with one answer, from its first instant to before its last. */
export interface Slot extends ShiftAt {
  fromMs: number;
  untilMs: number;
}

const MINUTE_MS = 60_000;
const MINUTES_A_DAY = 24 * 60;
const DAY_MS = MINUTES_A_DAY * MINUTE_MS;
const MINUTES_A_WEEK = 7 * MINUTES_A_DAY;
const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'];

/**
 * Which shift and plant day an instant lies in.
 *
 * Method: shifts are laid on the local clock and turned into instants; see `slotAt`.
 * @throws RangeError where the time zone is not known.
 */
export function shiftAt(calendar: Calendar, ms: number): ShiftAt {
  const { day, shift } = slotAt(calendar, ms);
  return { day, shift };
}

/**
 * The stretch around an instant in which `shiftAt` answers the same: it ends with the
 * shift, and between shifts also at midnight.
 *
 * A local time stands for the first instant at which the clock shows it or is past it. So
 * one that the clock skips in spring is the instant of the change, one that it shows twice
 * in autumn is the first; a shift over the change is an hour shorter or longer, and shifts
 * that do not overlap on the clock never overlap in time.
 * @throws RangeError where the time zone is not known.
 */
export function slotAt(calendar: Calendar, ms: number): Slot {
  const zone = IANAZone.create(calendar.timeZone);
  if (!zone.isValid) throw new RangeError(`${calendar.timeZone} is not an IANA time zone`);
  const today = dateAt(zone, ms);
  const midnights = [instantOf(zone, today, 0), instantOf(zone, today + 1, 0)];
  const shifts = [today - 1, today, today + 1].flatMap((date) => begunOn(calendar, zone, date));
  const current = shifts.find((one) => one.fromMs <= ms && ms < one.untilMs);
  if (current) return current;
  const bounds = [...midnights, ...shifts.flatMap((one) => [one.fromMs, one.untilMs])];
  return {
    fromMs: Math.max(...bounds.filter((bound) => bound <= ms)),
    untilMs: Math.min(...bounds.filter((bound) => bound > ms)),
    day: dayOf(today),
    shift: null,
  };
}

/** Days since 1 January 1970 of the local date; a date that has begun does not end twice. */
function dateAt(zone: IANAZone, ms: number): number {
  const shown = Math.floor((ms + offsetAt(zone, ms)) / DAY_MS);
  return instantOf(zone, shown + 1, 0) <= ms ? shown + 1 : shown;
}

function dayOf(date: number): string {
  return new Date(date * DAY_MS).toISOString().slice(0, 10);
}

/** 1 is Monday; 1 January 1970 was a Thursday. */
function weekdayOf(date: number): number {
  return ((((date + 3) % 7) + 7) % 7) + 1;
}

/** The shifts that start on a local date. */
function begunOn({ shifts }: Calendar, zone: IANAZone, date: number): Slot[] {
  const weekday = weekdayOf(date);
  return shifts
    .filter((shift) => shift.weekdays.includes(weekday))
    .map((shift) => {
      const start = minuteOf(shift.starts);
      return {
        fromMs: instantOf(zone, date, start),
        untilMs: instantOf(zone, date, start + lengthOf(shift)),
        day: dayOf(date),
        shift,
      };
    });
}

function minuteOf(clock: string): number {
  const [hours = 0, minutes = 0] = clock.split(':').map(Number);
  return hours * 60 + minutes;
}

/** Minutes on the clock from a shift's start to its end: 1 to 1440. */
function lengthOf({ starts, ends }: Shift): number {
  const minutes = minuteOf(ends) - minuteOf(starts);
  return minutes > 0 ? minutes : minutes + MINUTES_A_DAY;
}

function offsetAt(zone: IANAZone, ms: number): number {
  return zone.offset(ms) * MINUTE_MS;
}

/** The first instant at which the local clock shows a minute of a date, or is past it. */
function instantOf(zone: IANAZone, date: number, minute: number): number {
  const shown = date * DAY_MS + minute * MINUTE_MS;
  const before = offsetAt(zone, shown - DAY_MS);
  const after = offsetAt(zone, shown + DAY_MS);
  if (before === after) return shown - before;
  const [early, late] = [shown - Math.max(before, after), shown - Math.min(before, after)];
  const showing = [early, late].find((ms) => ms + offsetAt(zone, ms) === shown);
  return showing ?? changeBetween(zone, early, late);
}

/** The instant at which the offset changes; it does so once between the two. */
function changeBetween(zone: IANAZone, beforeMs: number, afterMs: number): number {
  let [low, high] = [beforeMs, afterMs];
  const old = offsetAt(zone, low);
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (offsetAt(zone, middle) === old) low = middle;
    else high = middle;
  }
  return high;
}

/** A reason why shifts cannot be a calendar; `index` and `field` say where. */
export interface ShiftFault {
  index: number;
  field: 'code' | 'starts' | 'weekdays';
  detail: string;
}

/** What runs outside any shift are counted under, so no shift may be called so. */
export const NO_SHIFT = 'none';

/** Every reason why shifts cannot be one calendar: codes used twice, and shifts that overlap. */
export function shiftFaults(shifts: readonly Shift[]): ShiftFault[] {
  return shifts.flatMap((shift, index) => {
    const earlier = shifts.slice(0, index);
    const faults: ShiftFault[] = [];
    if (shift.code === NO_SHIFT) {
      const detail = `${NO_SHIFT} stands for time outside any shift: choose another code`;
      faults.push({ index, field: 'code', detail });
    }
    if (earlier.some((one) => one.code === shift.code)) {
      faults.push({ index, field: 'code', detail: `${shift.code} is used above already` });
    }
    if (new Set(shift.weekdays).size < shift.weekdays.length) {
      faults.push({ index, field: 'weekdays', detail: 'a day of the week is named twice' });
    }
    for (const one of earlier) {
      const at = overlapOf(one, shift);
      if (at === undefined) continue;
      const detail = `${shift.code} overlaps ${one.code} on ${at}: end one before the other starts`;
      faults.push({ index, field: 'starts', detail });
    }
    return faults;
  });
}

/** When in the week two shifts first run at once, such as `Monday at 22:00`. */
function overlapOf(a: Shift, b: Shift): string | undefined {
  for (const [startA, endA] of weekOf(a)) {
    for (const [startB, endB] of weekOf(b)) {
      // The week goes round: Sunday's night shift ends on Monday.
      for (const turn of [-MINUTES_A_WEEK, 0, MINUTES_A_WEEK]) {
        const start = Math.max(startA, startB + turn);
        if (start < Math.min(endA, endB + turn)) return momentOf(start);
      }
    }
  }
  return undefined;
}

/** Minutes of the week from which to before which a shift runs. */
function weekOf(shift: Shift): [number, number][] {
  return shift.weekdays.map((weekday) => {
    const start = (weekday - 1) * MINUTES_A_DAY + minuteOf(shift.starts);
    return [start, start + lengthOf(shift)];
  });
}

function momentOf(minuteOfWeek: number): string {
  const minute = ((minuteOfWeek % MINUTES_A_WEEK) + MINUTES_A_WEEK) % MINUTES_A_WEEK;
  const clock = new Date((minute % MINUTES_A_DAY) * MINUTE_MS).toISOString().slice(11, 16);
  return `${WEEKDAYS[Math.floor(minute / MINUTES_A_DAY)]} at ${clock}`;
}
