import type { Applier } from '../journal/applier.js';
import type { NewCalendar } from './records.js';

const recorded: Applier<NewCalendar> = ({ calendar }, row, e) =>
  calendar.add({ ...row, recordedAtMs: e.recordedAtMs, recordedById: e.keyId });

export const calendarEvents = { 'shift-calendar.recorded': recorded };
