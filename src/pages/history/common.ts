import type { z } from 'zod';
import type { historyShape } from '../../genealogy/schema.js';
import { html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { symbolOf } from '../../report/words.js';
import { nameOfClass } from '../../units/rules.js';
import type { Format } from '../format.js';
import { timeOf } from '../parts.js';
import type { Viewing } from '../screen.js';

export type History = z.input<typeof historyShape>;
export type Run = History['runs'][number];
export type Judgement = Run['judgements'][number];
export type Node = History['tree'][number];

/** A history with what the page needs to say about it. */
export interface Found {
  plant: Plant;
  history: History;
  /** The moment that is looked at; undefined for now. */
  asOfMs: number | undefined;
  viewing: Viewing;
  /** What the plant calls a class. */
  classTitle: (unitClass: string) => string;
}

/** Names of unit classes as the plant's catalogue has them. */
export function classTitles(plant: Plant): (unitClass: string) => string {
  const names = new Map(plant.catalogue.classes().map(({ code, name }) => [code, name]));
  return (unitClass) => {
    const name = names.get(unitClass) ?? nameOfClass(unitClass);
    return name.charAt(0).toUpperCase() + name.slice(1);
  };
}

/** The address of a serial's history, now or as of a moment. */
export function historyAddress(
  { class: unitClass, serial }: { class: string; serial: string },
  asOf?: string | null,
): string {
  const query = new URLSearchParams({ serial, class: unitClass, ...(asOf ? { asOf } : {}) });
  return `/history?${query}`;
}

/** The history of another unit, at the same moment. */
export function linkTo(
  { viewing, asOfMs }: Pick<Found, 'viewing' | 'asOfMs'>,
  unit: { class: string; serial: string },
): Markup {
  const asOf = asOfMs === undefined ? null : new Date(asOfMs).toISOString();
  const title = viewing.words.history.titleOf(unit.class, unit.serial);
  return html`<a class="serial" href="${historyAddress(unit, asOf)}" title="${title}">${unit.serial}</a>`;
}

/** An instant of an answer for reading; nothing where there is none. */
export function whenOf(format: Format, instant: string | null): Markup | null {
  return instant === null ? null : timeOf(format, Date.parse(instant));
}

/** A number with the symbol of its unit, which does not go to the next line alone. */
export function quantity(
  format: Format,
  value: number,
  unit: string | null,
  decimals?: number,
): string {
  const symbol = symbolOf(unit);
  const text = format.number(value, decimals);
  if (symbol === '' || symbol === '1') return text;
  return symbol === '°' ? `${text}°` : `${text}\u00a0${symbol}`;
}

/** Two limits in words; nothing where there are none. */
export function rangeOf(
  { words: { history: words }, format }: Viewing,
  lower: number | null,
  upper: number | null,
  unit: string | null,
): string | null {
  if (lower !== null && upper !== null) {
    return words.between(format.number(lower), quantity(format, upper, unit));
  }
  if (lower !== null) return words.atLeast(quantity(format, lower, unit));
  return upper === null ? null : words.atMost(quantity(format, upper, unit));
}
