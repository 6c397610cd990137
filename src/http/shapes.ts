import { z } from 'zod';

/** Longest scan a scanner may send, in characters. */
export const SCAN_LIMIT = 500;
/** Rows of one page, at most and by default. */
export const PAGE_LIMIT = 1000;
export const PAGE_DEFAULT = 100;

/** Neither control characters, nor line ends, nor half a surrogate pair, which UTF-8 cannot hold. */
const noControls = /^[^\p{Cc}\p{Cs}\u2028\u2029]*$/u;

/** One line of text a person wrote: no control characters, no blanks at its ends. */
export function label(max: number) {
  return z
    .string()
    .min(1)
    .max(max)
    .regex(noControls, 'must have no control characters')
    .refine((text) => text.trim() === text, 'must not begin or end with blanks');
}

/** Why something was done, in words; it stands in the record for good. */
export const reason = label(500).meta({ description: 'Why, in words; it stands in the record.' });

/** A short identifier: letters, digits, and `- . _ /` between them. */
export const code = z
  .string()
  .max(40)
  .regex(
    /^[A-Za-z0-9](?:[A-Za-z0-9._/-]*[A-Za-z0-9])?$/,
    'must be letters, digits, and - . _ / between them',
  );

/** A station or test cell, as its label in the plant says. */
export const stationName = code.meta({
  description: 'The station or test cell, as labelled in the plant.',
});

/** What a scanner sends: read by src/scan, so control characters are allowed here. */
export const scanText = z.string().min(1).max(SCAN_LIMIT).meta({
  description:
    'What the scanner sends: a plain serial, a GS1 element string or Digital Link (AI 01 and 21), or an ISO/IEC 15434 format 06 message.',
});

/**
 * Years in which a time sent may lie. RFC 3339 has four digits for a year, and what is reckoned
 * from a time, such as the end of its day elsewhere on Earth, must have one as well.
 */
const isWithinYears = (ms: number) => ms >= Date.UTC(1900, 0) && ms < Date.UTC(3000, 0);
const OUTSIDE_YEARS = 'must lie in the years 1900 to 2999';

/** An instant as RFC 3339 text with an offset, read as epoch milliseconds. */
export const instant = z.iso
  .datetime({ offset: true })
  .transform((text) => Date.parse(text))
  .refine(isWithinYears, OUTSIDE_YEARS)
  .meta({ description: 'RFC 3339, with Z or an offset.', example: '2026-03-02T06:30:00.000Z' });

/** An instant in an answer: RFC 3339, UTC, three decimals. */
export const timeOf = z.iso.datetime().meta({ example: '2026-03-02T06:30:00.000Z' });

export const day = z.iso
  .date()
  .refine((text) => isWithinYears(Date.parse(text)), OUTSIDE_YEARS)
  .meta({ description: 'A day in the plant’s time zone.', example: '2026-03-02' });

/** A name that every object bears by itself, such as `constructor`, would be found where it is not. */
const attributeName = code.refine(
  (name) => !(name in Object.prototype),
  'is a reserved word: choose another name',
);

/** A record's schema passes over `__proto__` without a word; nothing sent may get lost. */
function refusePrototype(value: unknown, context: z.RefinementCtx): unknown {
  if (typeof value === 'object' && value !== null && Object.hasOwn(value, '__proto__')) {
    context.addIssue({ code: 'custom', path: ['__proto__'], message: 'is a reserved word' });
  }
  return value;
}

/** Attribute values by name: shaft length, gear ratio, rotation, colour. */
export const attributes = z
  .preprocess(
    refusePrototype,
    z
      .record(attributeName, label(60))
      .refine((value) => Object.keys(value).length <= 20, 'at most 20 attributes'),
  )
  .meta({
    description: 'Fixed attributes by name, such as shaftLength, gearRatio, rotation, colour.',
    example: { shaftLength: '508 mm', rotation: 'right' },
  });
export type Attributes = Record<string, string>;

/** A page of a table: its rows, and the address of the next page. */
export function page<T extends z.ZodType>(item: T) {
  return z.strictObject({
    items: z.array(item),
    next: z
      .string()
      .nullable()
      .meta({ description: 'Address of the next page (also a Link header, RFC 8288).' }),
  });
}

const wholeNumber = z.string().regex(/^\d{1,9}$/, 'must be a whole number');

/** The query members that every table takes. */
export const pageQuery = {
  limit: wholeNumber
    .transform(Number)
    .pipe(z.int().min(1).max(PAGE_LIMIT))
    .optional()
    .meta({ description: `Rows a page: 1 to ${PAGE_LIMIT}, ${PAGE_DEFAULT} unless said.` }),
  after: z
    .string()
    .min(1)
    .max(500)
    .optional()
    .meta({ description: 'Where the page begins, as the previous page’s `next` says.' }),
};

/** A whole number in a path or a query. */
export const idText = wholeNumber.transform(Number).pipe(z.int().min(1));
