import { instantOf } from './instant.js';

/** What a field says, without blanks around it; undefined where it is empty. */
export function filled(value: FormDataEntryValue | string | null): string | undefined {
  const text = typeof value === 'string' ? value.trim() : '';
  return text === '' ? undefined : text;
}

/** A number as typed; the text itself where it is none, so that the service can say so. */
export function numberOf(value: string | undefined): number | string | undefined {
  if (value === undefined) return undefined;
  const number = Number(value);
  return Number.isFinite(number) ? number : value;
}

/** Lines of `name: value`; a line without a colon is a name without a value, which is refused. */
export function attributesOf(text: string | undefined): Record<string, string> | undefined {
  if (text === undefined) return undefined;
  const pairs = text
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line): [string, string] => {
      const [name = '', ...value] = line.split(':');
      return [name.trim(), value.join(':').trim()];
    });
  return Object.fromEntries(pairs);
}

/** The date of a field `effectiveFrom`, which is in the plant's time zone, as an instant. */
export function effectiveFrom(fields: FormData): string | undefined {
  const local = filled(fields.get('effectiveFrom'));
  const zone = document.documentElement.dataset.timeZone ?? 'UTC';
  return local === undefined ? undefined : instantOf(local, zone);
}
