import { z } from 'zod';
import { code, instant, label, page, pageQuery, timeOf } from '../http/shapes.js';
import { iso } from '../time.js';
import type { CalendarRow } from './records.js';

/** Shifts of one calendar at most. */
const SHIFTS_LIMIT = 50;

const clock = z
  .string()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'must be a time of day, HH:MM')
  .meta({ description: 'Time of day in the plant’s time zone, HH:MM.', example: '22:00' });

const shiftShape = z
  .strictObject({
    code,
    name: label(80),
    starts: clock,
    ends: clock.meta({
      description: 'Time of day, HH:MM; at or before the start it is on the next day.',
    }),
    weekdays: z
      .array(z.int().min(1).max(7))
      .min(1)
      .max(7)
      .meta({
        description:
          'ISO 8601 days of the week on which the shift starts: 1 is Monday, 7 is Sunday.',
        example: [1, 2, 3, 4, 5],
      }),
  })
  .meta({ id: 'Shift' });

export const calendarDraft = z
  .strictObject({
    code: code.meta({ description: 'What the plant calls this pattern of shifts.' }),
    effectiveFrom: instant.optional().meta({
      description:
        'From when it is in force; now where left out. Not in the past, and after the calendar before it.',
    }),
    shifts: z.array(shiftShape).max(SHIFTS_LIMIT).meta({
      description:
        'They must not overlap; time between them is no shift. Without any, the plant works without shifts.',
    }),
  })
  .meta({ id: 'ShiftCalendarDraft' });

export const calendarShape = z
  .strictObject({
    id: z.int(),
    code: z.string(),
    timeZone: z
      .string()
      .meta({ description: 'IANA name of the plant’s time zone when it was recorded.' }),
    effectiveFrom: timeOf,
    shifts: z.array(shiftShape),
    recordedAt: timeOf,
    recordedBy: z.string(),
  })
  .meta({ id: 'ShiftCalendar' });
export const calendarPage = page(calendarShape);
export const calendarQuery = z.strictObject(pageQuery);

export const atQuery = z.strictObject({
  at: instant.optional().meta({ description: 'The instant in question; now where left out.' }),
});

export const shiftAtShape = z
  .strictObject({
    at: timeOf,
    calendar: z
      .int()
      .nullable()
      .meta({ description: 'The calendar in force then; null where there is none.' }),
    timeZone: z.string(),
    day: z.iso.date().meta({
      description:
        'The plant day: the local date on which the shift began, so what follows midnight in a night shift counts to the day before; outside any shift the calendar date.',
    }),
    shift: shiftShape.nullable().meta({ description: 'Null between shifts.' }),
  })
  .meta({ id: 'ShiftAt' });

export function presentCalendar(row: CalendarRow): z.input<typeof calendarShape> {
  return {
    id: row.id,
    code: row.code,
    timeZone: row.timeZone,
    effectiveFrom: iso(row.effectiveFromMs),
    shifts: row.shifts.map(({ weekdays, ...shift }) => ({ ...shift, weekdays: [...weekdays] })),
    recordedAt: iso(row.recordedAtMs),
    recordedBy: row.recordedBy,
  };
}
