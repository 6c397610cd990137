import { DateTime } from 'luxon';
import { html, type Markup } from '../../http/html.js';
import type { Attributes } from '../../http/shapes.js';
import { fieldOf } from '../parts.js';
import type { Viewing } from '../screen.js';

/** The way back to the whole catalogue, and to a model where the page is about one. */
export function wayBack({ words: { catalogue: words } }: Viewing, model?: string): Markup {
  const toModel =
    model === undefined
      ? null
      : html`<li><a href="${modelAddress(model)}">${words.modelTitle(model)}</a></li>`;
  return html`<nav class="way" aria-label="${words.back}"><ul><li><a href="/catalogue">${words.back}</a></li>${toModel}</ul></nav>`;
}

export function modelAddress(code: string): string {
  return `/catalogue/models/${encodeURIComponent(code)}`;
}

/** Attributes a line each. */
export function attributesOf(
  { words: { catalogue: words } }: Viewing,
  attributes: Attributes,
): Markup | null {
  const lines = Object.entries(attributes).map(
    ([name, value]) => html`<li>${words.attribute(name, value)}</li>`,
  );
  return lines.length === 0 ? null : html`<ul class="plain">${lines}</ul>`;
}

/** Attributes as the form takes them. */
export function attributesText(attributes: Attributes): string {
  return Object.entries(attributes)
    .map(([name, value]) => `${name}: ${value}`)
    .join('\n');
}

export function attributesField(id: string, viewing: Viewing, attributes: Attributes): Markup {
  const words = viewing.words.catalogue;
  return fieldOf(
    id,
    words.attributes,
    html`<textarea id="${id}" name="attributes" rows="3" data-pointer="/attributes" aria-describedby="${id}-hint">${attributesText(attributes)}</textarea>`,
    { id: `${id}-hint`, text: words.attributesHint },
  );
}

/** From when on, as a date and time of the plant's time zone. */
export function effectiveField(
  id: string,
  { words: { catalogue: words }, settings }: Viewing,
  effectiveFromMs: number | null,
  label = words.effectiveFrom,
): Markup {
  const value =
    effectiveFromMs === null
      ? ''
      : DateTime.fromMillis(effectiveFromMs, { zone: settings.timeZone }).toFormat(
          "yyyy-MM-dd'T'HH:mm",
        );
  return fieldOf(
    id,
    label,
    html`<input type="datetime-local" id="${id}" name="effectiveFrom" value="${value}" data-pointer="/effectiveFrom" aria-describedby="${id}-hint">`,
    { id: `${id}-hint`, text: words.effectiveHint },
  );
}

/** A text field whose faults the script shows: `pointer` is its member's in the body. */
export function textField(
  id: string,
  name: string,
  label: string,
  value: string | null,
  more: {
    hint?: string;
    list?: string;
    isFixed?: boolean;
    isNeeded?: boolean;
    mode?: 'decimal';
  } = {},
): Markup {
  const { hint, list, isFixed, isNeeded, mode } = more;
  const hintId = `${id}-hint`;
  const control = html`<input id="${id}" name="${name}" value="${value}" autocomplete="off" spellcheck="false" maxlength="80" data-pointer="/${name}"${list === undefined ? null : html` list="${list}"`}${isFixed ? html` readonly` : null}${isNeeded ? html` required` : null}${mode === undefined ? null : html` inputmode="${mode}"`}${hint === undefined ? null : html` aria-describedby="${hintId}"`}>`;
  return fieldOf(id, label, control, hint === undefined ? undefined : { id: hintId, text: hint });
}
