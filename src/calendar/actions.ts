import type { z } from 'zod';
import { earliestEffect } from '../catalogue/rules.js';
import type { Command } from '../command.js';
import { Problem } from '../problems.js';
import { iso } from '../time.js';
import type { CalendarRow } from './records.js';
import { shiftFaults } from './rules.js';
import type { calendarDraft } from './schema.js';

/**
 * Records the shift calendar that is in force from a moment on. None is ever edited: the
 * next one supersedes it, so what was counted by it stays as it was.
 */
export function recordCalendar(
  command: Command,
  draft: z.output<typeof calendarDraft>,
): CalendarRow {
  const { plant, now, settings } = command;
  const faults = shiftFaults(draft.shifts);
  if (faults.length > 0) {
    throw new Problem('shift-calendar-faulty', `${faults[0]?.detail}.`, {
      errors: faults.map(({ index, field, detail }) => ({
        pointer: `/shifts/${index}/${field}`,
        detail,
      })),
    });
  }
  const earliest = earliestEffect(now, plant.calendar.lastEffectiveFromMs());
  const effectiveFromMs = draft.effectiveFrom ?? earliest;
  if (effectiveFromMs < earliest) {
    throw new Problem(
      'effective-date-past',
      `It can take effect from ${iso(earliest)} on, not from ${iso(effectiveFromMs)}.`,
      { earliest: iso(earliest) },
    );
  }
  const id = plant.calendar.nextId();
  const { code, shifts } = draft;
  const { timeZone } = settings;
  command.record('shift-calendar.recorded', { id, code, timeZone, effectiveFromMs, shifts });
  const row = plant.calendar.calendar(id);
  if (!row) throw new Error(`shift calendar ${id} was not recorded`);
  return row;
}
