import { type Content, html, Markup } from '../http/html.js';

export interface Column<T> {
  label: string;
  cell: (row: T) => Content;
  /** A class of the style for its cells, such as `number`. */
  look?: string;
}

interface Table<T> {
  caption: Content;
  /** The first one names the row. */
  columns: readonly Column<T>[];
  rows: readonly T[];
  /** What stands there when there are no rows. */
  none: string;
}

/**
 * A table with its caption, or a sentence where it would be empty. The roles are said
 * again because a narrow screen shows a row as a block, and a browser may then forget
 * that it is a table.
 */
export function tableOf<T>({ caption, columns, rows, none }: Table<T>): Markup {
  if (rows.length === 0) return html`<p class="none">${none}</p>`;
  const heads = columns.map(
    ({ label, look }) => html`<th role="columnheader" scope="col" class="${look}">${label}</th>`,
  );
  return html`<table role="table">
<caption>${caption}</caption>
<thead role="rowgroup"><tr role="row">${heads}</tr></thead>
<tbody role="rowgroup">
${rows.map((row) => rowOf(columns, row))}</tbody>
</table>
`;
}

/** A word that has to break somewhere, or it would push a column off the sheet. */
const longWord = /[^\s]{19}/;

function lookOf(content: Content, look: string | undefined): string {
  const text = content instanceof Markup ? content.text.replaceAll(/<[^<>]*>/g, ' ') : content;
  const long = typeof text === 'string' && longWord.test(text) ? 'long' : '';
  return [look, long].join(' ').trim();
}

function rowOf<T>(columns: readonly Column<T>[], row: T): Markup {
  const cells = columns.map(({ label, cell, look }, i) => {
    const content = cell(row);
    const own = lookOf(content, look);
    return i === 0
      ? html`<th role="rowheader" scope="row" class="${own}" data-label="${label}"><div>${content}</div></th>`
      : html`<td role="cell" class="${own}" data-label="${label}"><div>${content}</div></td>`;
  });
  return html`<tr role="row">${cells}</tr>
`;
}

/** Pairs of a term and what it is; a pair without a value is left out. */
export function pairsOf(pairs: readonly (readonly [string, Content])[]): Markup {
  const known = pairs.filter(([, value]) => value !== null && value !== undefined && value !== '');
  return html`<dl>${known.map(([term, value]) => html`<div><dt>${term}</dt><dd>${value}</dd></div>`)}</dl>
`;
}
