import { type ElementsAnswer, partsOfElements } from './application-identifiers.js';
import { isWebAddress, readDigitalLink } from './digital-link.js';
import { isBareElementString, readBracketedElements, readElementString } from './element-string.js';
import { isEnvelope, readEnvelope } from './envelope.js';
import {
  type Carrier,
  EOT,
  GS,
  NO_PARTS,
  RS,
  refuse,
  type ScanAnswer,
  trimSpaces,
} from './scan.js';
import { completeScan } from './serial.js';

export type { Carrier, Scan, ScanAnswer } from './scan.js';

/** Longest text looked at, in UTF-16 code units, before anything is trimmed. */
export const MAX_SCAN_LENGTH = 500;

// ISO/IEC 15424: a ] , a letter for the symbology and a modifier. These four announce GS1 data:
// GS1 DataMatrix, GS1-128, GS1 QR Code and GS1 DataBar (GS1 General Specifications).
const SYMBOLOGY_IDENTIFIER = /^\][A-Za-z][0-9A-Za-z]/;
const GS1_SYMBOLOGIES: ReadonlySet<string> = new Set([']d2', ']C1', ']Q3', ']e0']);
const RETAIL_SYMBOLOGY = ']E';

/**
 * Says what a scanner, or a person at a keyboard, sent: which unit or lot, and which product.
 * Never throws. Spaces around the text and one line end behind it are dropped, as is a symbology
 * identifier (ISO/IEC 15424, such as `]d2`) before it. Then the first that fits decides:
 *
 * 1. `[)>`: an ISO/IEC 15434 message (see `readEnvelope`).
 * 2. A GS1 symbology identifier (`]d2` `]C1` `]Q3` `]e0`) or a GS anywhere: a GS1 element string.
 * 3. `http://` or `https://`: a GS1 Digital Link (see `readDigitalLink`).
 * 4. An opening parenthesis first: a GS1 element string in human-readable form.
 * 5. 01, 14 digits with a right check digit, only values of predefined length, then 21 and a serial
 *    to the end: a GS1 element string that lost its marks (see `isBareElementString`).
 * 6. Anything else: a plain serial, 1 to 40 letters, digits and - . _ / + with case kept.
 *
 * None of the marks in 1 to 4 can be in a plain serial, so those are never in doubt. Rule 5 is
 * narrow so that a plain serial that starts with 01 stays one: `0109521234543213` is a serial, and
 * so is `01095212345432142112345`, whose check digit is wrong. Behind a mark the same wrong digit
 * is refused.
 *
 * Refused, with a sentence for the operator: an empty text or one of over 500 characters, a control
 * character where its carrier has none, a GTIN with a wrong check digit, a carrier that names
 * neither a serial nor a lot, a serial that could not be typed as a plain one.
 */
export function parseScan(text: string): ScanAnswer {
  if (text.length > MAX_SCAN_LENGTH) {
    return refuse(
      `This text has more than ${MAX_SCAN_LENGTH} characters: scan one label at a time.`,
    );
  }
  const scanned = withoutScannerSuffix(text);
  const symbology = SYMBOLOGY_IDENTIFIER.exec(scanned)?.[0] ?? '';
  const data = scanned.slice(symbology.length);
  if (data === '') return refuse('The scan is empty: scan the label again.');
  if (symbology.startsWith(RETAIL_SYMBOLOGY)) {
    return refuse(
      'This is a retail bar code (EAN or UPC), which names a product and no single unit: scan the label with the serial.',
    );
  }
  if (hasStrayControl(data, isEnvelope(data) ? [GS, RS, EOT] : [GS])) {
    return refuse(
      'This scan holds a control character that no label carries there: check how the scanner is set up, and scan one label at a time.',
    );
  }
  return readCarrier(data, GS1_SYMBOLOGIES.has(symbology));
}

function readCarrier(data: string, isGs1Symbol: boolean): ScanAnswer {
  if (isEnvelope(data)) return readEnvelope(data);
  if (isGs1Symbol || data.includes(GS)) {
    return scanOf('gs1-element-string', readElementString(data));
  }
  if (isWebAddress(data)) return scanOf('gs1-digital-link', readDigitalLink(data));
  if (data.startsWith('(')) return scanOf('gs1-element-string', readBracketedElements(data));
  if (isBareElementString(data)) return scanOf('gs1-element-string', readElementString(data));
  return completeScan('plain', { ...NO_PARTS, serial: data });
}

function scanOf(carrier: Carrier, read: ElementsAnswer): ScanAnswer {
  if (!read.ok) return read;
  const answer = partsOfElements(read.elements);
  return answer.ok ? completeScan(carrier, answer.parts) : answer;
}

/** `text` without surrounding spaces and without one CR, LF or CR LF at its end. */
function withoutScannerSuffix(text: string): string {
  const trimmed = trimSpaces(text);
  const lineEnd = ['\r\n', '\r', '\n'].find((ending) => trimmed.endsWith(ending)) ?? '';
  return trimSpaces(trimmed.slice(0, trimmed.length - lineEnd.length));
}

/** Whether `text` has a control character (C0, DEL or C1) other than those `allowed`. */
function hasStrayControl(text: string, allowed: readonly string[]): boolean {
  for (const character of text) {
    const code = character.charCodeAt(0);
    const isControl = code < 0x20 || (code >= 0x7f && code <= 0x9f);
    if (isControl && !allowed.includes(character)) return true;
  }
  return false;
}
