import { hasValidGtinCheckDigit } from './check-character.js';
import { NO_PARTS, type PartsAnswer, type Refusal, refuse } from './scan.js';

/** An Application Identifier (AI) and, where GS1 predefines it, the digits its value has. */
export interface Identifier {
  code: string;
  valueLength: number | null;
}

/** Values by AI: '01' GTIN, '10' batch or lot, '21' serial, and whatever else a label carries. */
export type Elements = ReadonlyMap<string, string>;

export type ElementsAnswer = { ok: true; elements: Elements } | Refusal;

// GS1 character sets 82 and 39 (GS1 General Specifications; the second is used by AI 8010 only).
const CHARACTER_SET_82 = /^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+$/;
const CHARACTER_SET_39 = /^[#\-/0-9A-Z]+$/;
const DIGITS = /^[0-9]+$/;

// No AI has a longer value (GS1 Syntax Dictionary: 91-99 and 8030).
const MAX_VALUE_LENGTH = 90;
const MAX_LENGTHS: ReadonlyMap<string, number> = new Map([
  ['10', 20],
  ['21', 20],
  ['22', 20],
]);

/**
 * The length of every AI that starts with these two digits, and the digits of a value whose length
 * GS1 predefines (no separator follows it). From the GS1 Syntax Dictionary (gs1-syntax-dictionary,
 * entries flagged `*`). A pair that is absent starts no AI.
 */
const PREFIXES: ReadonlyMap<string, { codeLength: number; valueLength: number | null }> = new Map([
  ...prefixes(['00'], 2, 18),
  ...prefixes(['01', '02', '03'], 2, 14),
  ...prefixes(['11', '12', '13', '15', '16', '17'], 2, 6),
  ...prefixes(['20'], 2, 2),
  ...prefixes(['31', '32', '33', '34', '35', '36'], 4, 6),
  ...prefixes(['41'], 3, 13),
  ...prefixes(['10', '21', '22', '30', '37'], 2, null),
  ...prefixes(['90', '91', '92', '93', '94', '95', '96', '97', '98', '99'], 2, null),
  ...prefixes(['23', '24', '25', '40', '42', '71'], 3, null),
  ...prefixes(['39', '43', '70', '72', '80', '81', '82'], 4, null),
]);

function prefixes(pairs: readonly string[], codeLength: number, valueLength: number | null) {
  return pairs.map((pair) => [pair, { codeLength, valueLength }] as const);
}

/** The AI that starts at `position` of `text`; null when none does. */
export function identifierAt(text: string, position: number): Identifier | null {
  const prefix = PREFIXES.get(text.slice(position, position + 2));
  if (prefix === undefined) return null;
  const code = text.slice(position, position + prefix.codeLength);
  const isWhole = code.length === prefix.codeLength && DIGITS.test(code);
  return isWhole ? { code, valueLength: prefix.valueLength } : null;
}

/** The AI that `text` is, from its first to its last character; null when it is none. */
export function wholeIdentifier(text: string): Identifier | null {
  const identifier = identifierAt(text, 0);
  return identifier?.code === text ? identifier : null;
}

/**
 * Whether `value` can stand behind `identifier`: right length, right characters, and for AI 01 a
 * right check digit. Returns a sentence for an operator, or null when the value is right.
 */
export function valueProblem(identifier: Identifier, value: string): string | null {
  const { code, valueLength } = identifier;
  if (valueLength !== null && (value.length !== valueLength || !DIGITS.test(value))) {
    return `The GS1 element (${code}) must have ${valueLength} digits and does not: the code was cut short or misprinted. Scan it again.`;
  }
  if (code === '01' && !hasValidGtinCheckDigit(value)) {
    return `The product number (GTIN) ${value} has a wrong check digit: the code was misread or misprinted. Scan it again; if it stays wrong, have the label replaced.`;
  }
  if (value === '') return `The GS1 element (${code}) is empty: have the label replaced.`;
  const maxLength = MAX_LENGTHS.get(code) ?? MAX_VALUE_LENGTH;
  if (value.length > maxLength) {
    return `The GS1 element (${code}) has more than ${maxLength} characters: the separator after it is missing. Have the scanner set to send it, or the label replaced.`;
  }
  const alphabet = code === '8010' ? CHARACTER_SET_39 : CHARACTER_SET_82;
  return alphabet.test(value)
    ? null
    : `The GS1 element (${code}) holds a character that GS1 does not allow: scan it again, or have the label replaced.`;
}

/**
 * Adds a value to `elements`. The same value twice is fine (GS1 allows it when symbols are read
 * together); two values for one AI are not. Returns a sentence for an operator, or null when added.
 */
export function addElement(
  elements: Map<string, string>,
  identifier: Identifier,
  value: string,
): string | null {
  const earlier = elements.get(identifier.code);
  if (earlier !== undefined && earlier !== value) {
    return `The GS1 element (${identifier.code}) comes twice with two different values: scan one label only.`;
  }
  const problem = valueProblem(identifier, value);
  if (problem === null) elements.set(identifier.code, value);
  return problem;
}

/**
 * The serial, lot and GTIN among `elements`. AI 01 is required: GS1 gives a serial (21) or lot (10)
 * no meaning without it. No part number is taken from 240, 241 or 22, whose meaning partners agree
 * between themselves; the GTIN leads to the part.
 */
export function partsOfElements(elements: Elements): PartsAnswer {
  const gtin = elements.get('01');
  if (gtin === undefined) {
    return refuse(
      'This GS1 code carries no product number (01), without which its serial means nothing: scan the label of the unit itself.',
    );
  }
  const serial = elements.get('21') ?? null;
  if (serial !== null && elements.has('235')) {
    return refuse(
      'This GS1 code carries two kinds of serial, (21) and (235), which GS1 does not allow: have the label replaced.',
    );
  }
  const lot = elements.get('10') ?? null;
  return { ok: true, parts: { ...NO_PARTS, gtin, serial, lot } };
}
