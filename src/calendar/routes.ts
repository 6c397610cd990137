import { pageById } from '../http/cursor.js';
import { command, question, type Route, table } from '../http/route.js';
import { iso } from '../time.js';
import { recordCalendar } from './actions.js';
import {
  atQuery,
  calendarDraft,
  calendarPage,
  calendarQuery,
  calendarShape,
  presentCalendar,
  shiftAtShape,
} from './schema.js';

const tag = 'Shift calendars';

export const calendarRoutes: readonly Route[] = [
  command({
    path: '/v1/shift-calendars',
    tag,
    summary: 'Record the shift calendar that is in force from a moment on',
    description:
      'It supersedes the one before it and is never edited; runs that were counted stay counted as they were.',
    roles: ['configuration', 'admin'],
    body: calendarDraft,
    answer: calendarShape,
    problems: ['shift-calendar-faulty', 'effective-date-past'],
    act: (context, { body }) => ({ body: presentCalendar(recordCalendar(context, body)) }),
  }),
  table({
    path: '/v1/shift-calendars',
    tag,
    summary: 'Shift calendars, in the order in which they take effect',
    query: calendarQuery,
    item: calendarShape,
    answer: calendarPage,
    ask: (plant, { query }) => pageById(query, plant.calendar.list, presentCalendar),
  }),
  question({
    path: '/v1/shift-calendars/at',
    tag,
    summary: 'Which shift and plant day an instant lies in',
    query: atQuery,
    answer: shiftAtShape,
    ask: (plant, { query }, { now, settings }) => {
      const at = query.at ?? now;
      const { calendarId, timeZone, day, shift } = plant.calendar.shiftAt(at, settings.timeZone);
      return {
        at: iso(at),
        calendar: calendarId,
        timeZone,
        day,
        shift: shift && { ...shift, weekdays: [...shift.weekdays] },
      };
    },
  }),
];
