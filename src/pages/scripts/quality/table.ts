import { type Child, element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';

const own = words.quality;

export interface Column<R> {
  title: string;
  isNumber?: boolean;
  cell: (row: R) => Child | readonly Child[];
}

/** A table as the service makes them: it scrolls in its own frame, its first column names the row. */
export function tableOf<R>(
  caption: string,
  columns: readonly Column<R>[],
  rows: readonly R[],
): HTMLElement {
  if (rows.length === 0) return element('p', { class: 'soft' }, own.nothing);
  const heads = columns.map(({ title, isNumber }) =>
    element('th', { scope: 'col', class: isNumber ? 'number' : '' }, title),
  );
  const lines = rows.map((row) =>
    element('tr', {}, ...columns.map((column, i) => cellOf(column, row, i === 0))),
  );
  const table = element(
    'table',
    {},
    element('caption', {}, caption),
    element('thead', {}, element('tr', {}, ...heads)),
    element('tbody', {}, ...lines),
  );
  return element(
    'div',
    { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': caption },
    table,
  );
}

function cellOf<R>({ cell, isNumber }: Column<R>, row: R, isHead: boolean): HTMLElement {
  const content = cell(row);
  const children = Array.isArray(content) ? (content as Child[]) : [content as Child];
  if (isHead) return element('th', { scope: 'row' }, ...children);
  return element('td', { class: isNumber ? 'number' : '' }, ...children);
}

/** A number of the table; a dash where there is none, so that no cell looks forgotten. */
export function figure(value: number | null | undefined, decimals?: number): string {
  return value === null || value === undefined ? '–' : format.number(value, decimals);
}

export function percent(value: number | null | undefined, decimals = 1): string {
  return value === null || value === undefined ? '–' : format.percent(value, decimals);
}

export function interval(
  lower: number | null,
  upper: number | null,
  show: (value: number) => string = percent,
): string {
  return lower === null || upper === null ? '–' : own.interval(show(lower), show(upper));
}

/** Where the motors behind a figure are: the history of one, or the page of their list. */
export function behind(link: string | null | undefined): string | undefined {
  if (link === null || link === undefined) return undefined;
  const { pathname, search } = new URL(link, location.origin);
  if (pathname === '/v1/history') return `/history${search}`;
  return `/quality/behind?of=${encodeURIComponent(link)}`;
}

/** Where the motors of runs are. */
export function motorsOf(runs: readonly number[]): string {
  return `/quality/runs?run=${runs.slice(0, 1000).join(',')}`;
}

/** A figure that leads to the motors behind it; plain where there are none. */
export function linked(text: string | number, link: string | null | undefined): Child {
  const href = behind(link);
  const shown = typeof text === 'number' ? format.number(text) : text;
  return href === undefined ? shown : element('a', { href }, shown);
}
