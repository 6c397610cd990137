import type { Half } from './floor.js';
import type { Random } from './random.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';

/**
 * GS1 element string of a DataMatrix symbol: GTIN (01), then serial (21). The seed's GTINs
 * begin with 952, the prefix that GS1 keeps for demonstrations (from memory).
 */
export function elementString(gtin: string, serial: string): string {
  return `]d201${gtin}21${serial}`;
}

/** ISO/IEC 15434 message, format 06: part number (1P) where known, serial (S). */
export function envelope(serial: string, part?: string): string {
  const partField = part === undefined ? '' : `1P${part}${GS}`;
  return `[)>${RS}06${GS}${partField}S${serial}${RS}${EOT}`;
}

/** GS1 Digital Link; the domain is reserved for examples (RFC 2606). */
export function digitalLink(gtin: string, serial: string): string {
  return `https://id.ternbay.example/01/${gtin}/21/${serial}`;
}

/** What the scanner sends for a half: its suppliers label in different ways, and some labels are typed. */
export function scanOf(half: Half, random: Random): string {
  const draw = random.uniform();
  if (draw < 0.5) return elementString(half.gtin, half.serial);
  if (draw < 0.75) return envelope(half.serial, half.part);
  if (draw < 0.9) return digitalLink(half.gtin, half.serial);
  return half.serial;
}

/** What a cell's scanner sends for a motor. */
export function motorScan(serial: string, random: Random): string {
  return random.chance(0.5) ? serial : envelope(serial);
}
