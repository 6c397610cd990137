/** How the text of a scan was packed: as a bare serial, or in one of three open standards. */
export type Carrier = 'plain' | 'gs1-element-string' | 'gs1-digital-link' | 'iso-15434';

/**
 * What a label says. `gtin` always has 14 digits and a right check digit; `serial` always passes
 * `isSerial`; the other texts are as the label carries them. What a label leaves out is null.
 */
export interface Scan {
  carrier: Carrier;
  serial: string | null;
  gtin: string | null;
  partNumber: string | null;
  partRevision: string | null;
  lot: string | null;
}

/** A scan that cannot be used; `reason` is a sentence an operator can act on. */
export interface Refusal {
  ok: false;
  reason: string;
}

export type ScanAnswer = { ok: true; scan: Scan } | Refusal;

/** A scan without its carrier: what one part of a label contributes. */
export type ScanParts = Omit<Scan, 'carrier'>;

export type PartsAnswer = { ok: true; parts: ScanParts } | Refusal;

/** Parts of which the label says nothing. */
export const NO_PARTS: Readonly<ScanParts> = Object.freeze({
  serial: null,
  gtin: null,
  partNumber: null,
  partRevision: null,
  lot: null,
});

/** Group separator (ISO/IEC 646): ends a data element, and stands for a GS1 FNC1. */
export const GS = '\u001d';
/** Record separator: ends a format in an ISO/IEC 15434 message. */
export const RS = '\u001e';
/** End of transmission: ends an ISO/IEC 15434 message. */
export const EOT = '\u0004';

/** A refusal for `reason`. */
export function refuse(reason: string): Refusal {
  return { ok: false, reason };
}

/** `text` without the ASCII spaces at both its ends. */
export function trimSpaces(text: string): string {
  let start = 0;
  let end = text.length;
  while (start < end && text[start] === ' ') start += 1;
  while (end > start && text[end - 1] === ' ') end -= 1;
  return text.slice(start, end);
}
