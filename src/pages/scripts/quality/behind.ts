import { type Child, element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import type { Panel } from './panel.js';
import { behind, type Column, motorsOf, tableOf } from './table.js';

const own = words.quality;

type Row = Record<string, unknown>;
interface Listed {
  items?: Row[];
  next?: string | null;
}

/** A table of the interface as it comes, with each motor leading to its history. */
export function showBehind({ items = [], next }: Listed, panel: Panel): void {
  const [first] = items;
  if (!first) return;
  const columns = orderedMembers(first)
    .filter((name) => items.some((row) => !isEmpty(row[name]) && !isPlainLink(name, row[name])))
    .map(
      (name): Column<Row> => ({
        title: (own.columns as Record<string, string>)[name] ?? spaced(name),
        isNumber: items.every((row) => typeof row[name] === 'number' || row[name] === null),
        cell: (row) => cellOf(name, row[name], row),
      }),
    );
  panel.table(tableOf(own.behind.listed, columns, items));
  const isLater = /[?&]after=/.test(panel.asked.address);
  if (isLater)
    panel.say(
      element('p', {}, element('a', { href: firstPage(panel.asked.address) }, own.behind.first)),
    );
  if (next) {
    const href = `/quality/behind?of=${encodeURIComponent(next)}`;
    panel.table(
      element('p', {}, element('a', { href, class: 'action', id: 'next-page' }, own.behind.more)),
    );
  }
}

/** The motor first, whatever the order of the members: it names the row. */
function orderedMembers(row: Row): string[] {
  const names = Object.keys(row);
  const head = names.find((name) => name === 'motor' || name === 'serial');
  return head === undefined ? names : [head, ...names.filter((name) => name !== head)];
}

function isEmpty(value: unknown): boolean {
  return value === null || value === undefined || (Array.isArray(value) && value.length === 0);
}

/** A link to a motor's history or to one run says no more than the motor beside it. */
function isPlainLink(name: string, value: unknown): boolean {
  return name === 'link' && typeof value === 'string' && /^\/v1\/(history|runs)\b/.test(value);
}

function cellOf(name: string, value: unknown, row: Row): Child {
  if (value === null || value === undefined) return '–';
  if (name === 'motor' || name === 'serial' || (name === 'unit' && row.class !== undefined))
    return serialOf(String(value), name, row);
  if (name === 'link')
    return element('a', { href: behind(String(value)) ?? '' }, own.behind.behind);
  if (name === 'runs' && Array.isArray(value)) {
    return value.length === 0
      ? '–'
      : element('a', { href: motorsOf(value as number[]) }, own.behind.theseRuns(value.length));
  }
  if (typeof value === 'string' && (instant.test(value) || day.test(value))) {
    return element('time', { datetime: value }, textOf(value));
  }
  return textOf(value);
}

function serialOf(serial: string, name: string, row: Row): Child {
  const unitClass = name === 'unit' ? String(row.class ?? '') : 'motor';
  const query = new URLSearchParams({ serial, ...(unitClass ? { class: unitClass } : {}) });
  return element('a', { href: `/history?${query}`, class: 'serial' }, serial);
}

const instant = /^\d{4}-\d\d-\d\dT[\d:.]+Z$/;
const day = /^\d{4}-\d\d-\d\d$/;

function textOf(value: unknown): string {
  if (value === null || value === undefined) return '–';
  if (typeof value === 'boolean') return value ? own.yes : own.no;
  if (typeof value === 'number') return format.number(value);
  if (typeof value === 'string') {
    if (instant.test(value)) return format.dateTime(Date.parse(value));
    return day.test(value) ? format.calendarDay(value) : value;
  }
  if (Array.isArray(value)) return value.map(textOf).join(', ');
  const { code, reason } = value as { code?: unknown; reason?: unknown };
  if (code !== undefined) return reason === undefined ? String(code) : `${code}: ${reason}`;
  return Object.entries(value as object)
    .map(([name, one]) => `${spaced(name)} ${textOf(one)}`)
    .join(', ');
}

function spaced(name: string): string {
  return name.replaceAll(/([A-Z])/g, ' $1').toLowerCase();
}

function firstPage(address: string): string {
  const at = new URL(address, location.origin);
  at.searchParams.delete('after');
  return `/quality/behind?of=${encodeURIComponent(at.pathname + at.search)}`;
}
