import type { Content } from '../http/html.js';
import { html, type Markup } from '../http/html.js';
import { iso } from '../time.js';
import type { Format } from './format.js';
import { icon } from './icons.js';

/** How an answer is told: by icon, heading and colour, and as loud as it needs to be. */
export type AnswerKind = 'accepted' | 'refused' | 'noted' | 'waiting' | 'caution';

/** An answer or a notice that stands in the page when it is made. */
export function answerOf(
  kind: AnswerKind,
  heading: Content,
  more: { id?: string; body?: Content } = {},
): Markup {
  const id = more.id === undefined ? null : html` id="${more.id}"`;
  const role = kind === 'refused' ? 'alert' : 'status';
  return html`<div class="answer ${kind}" role="${role}"${id}><p class="heading">${icon(kind)} <span class="words">${heading}</span></p>${more.body}</div>`;
}

/**
 * Where a script shows answers (scripts/lib/answer.ts): two regions that are there from the
 * beginning, since readers by ear follow only those: one that waits its turn, one that does not.
 */
export function answerPlace(label: string): Markup {
  return html`<div class="answers" aria-label="${label}" role="group"><div id="answer-calm" role="status"></div><div id="answer-urgent" role="alert"></div></div>`;
}

/** A caution where engines run or parts move. */
export function caution(title: string, text: Content): Markup {
  return html`<div class="answer caution" role="note"><p class="heading">${icon('caution')} <span class="words">${title}</span></p><p>${text}</p></div>`;
}

export interface Column<R> {
  title: string;
  /** Numbers stand right. */
  isNumber?: boolean;
  cell: (row: R) => Content;
}

/**
 * A table that scrolls in its own frame; its first column names the row.
 * @param none what stands in place of a table without rows
 */
export function tableOf<R>(
  caption: string,
  columns: readonly Column<R>[],
  rows: readonly R[],
  none: string,
): Markup {
  if (rows.length === 0) return html`<p class="soft">${none}</p>`;
  const heads = columns.map(
    ({ title, isNumber }) => html`<th scope="col"${numberClass(isNumber)}>${title}</th>`,
  );
  const lines = rows.map((row) => {
    const cells = columns.map(({ cell, isNumber }, i) =>
      i === 0
        ? html`<th scope="row">${cell(row)}</th>`
        : html`<td${numberClass(isNumber)}>${cell(row)}</td>`,
    );
    return html`<tr>${cells}</tr>\n`;
  });
  return html`<div class="scroll" tabindex="0" role="region" aria-label="${caption}"><table><caption>${caption}</caption><thead><tr>${heads}</tr></thead><tbody>
${lines}</tbody></table></div>`;
}

function numberClass(isNumber: boolean | undefined): Markup | null {
  return isNumber ? html` class="number"` : null;
}

/** Terms and what they are, side by side where there is room. */
export function factsOf(facts: readonly (readonly [term: string, value: Content])[]): Markup {
  return html`<dl class="facts">${facts.map(([term, value]) => html`<div><dt>${term}</dt><dd>${value}</dd></div>`)}</dl>`;
}

/** A field with its label, and a hint below. */
export function fieldOf(
  id: string,
  label: string,
  control: Content,
  hint?: { id: string; text: string },
): Markup {
  return html`<div class="field"><label for="${id}">${label}</label>${control}${hint === undefined ? null : html`<p class="hint" id="${hint.id}">${hint.text}</p>`}</div>`;
}

/** A choice of several; the chosen value, where there is one, is marked. */
export function optionsOf(
  options: readonly (readonly [value: string, label: string])[],
  chosen?: string,
): Markup[] {
  return options.map(
    ([value, label]) =>
      html`<option value="${value}"${value === chosen ? html` selected` : null}>${label}</option>`,
  );
}

/** An instant for reading, and exactly for programs. */
export function timeOf(format: Format, ms: number): Markup {
  return html`<time datetime="${iso(ms)}">${format.dateTime(ms)}</time>`;
}

/** A serial or motor, linked to everything known of it. */
export function serialLink(serial: string, unitClass?: string): Markup {
  const query = new URLSearchParams({ serial, ...(unitClass ? { class: unitClass } : {}) });
  return html`<a class="serial" href="/history?${query.toString()}">${serial}</a>`;
}

/**
 * A place for a chart that a script draws (scripts/lib/chart.ts), with the same as a table.
 * @param id by which the script finds it
 */
export function chartPlace(id: string, title: string, asTable: string, table: Markup): Markup {
  return html`<figure class="chart" id="${id}"><figcaption>${title}</figcaption><div class="drawing"></div><details><summary>${asTable}</summary>${table}</details></figure>`;
}
