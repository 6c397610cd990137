import { partsOfElements } from './application-identifiers.js';
import { readElementString } from './element-string.js';
import {
  EOT,
  GS,
  NO_PARTS,
  type PartsAnswer,
  RS,
  refuse,
  type ScanAnswer,
  type ScanParts,
} from './scan.js';
import { completeScan } from './serial.js';

const COMPLIANCE_INDICATOR = '[)>';
const HEADER = `${COMPLIANCE_INDICATOR}${RS}`;
const TRAILER = `${RS}${EOT}`;

// A data identifier is up to three digits and a letter; its value here is printable ASCII.
const FIELD = /^([0-9]{0,3}[A-Z])([ -~]+)$/;

/**
 * The data identifiers read here, with their meanings in ANSI MH10.8.2:
 * S serial given by the supplier for the life of the thing; P item code given by the customer and
 * 1P by the supplier; 2P revision level of the item (engineering change level, edition, revision);
 * 1T traceability number given by the supplier to a lot, batch or heat.
 */
const READ_IDENTIFIERS: ReadonlySet<string> = new Set(['S', 'P', '1P', '2P', '1T']);

/** Whether `text` starts as an ISO/IEC 15434 message does. */
export function isEnvelope(text: string): boolean {
  return text.startsWith(COMPLIANCE_INDICATOR);
}

/**
 * Reads an ISO/IEC 15434 message: `[)>` RS, one or more formats each ended by RS, EOT. Format 06
 * (data identifiers) and format 05 (GS1 element strings) are read and may supplement but not
 * contradict each other; other formats and other identifiers are skipped. When a label carries both
 * P and 1P, P counts: to a plant the part number it gave itself is the one it knows. A message
 * without its end is refused, since it may have lost more than that.
 */
export function readEnvelope(text: string): ScanAnswer {
  if (!text.startsWith(HEADER) || !text.endsWith(TRAILER)) {
    return refuse(
      'This code starts like an ISO/IEC 15434 label but is not whole: scan it again, or have the scanner set to send control characters (RS, GS, EOT).',
    );
  }
  let parts: ScanParts = NO_PARTS;
  for (const format of text.slice(HEADER.length, -EOT.length).split(RS)) {
    const answer = readFormat(format);
    if (!answer.ok) return answer;
    const merged = mergeParts(parts, answer.parts);
    if (merged === null) {
      return refuse('This code says two different things of one unit: have the label replaced.');
    }
    parts = merged;
  }
  return completeScan('iso-15434', parts);
}

function readFormat(format: string): PartsAnswer {
  if (format.startsWith(`06${GS}`)) return readDataIdentifiers(format.slice(3));
  if (format.startsWith(`05${GS}`)) {
    const answer = readElementString(format.slice(3));
    return answer.ok ? partsOfElements(answer.elements) : answer;
  }
  return { ok: true, parts: NO_PARTS };
}

function readDataIdentifiers(text: string): PartsAnswer {
  const values = new Map<string, string>();
  for (const field of text.split(GS)) {
    if (field === '') continue;
    const [, code = '', value = ''] = FIELD.exec(field) ?? [];
    if (code === '') {
      return refuse(
        'A field of this code has no data identifier, such as S or 1P: have the label replaced.',
      );
    }
    if (!READ_IDENTIFIERS.has(code)) continue;
    if ((values.get(code) ?? value) !== value) {
      return refuse(
        `This code carries the data identifier ${code} twice with two different values: scan the label of one unit only.`,
      );
    }
    values.set(code, value);
  }
  const parts: ScanParts = {
    serial: values.get('S') ?? null,
    gtin: null,
    partNumber: values.get('P') ?? values.get('1P') ?? null,
    partRevision: values.get('2P') ?? null,
    lot: values.get('1T') ?? null,
  };
  return { ok: true, parts };
}

/** Both parts together; null when they contradict each other. */
function mergeParts(one: ScanParts, other: ScanParts): ScanParts | null {
  const merged: ScanParts = { ...one };
  for (const key of Object.keys(NO_PARTS) as (keyof ScanParts)[]) {
    const known = merged[key];
    const added = other[key];
    if (known !== null && added !== null && known !== added) return null;
    merged[key] = known ?? added;
  }
  return merged;
}
