import { addElement, type ElementsAnswer, wholeIdentifier } from './application-identifiers.js';
import { refuse } from './scan.js';

const SCHEME = /^https?:\/\//i;
const QUALIFIERS: ReadonlySet<string> = new Set(['22', '10', '21', '235']);
// The orders GS1 allows behind a GTIN (GS1 Syntax Dictionary: dlpkey=22,10,21|235 of AI 01).
const PATH_ORDER = /^01( 22)?( 10)?( 21)?$|^01 235$/;
const GTIN = /^(?:[0-9]{8}|[0-9]{12,14})$/;
const NUMBER = /^[0-9]+$/;

interface Pair {
  code: string;
  encoded: string;
}

/** Whether `text` is a web address, and so can only be a GS1 Digital Link here. */
export function isWebAddress(text: string): boolean {
  return SCHEME.test(text);
}

/**
 * Reads the elements of a GS1 Digital Link URI whose key is a GTIN, on any domain and behind any
 * path: `/01/{gtin}`, then qualifiers 22, 10, 21 in this order (or 235), then a query with further
 * AIs. The last `/01/` that fits counts. A GTIN of 8, 12 or 13 digits is padded to 14. Fragments
 * and parameters that are no number are ignored.
 *
 * As the standard has it, an AI comes once, and 22, 10 and 21 stand in the path and not in the
 * query (GS1 Digital Link Standard: URI Syntax; the refusals are those of GS1's own reader).
 */
export function readDigitalLink(text: string): ElementsAnswer {
  const [address = '', ...queries] = beforeFragment(text).replace(SCHEME, '').split('?');
  const path = pathPairs(address.split('/'));
  if (path === null) {
    return refuse(
      'This web address names no product (/01/…) the way GS1 Digital Link does: scan the label of the unit itself.',
    );
  }
  const order = path.map((pair) => pair.code).join(' ');
  if (!PATH_ORDER.test(order)) {
    return refuse(
      'This web address has its GS1 parts twice or out of order (22, 10, 21): have the label replaced.',
    );
  }
  // In a query + stands for a space; in a path it stands for itself.
  const query = queryPairs(queries.join('?').replaceAll('+', ' '));
  const misplaced = query.find((pair) => belongsInPath(pair.code, order));
  if (misplaced !== undefined) {
    return refuse(
      `This web address carries (${misplaced.code}) behind the question mark and GS1 Digital Link puts it in the path: have the label replaced.`,
    );
  }
  return elementsOfPairs([...path, ...query]);
}

function beforeFragment(text: string): string {
  const hash = text.indexOf('#');
  return hash === -1 ? text : text.slice(0, hash);
}

/** The pairs from the last GTIN key to the end of the path; null when the path has no such key. */
function pathPairs(segments: readonly string[]): Pair[] | null {
  const domain = segments[0];
  if (domain === undefined || domain === '') return null;
  const pairs: Pair[] = [];
  for (let at = segments.length - 2; at >= 1; at -= 2) {
    const code = segments[at] ?? '';
    pairs.unshift({ code, encoded: segments[at + 1] ?? '' });
    if (code === '01') return pairs;
    if (!QUALIFIERS.has(code)) return null;
  }
  return null;
}

function queryPairs(query: string): Pair[] {
  return query
    .split('&')
    .map((parameter) => {
      const equals = parameter.indexOf('=');
      const end = equals === -1 ? parameter.length : equals;
      return { code: parameter.slice(0, end), encoded: parameter.slice(end + 1) };
    })
    .filter((pair) => NUMBER.test(pair.code));
}

function belongsInPath(code: string, order: string): boolean {
  if (code === '01') return true;
  return order.endsWith(' 235') ? code === '235' : QUALIFIERS.has(code) && code !== '235';
}

function elementsOfPairs(pairs: readonly Pair[]): ElementsAnswer {
  const elements = new Map<string, string>();
  for (const { code, encoded } of pairs) {
    const identifier = wholeIdentifier(code);
    const value = percentDecoded(encoded);
    if (identifier === null || value === null || elements.has(code)) {
      return refuse(
        `The part (${code}) of this web address is no GS1 element, comes twice or is badly encoded: have the label replaced.`,
      );
    }
    if (code === '01' && !GTIN.test(value)) {
      return refuse(
        'The product number (GTIN) in this web address does not have 8, 12, 13 or 14 digits: have the label replaced.',
      );
    }
    const problem = addElement(
      elements,
      identifier,
      code === '01' ? value.padStart(14, '0') : value,
    );
    if (problem !== null) return refuse(problem);
  }
  return { ok: true, elements };
}

function percentDecoded(encoded: string): string | null {
  try {
    return decodeURIComponent(encoded);
  } catch {
    return null;
  }
}
