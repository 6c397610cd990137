import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import { type Calendar, type Shift, type ShiftAt, type Slot, slotAt } from './rules.js';

/** What the event that records a calendar states. */
export interface NewCalendar extends Calendar {
  id: number;
  code: string;
  effectiveFromMs: number;
}

export interface CalendarRow extends NewCalendar {
  recordedAtMs: number;
  recordedBy: string;
}

interface StoredCalendar extends Omit<CalendarRow, 'shifts'> {
  shifts: string;
}

/** What a calendar says, as stored. */
interface CalendarText {
  timeZone: string;
  /** JSON. */
  shifts: string;
}

/** A calendar while it is asked of again and again. */
interface Remembered extends CalendarText {
  calendar: Calendar;
  /** The stretches asked for last, the newest first. */
  slots: Slot[];
}

const columns = `
  c.id,
  c.code,
  c.time_zone AS timeZone,
  c.effective_from_ms AS effectiveFromMs,
  c.shifts,
  c.recorded_at_ms AS recordedAtMs,
  k.name AS recordedBy
FROM shift_calendars c
JOIN api_keys k ON k.id = c.recorded_by`;

/** Calendars and stretches kept: runs end now, or a few shifts ago. */
const CALENDARS_REMEMBERED = 20;
const SLOTS_REMEMBERED = 8;
/** Stands for no calendar among those that are remembered. */
const NONE = 0;

const decode = (row: StoredCalendar): CalendarRow => ({
  ...row,
  shifts: JSON.parse(row.shifts) as Shift[],
});

/** Shift calendars' SQL on one connection. */
export function calendarRecords(db: Database) {
  const list = db.prepare<[number, number], StoredCalendar>(
    `SELECT ${columns} WHERE c.id > ? ORDER BY c.id LIMIT ?`,
  );
  const byId = db.prepare<[number], StoredCalendar>(`SELECT ${columns} WHERE c.id = ?`);
  // Reads the unique index on effective_from_ms.
  const inForce = db.prepare<[number], CalendarText & { id: number }>(`
    SELECT id, time_zone AS timeZone, shifts
    FROM shift_calendars
    WHERE effective_from_ms <= ?
    ORDER BY effective_from_ms DESC
    LIMIT 1`);
  const last = db.prepare<[], { effectiveFromMs: number | null }>(
    'SELECT MAX(effective_from_ms) AS effectiveFromMs FROM shift_calendars',
  );
  const add = db.prepare(`
    INSERT INTO shift_calendars
      (id, code, time_zone, effective_from_ms, shifts, recorded_at_ms, recorded_by)
    VALUES (@id, @code, @timeZone, @effectiveFromMs, @shifts, @recordedAtMs, @recordedById)`);
  const remembered = new Map<number, Remembered>();

  /** By what it says, not by its id alone: one that was undone may come again as another. */
  function remember(id: number, { timeZone, shifts }: CalendarText): Remembered {
    const known = remembered.get(id);
    if (known?.shifts === shifts && known.timeZone === timeZone) return known;
    if (remembered.size >= CALENDARS_REMEMBERED) remembered.clear();
    const calendar = { timeZone, shifts: JSON.parse(shifts) as Shift[] };
    const made = { timeZone, shifts, calendar, slots: [] };
    remembered.set(id, made);
    return made;
  }

  return {
    calendar(id: number): CalendarRow | undefined {
      const row = byId.get(id);
      return row && decode(row);
    },
    list: (afterId: number, limit: number) => list.all(afterId, limit).map(decode),
    lastEffectiveFromMs: () => last.get()?.effectiveFromMs ?? null,
    nextId: nextIdOn(db, 'shift_calendars'),
    add: (row: NewCalendar & { recordedAtMs: number; recordedById: number }) =>
      void add.run({ ...row, shifts: JSON.stringify(row.shifts) }),
    /**
     * The shift and plant day of an instant by the calendar then in force; where none is,
     * no shift, and the calendar day in the time zone given.
     */
    shiftAt(
      ms: number,
      timeZone: string,
    ): ShiftAt & { calendarId: number | null; timeZone: string } {
      const row = inForce.get(ms);
      const { calendar, slots } = remember(row?.id ?? NONE, row ?? { timeZone, shifts: '[]' });
      const { day, shift } = slotIn(slots, calendar, ms);
      return { day, shift, calendarId: row?.id ?? null, timeZone: calendar.timeZone };
    },
  };
}

/** Laying shifts on a clock takes some hundred microseconds, finding one here a fraction of one. */
function slotIn(slots: Slot[], calendar: Calendar, ms: number): Slot {
  const known = slots.find((slot) => slot.fromMs <= ms && ms < slot.untilMs);
  if (known) return known;
  const slot = slotAt(calendar, ms);
  slots.unshift(slot);
  slots.length = Math.min(slots.length, SLOTS_REMEMBERED);
  return slot;
}
