import type { Words } from './words/words.js';

const MINUTE_S = 60;
const HOUR_S = 60 * MINUTE_S;
const DAY_S = 24 * HOUR_S;

/**
 * How numbers and times read in a language and the plant's time zone (ECMA-402).
 * Used by the service and, the same, in the browser.
 */
export function formatIn(words: Words, timeZone: string) {
  const { language, unit } = words;
  const date = new Intl.DateTimeFormat(language, { dateStyle: 'medium', timeZone });
  const clock = new Intl.DateTimeFormat(language, { timeStyle: 'medium', hour12: false, timeZone });
  const numbers = new Map<string, Intl.NumberFormat>();

  function numberFormat(options: Intl.NumberFormatOptions): Intl.NumberFormat {
    const key = JSON.stringify(options);
    const made = numbers.get(key) ?? new Intl.NumberFormat(language, options);
    numbers.set(key, made);
    return made;
  }
  const number = (value: number, decimals?: number) =>
    numberFormat(
      decimals === undefined
        ? { maximumFractionDigits: 6 }
        : { minimumFractionDigits: decimals, maximumFractionDigits: decimals },
    ).format(value);

  return {
    /** A number with so many decimals; as many as it has, up to six, where left out. */
    number,
    /** A fraction of one as a percentage. */
    percent: (fraction: number, decimals = 1) =>
      numberFormat({
        style: 'percent',
        minimumFractionDigits: decimals,
        maximumFractionDigits: decimals,
      }).format(fraction),
    /** The day of an instant, as epoch milliseconds. */
    day: (ms: number) => date.format(ms),
    /** A calendar day, `YYYY-MM-DD`. */
    calendarDay: (day: string) =>
      new Intl.DateTimeFormat(language, { dateStyle: 'medium', timeZone: 'UTC' }).format(
        Date.parse(`${day}T00:00:00Z`),
      ),
    time: (ms: number) => clock.format(ms),
    dateTime: (ms: number) => `${date.format(ms)}, ${clock.format(ms)}`,
    /** A length of time in its two greatest units: 2 h 05 min. */
    duration(ms: number): string {
      const seconds = Math.round(ms / 1000);
      const two = (whole: number, big: string, rest: number, small: string) =>
        `${number(whole)} ${big} ${String(rest).padStart(2, '0')} ${small}`;
      if (seconds < MINUTE_S) return `${seconds} ${unit.seconds}`;
      if (seconds < HOUR_S) {
        return two(Math.floor(seconds / MINUTE_S), unit.minutes, seconds % MINUTE_S, unit.seconds);
      }
      const minutes = Math.round(seconds / MINUTE_S);
      if (seconds < DAY_S)
        return two(Math.floor(minutes / 60), unit.hours, minutes % 60, unit.minutes);
      const hours = Math.round(seconds / HOUR_S);
      return two(Math.floor(hours / 24), unit.days, hours % 24, unit.hours);
    },
  };
}

export type Format = ReturnType<typeof formatIn>;
