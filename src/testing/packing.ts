import { unitByCode, unitByNumber } from '../measurement/units.js';
import type { Characteristic, Reading } from './rules.js';

/** Bytes of a reading as posted: its characteristic's index (2), its unit (1), its value (8). */
export const READING_BYTES = 11;
/** In place of a unit's number: the characteristic's own unit, or an attribute's answer. */
const OWN_UNIT = 0;
const VALUE_BYTES = 8;

/**
 * Readings as posted, in the order posted, little-endian. Their codes must be of the
 * specification; see `readingFault`.
 */
export function packReadings(
  characteristics: readonly Characteristic[],
  readings: readonly Reading[],
): Buffer {
  const index = new Map(characteristics.map((one, i) => [one.code, i]));
  const packed = Buffer.allocUnsafe(readings.length * READING_BYTES);
  for (const [i, { code, value, unit }] of readings.entries()) {
    const at = i * READING_BYTES;
    packed.writeUInt16LE(index.get(code) ?? 0xffff, at);
    packed.writeUInt8(unit === null ? OWN_UNIT : (unitByCode(unit)?.number ?? 0), at + 2);
    packed.writeDoubleLE(Number(value), at + 3);
  }
  return packed;
}

/** The readings that `packReadings` packed. */
export function unpackReadings(
  characteristics: readonly Characteristic[],
  packed: Buffer,
): Reading[] {
  const count = packed.length / READING_BYTES;
  return Array.from({ length: count }, (_, i) => {
    const at = i * READING_BYTES;
    const characteristic = characteristics[packed.readUInt16LE(at)];
    if (!characteristic) throw new Error('a stored reading names no characteristic');
    const unit = packed.readUInt8(at + 2);
    const value = packed.readDoubleLE(at + 3);
    return {
      code: characteristic.code,
      value: characteristic.kind === 'attribute' ? value === 1 : value,
      unit: unit === OWN_UNIT ? null : (unitByNumber(unit)?.code ?? null),
    };
  });
}

/** Judged values in the specification's order, a double each; NaN where nothing was measured. */
export function packJudged(values: readonly (number | boolean | null)[]): Buffer {
  const packed = Buffer.allocUnsafe(values.length * VALUE_BYTES);
  for (const [i, value] of values.entries()) {
    packed.writeDoubleLE(value === null ? Number.NaN : Number(value), i * VALUE_BYTES);
  }
  return packed;
}

/** One of the judged values that `packJudged` packed: that of the characteristic at an index. */
export function unpackJudgedAt(
  characteristic: Characteristic,
  packed: Buffer,
  index: number,
): number | boolean | null {
  const value = packed.readDoubleLE(index * VALUE_BYTES);
  if (Number.isNaN(value)) return null;
  return characteristic.kind === 'attribute' ? value === 1 : value;
}

/** The judged values that `packJudged` packed. */
export function unpackJudged(
  characteristics: readonly Characteristic[],
  packed: Buffer,
): (number | boolean | null)[] {
  return characteristics.map((characteristic, i) => unpackJudgedAt(characteristic, packed, i));
}
