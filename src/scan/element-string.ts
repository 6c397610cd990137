import {
  addElement,
  type ElementsAnswer,
  type Identifier,
  identifierAt,
  valueProblem,
  wholeIdentifier,
} from './application-identifiers.js';
import { GS, refuse, trimSpaces } from './scan.js';

const NOT_GS1 = 'This is not a well-formed GS1 code';

/**
 * Reads the elements of a GS1 element string as a scanner sends it, without symbology identifier:
 * AI and value after AI and value, a GS behind each value of variable length but the last. A GS
 * before the first AI (a transmitted FNC1), behind the last value, or behind a value of predefined
 * length is tolerated.
 */
export function readElementString(text: string): ElementsAnswer {
  const elements = new Map<string, string>();
  let position = text.startsWith(GS) ? 1 : 0;
  while (position < text.length) {
    const identifier = identifierAt(text, position);
    if (identifier === null) {
      return refuse(
        `${NOT_GS1}: after ${position} characters no Application Identifier follows. Scan it again, or have the scanner set to send the separator (GS).`,
      );
    }
    const start = position + identifier.code.length;
    const end = valueEnd(text, start, identifier);
    const problem = addElement(elements, identifier, text.slice(start, end));
    if (problem !== null) return refuse(problem);
    position = text[end] === GS ? end + 1 : end;
  }
  return { ok: true, elements };
}

function valueEnd(text: string, start: number, identifier: Identifier): number {
  if (identifier.valueLength !== null) return start + identifier.valueLength;
  const separator = text.indexOf(GS, start);
  return separator === -1 ? text.length : separator;
}

/**
 * Reads the elements of a GS1 element string in its human-readable form, AIs in parentheses:
 * `(01)09521234543213(21)12345`. Spaces around a value are dropped. A value cannot itself hold an
 * opening parenthesis here, since nothing would tell it from the next AI.
 */
export function readBracketedElements(text: string): ElementsAnswer {
  const elements = new Map<string, string>();
  let position = 0;
  while (position < text.length) {
    const close = text.indexOf(')', position);
    const isOpen = text[position] === '(' && close !== -1;
    const identifier = isOpen ? wholeIdentifier(text.slice(position + 1, close)) : null;
    if (identifier === null) {
      return refuse(
        `${NOT_GS1}: between parentheses there is no Application Identifier, such as (01) or (21). Type it as printed below the bars.`,
      );
    }
    const nextOpen = text.indexOf('(', close);
    const end = nextOpen === -1 ? text.length : nextOpen;
    const problem = addElement(elements, identifier, trimSpaces(text.slice(close + 1, end)));
    if (problem !== null) return refuse(problem);
    position = end;
  }
  return { ok: true, elements };
}

/**
 * Whether a text with neither symbology identifier, separator nor parentheses is nonetheless beyond
 * doubt an element string: 01, a GTIN-14 with a right check digit, then only values of predefined
 * length, then 21 and a serial up to the end. Anything less, a wrong check digit included, stays
 * what it looks like: a plain serial that starts with 01.
 */
export function isBareElementString(text: string): boolean {
  if (!text.startsWith('01')) return false;
  let position = 0;
  while (position < text.length) {
    const identifier = identifierAt(text, position);
    if (identifier === null) return false;
    const start = position + identifier.code.length;
    const end = valueEnd(text, start, identifier);
    if (valueProblem(identifier, text.slice(start, end)) !== null) return false;
    if (identifier.valueLength === null) return identifier.code === '21';
    position = end;
  }
  return false;
}
