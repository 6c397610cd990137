import { DateTime } from 'luxon';
import { html, type Markup } from '../http/html.js';
import { unitByCode } from '../measurement/units.js';

/** An instant as a date and a time of day in the plant's time zone, with its offset. */
export type ShowTime = (at: string | null) => Markup | null;

export function timesIn(timeZone: string): ShowTime {
  return (at) => {
    if (at === null) return null;
    const then = DateTime.fromISO(at, { zone: timeZone });
    const [day, clock] = [then.toFormat('yyyy-MM-dd'), then.toFormat('HH:mm:ss ZZ')];
    return html`<time datetime="${at}"><span class="whole">${day}</span> <span class="whole">${clock}</span></time>`;
  };
}

/** How a report says what depends on the plant. */
export interface Words {
  time: ShowTime;
  /** What the plant's catalogue calls a class. */
  classTitle: (unitClass: string) => string;
}

/** Text with a capital, for the beginning of a line. */
export function withCapital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** The name of an attribute as a person reads it: `shaftLength` is Shaft length. */
export function attributeTitle(name: string): string {
  const words = name.replaceAll(/([a-z0-9])([A-Z])/g, (_, end: string, start: string) => {
    return `${end} ${start.toLowerCase()}`;
  });
  return withCapital(words.replaceAll(/[-_]/g, ' '));
}

/**
 * A quantity whose unit does not go to the next line without its number; only the degree
 * of an angle stands right behind it (SI Brochure 5.4.3).
 */
export function quantityText(value: number | string, unit: string | null): string {
  const symbol = symbolOf(unit);
  if (symbol === '') return String(value);
  return symbol === '°' ? `${value}°` : `${value}\u00a0${symbol}`;
}

/** What people read for a UCUM code. */
export function symbolOf(unit: string | null): string {
  return unit === null ? '' : (unitByCode(unit)?.symbol ?? unit);
}

interface Range {
  lower: number | null;
  upper: number | null;
}

/** Limits in words, with the unit's symbol once. */
export function rangeText({ lower, upper }: Range, unit: string | null): string {
  if (lower !== null && upper !== null) return `${lower} to ${quantityText(upper, unit)}`;
  if (lower !== null) return `at least ${quantityText(lower, unit)}`;
  return upper === null ? 'no limits' : `at most ${quantityText(upper, unit)}`;
}

/**
 * A value with so many decimals, but with all its digits where rounding would carry it
 * across an acceptance limit: what is read must agree with the verdict beside it.
 */
export function valueText(value: number, decimals: number, accepted: Range): string {
  const text = value.toFixed(decimals);
  const rounded = Number(text);
  if (isWithin(rounded, accepted) !== isWithin(value, accepted)) return String(value);
  return rounded === 0 ? text.replace('-', '') : text;
}

/**
 * An acceptance limit with two digits more than values are shown with, rounded into the
 * acceptance zone: what is written is never wider than what was accepted.
 */
export function inwardLimit(limit: number | null, decimals: number, side: 'lower' | 'upper') {
  if (limit === null) return null;
  const scale = 10 ** (decimals + 2);
  // A limit of few digits, such as 0.29, is not moved by how a double holds it.
  const near = Math.round(limit * scale) / scale;
  if (near === limit) return limit;
  return (side === 'lower' ? Math.ceil(limit * scale) : Math.floor(limit * scale)) / scale;
}

function isWithin(value: number, { lower, upper }: Range): boolean {
  return (lower === null || value >= lower) && (upper === null || value <= upper);
}

export function yesOrNo(value: boolean): string {
  return value ? 'yes' : 'no';
}
