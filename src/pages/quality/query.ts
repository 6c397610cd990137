import { z } from 'zod';
import { code, day, idText } from '../../http/shapes.js';
import { plantDay } from '../../time.js';
import { address } from '../../yield/rework-links.js';
import { addDays } from '../../yield/rules.js';
import type { Viewing } from '../screen.js';

/** The pages of the screen that are in its own navigation, in that order. */
export const views = [
  'yield',
  'pareto',
  'rework',
  'cells',
  'capability',
  'charts',
  'trial',
] as const;
export type ViewName = (typeof views)[number];

/** A field of a form: left empty, it is as if it were not there. */
function field<S extends z.ZodType>(schema: S) {
  const given = (value: unknown) => (value === '' ? undefined : value);
  return z.preprocess(given, schema.optional()).optional();
}

/** A day, or nothing for a window that is open on that side. */
const dayField = z
  .string()
  .refine((text) => text === '' || day.safeParse(text).success, 'must be a day such as 2026-03-02')
  .optional();

/** What any page of the screen may be asked with, so that the filter goes along from one to the next. */
export const qualityQuery = z.strictObject({
  model: field(code),
  cell: field(code),
  fromDay: dayField,
  untilDay: dayField,
  by: field(z.enum(['day', 'week', 'month'])),
  split: field(z.enum(['model', 'cell', 'configuration', 'station', 'shift'])),
  timesBy: field(z.enum(['model', 'cell', 'characteristic'])),
  curesOf: field(z.enum(['characteristic', 'cause'])),
  characteristic: field(code),
  runs: field(z.enum(['first', 'all'])),
  subgroup: field(z.string().regex(/^\d{1,4}$/, 'must be a whole number')),
  specification: field(idText),
  unmeasured: field(z.enum(['apart', 'ignored'])),
  state: field(z.enum(['active', 'retired'])),
  of: field(
    z
      .string()
      .max(8000)
      .regex(/^\/v1\//, 'must be an address of this interface that begins with /v1/'),
  ),
  run: field(
    z
      .string()
      .max(14_000)
      .regex(/^\d{1,9}(,\d{1,9})*$/, 'must be numbers of runs with commas between them'),
  ),
  behind: field(z.string().regex(/^\d{1,4}$/, 'must be a whole number')),
});
export type QualityQuery = z.output<typeof qualityQuery>;

/** What of the filter goes along from page to page. */
export interface Scope {
  model: string | null;
  cell: string | null;
  /** Null where the window is open. */
  fromDay: string | null;
  untilDay: string | null;
}

/** The last four weeks are shown unless others are asked for. */
const USUAL_DAYS = 28;

/** The filter of a query, with the usual window where it names none. */
export function scopeOf(query: QualityQuery, { now, settings }: Viewing): Scope {
  const today = plantDay(now, settings.timeZone);
  const { model = null, cell = null } = query;
  const { fromDay = addDays(today, 1 - USUAL_DAYS), untilDay = today } = query;
  return { model, cell, fromDay: fromDay || null, untilDay: untilDay || null };
}

/** The address of a page of the screen with its filter; an open window is stated as such. */
export function pageAddress(view: ViewName, { model, cell, fromDay, untilDay }: Scope, more = {}) {
  const days = { fromDay: fromDay ?? '', untilDay: untilDay ?? '' };
  return address(pathOf(view), { model, cell, ...days, ...more });
}

export function pathOf(view: ViewName): string {
  return view === 'yield' ? '/quality' : `/quality/${view}`;
}

/**
 * Where runs are listed with their motors.
 * @param behind how many of them come before the page
 */
export function runsAddress(runs: readonly number[], behind = 0): string {
  const listed = `/quality/runs?run=${runs.join(',')}`;
  return behind === 0 ? listed : `${listed}&behind=${behind}`;
}

/** A question that the page's script puts to the interface, and the panel that shows its answer. */
export interface Asked {
  /** The panel's id. */
  id: string;
  /** How the answer is shown: see scripts/quality/. */
  show: string;
  address: string;
  /** Where the same is to be had as CSV, where it is. */
  csv?: string;
  /** What to say where the answer has no rows. */
  none?: string;
  [more: string]: unknown;
}

/** A question whose answer is a table, so to be had as CSV at the same address. */
export function askedTable(id: string, show: string, path: string, query = {}): Asked {
  const at = address(path, query);
  return { id, show, address: at, csv: at };
}
