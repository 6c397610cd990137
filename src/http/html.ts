/** Text that is markup already: only `html` makes it, so everything else is escaped. */
export class Markup {
  constructor(readonly text: string) {}
}

/** What may stand in a template: markup as it is, a list in its order, anything else as text. */
export type Content = Markup | string | number | null | undefined | readonly Content[];

const entities: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
  '`': '&#96;',
};

// Control characters, which HTML forbids even as references, but for tab and line ends.
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what it looks for
const forbidden = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f]/g;

/** Text as it may stand in an element or in a quoted attribute. */
export function escapeText(text: string): string {
  return text.replace(forbidden, '\ufffd').replace(/[&<>"'`]/g, (sign) => entities[sign] ?? '');
}

/**
 * Markup from a template: every value is escaped unless it is markup itself. Null and
 * undefined leave nothing. A value in an attribute stands in quotes.
 * @throws Error where a value follows `=` without quotes, where escaping would not hold it
 */
export function html(strings: TemplateStringsArray, ...values: Content[]): Markup {
  let text = strings[0] ?? '';
  for (const [i, value] of values.entries()) {
    if (/=\s*$/.test(strings[i] ?? '')) throw new Error('a value of an attribute needs quotes');
    text += rendered(value) + (strings[i + 1] ?? '');
  }
  return new Markup(text);
}

function rendered(value: Content): string {
  if (value === null || value === undefined) return '';
  if (value instanceof Markup) return value.text;
  if (typeof value === 'object') return value.map(rendered).join('');
  return escapeText(String(value));
}
