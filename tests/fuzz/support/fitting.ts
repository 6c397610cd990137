import fc from 'fast-check';
import type { Known } from './known.js';
import { lookedUp, type Schema } from './operations.js';

/** What requests are made from: what is there, and what time it is. */
export interface Stock {
  known: Known;
  now: number;
}

/** Levels to which a schema that holds itself is followed. */
const DEPTH = 3;
const DAY = 24 * 60 * 60 * 1000;

const texts = [
  ...['PH-100', 'LU-20', 'FP-1', 'A', 'B', 'F100L', 'powerhead', 'lower-unit', 'motor', 'true'],
  ...['false', 'N.m', 'kPa', 'deg', '/min', '0', '1', '7', '100', '1000', '09506000134352'],
  ...['06:00', '14:00', '0.5', 'x', 'ä', '傷', '\u{1F527}', '=1+1', '%', '{}', '\u200b', '\u202e'],
  ...["O'Neil; DROP TABLE units", '(01)09506000134352(21)X', '\u001d', 'NOBODY'],
];
const numbers = [0, 1, -1, 0.1, 30, 100, 650, 10_000, 1e-300, 1e300, -1e300, 5e-324, 2 ** 53];
const integers = [0, 1, 2, 3, 5, 10, 24, 50, 1000, 10_000, 2 ** 31, 2 ** 53 - 1, -1];

/** A name that is nowhere yet, for what is made anew. */
export const freshName = fc.nat(36 ** 6).map((n) => `Z${n.toString(36)}`);

/** Values that fit a JSON Schema; where a member of that name is known, mostly known ones. */
export function fitting(
  schema: Schema,
  name: string,
  stock: Stock,
  depth = 0,
): fc.Arbitrary<unknown> {
  if (typeof schema.$ref === 'string') return fitting(lookedUp(schema), name, stock, depth + 1);
  if (Array.isArray(schema.enum)) return fc.constantFrom(...schema.enum);
  if ('const' in schema) return fc.constant(schema.const);
  const choices = (schema.anyOf ?? schema.oneOf) as Schema[] | undefined;
  if (choices) {
    const open = choices.filter((one) => depth < DEPTH || !holdsReference(one));
    return fc.oneof(...open.map((one) => fitting(one, name, stock, depth)));
  }
  if (Array.isArray(schema.type)) {
    const each = schema.type.map((type) => fitting({ ...schema, type }, name, stock, depth));
    return fc.oneof(...each);
  }
  switch (schema.type) {
    case 'object':
      return fittingObject(schema, stock, depth);
    case 'array':
      return fittingArray(schema, name, stock, depth);
    case 'boolean':
      return fc.boolean();
    case 'null':
      return fc.constant(null);
    case 'integer':
    case 'number':
      return fittingNumber(schema, name, stock);
    default:
      return fittingText(schema, name, stock);
  }
}

function holdsReference(schema: Schema): boolean {
  return JSON.stringify(schema).includes('"$ref"');
}

function fittingObject(schema: Schema, stock: Stock, depth: number): fc.Arbitrary<unknown> {
  const properties = Object.entries((schema.properties ?? {}) as Record<string, Schema>);
  if (properties.length === 0) {
    const names = fc.constantFrom('shaftLength', 'rotation', 'colour');
    return fc.dictionary(names, fc.constantFrom('508 mm', '635 mm', 'right', 'ä'), { maxKeys: 3 });
  }
  const members = properties.map(([name, one]) => [name, fitting(one, name, stock, depth)]);
  return fc.record(Object.fromEntries(members), {
    requiredKeys: (schema.required ?? []) as never[],
    noNullPrototype: true,
  });
}

function fittingArray(
  schema: Schema,
  name: string,
  stock: Stock,
  depth: number,
): fc.Arbitrary<unknown> {
  const minLength = Number(schema.minItems ?? 0);
  return fc.array(fitting(schema.items as Schema, name, stock, depth), {
    minLength,
    maxLength: Math.max(minLength, Math.min(Number(schema.maxItems ?? 3), 3)),
  });
}

function fittingNumber(schema: Schema, name: string, { known }: Stock): fc.Arbitrary<unknown> {
  const { minimum = -Infinity, maximum = Infinity } = schema as Record<string, number>;
  const above = Number(schema.exclusiveMinimum ?? -Infinity);
  const fits = (value: unknown): value is number =>
    typeof value === 'number' &&
    value >= minimum &&
    value <= maximum &&
    value > above &&
    (schema.type === 'number' || Number.isInteger(value));
  const all = [...known.of(name), ...(schema.type === 'number' ? numbers : integers)].filter(fits);
  return fc.constantFrom(...(all.length > 0 ? all : [Math.max(minimum, above + 1, 0)]));
}

function fittingText(schema: Schema, name: string, stock: Stock): fc.Arbitrary<string> {
  if (schema.format === 'date-time') return mostly(instants(stock.now), oddInstants);
  if (schema.format === 'date') return mostly(days(stock.now), oddDays);
  const fits = (text: string) => fitsText(schema, text);
  const known = stock.known.of(name).map(String).filter(fits);
  const usual = texts.filter(fits);
  return fc.oneof(
    ...[known, usual]
      .filter((some) => some.length > 0)
      .map((some) => ({ weight: some === known ? 12 : 1, arbitrary: fc.constantFrom(...some) })),
    { weight: 1, arbitrary: fits('Zz') ? freshName : fc.constant(usual[0] ?? 'x') },
  );
}

const patterns = new Map<string, RegExp>();

function fitsText(schema: Schema, text: string): boolean {
  const { minLength = 0, maxLength = 1000 } = schema as Record<string, number>;
  if (text.length < minLength || text.length > maxLength) return false;
  if (typeof schema.pattern !== 'string') return true;
  const pattern = patterns.get(schema.pattern) ?? new RegExp(schema.pattern, 'u');
  patterns.set(schema.pattern, pattern);
  return pattern.test(text);
}

function mostly(usual: readonly string[], odd: readonly string[]): fc.Arbitrary<string> {
  return fc.oneof(
    { weight: 9, arbitrary: fc.constantFrom(...usual) },
    { weight: 1, arbitrary: fc.constantFrom(...odd) },
  );
}

const oddInstants = [
  '2026-03-02T07:00:01+01:00',
  '2026-03-02T06:00:00.0019Z',
  '0001-01-01T00:00:00Z',
  '1900-01-01T00:00:00+14:00',
  '2999-12-31T23:59:59.999Z',
  '9999-12-31T23:59:59.999-14:00',
];
const oddDays = ['0001-01-01', '1900-01-01', '2000-02-29', '2999-12-31', '9999-12-31'];

/** Instants about now, of which some lie too far back and some ahead. */
function instants(now: number): string[] {
  const near = [0, 0, 0, -1000, -3_600_000, -DAY, -20 * DAY, -32 * DAY, 60_000, 3_600_000, DAY];
  return near.map((away) => new Date(now + away).toISOString());
}

function days(now: number): string[] {
  const near = [0, 0, -1, -7, -40, 1, 8].map((away) => new Date(now + away * DAY).toISOString());
  return [...near.map((text) => text.slice(0, 10)), '2026-03-01', '2026-03-02', '2026-09-16'];
}
