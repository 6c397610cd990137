import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import { areCommensurable, convert } from '../measurement/units.js';
import type { Plant } from '../plant.js';
import { unpackJudgedAt } from '../testing/packing.js';
import type { Characteristic } from '../testing/rules.js';

/** A characteristic that has a number. */
export type NumericCharacteristic = Exclude<Characteristic, { kind: 'attribute' }>;

/** Judged values, and the specification in whose order they stand. */
interface Judged {
  specificationId: number;
  judged: Buffer;
}

type Read = (judged: Buffer) => number | null;

/** No gauge reads so much; below it, squares and their sums stay finite in any unit. */
const LARGEST = 1e100;

/**
 * What reads the value of a characteristic out of reference runs of any revision of its
 * specification: in the characteristic's unit; null where it was not measured, is too large
 * to reckon with, or was of another kind.
 */
export function valueReader(
  plant: Plant,
  characteristic: NumericCharacteristic,
): (run: Judged) => number | null {
  const bySpecification = new Map<number, Read>();
  return ({ specificationId, judged }) => {
    let read = bySpecification.get(specificationId);
    if (!read) {
      read = readerBetween(existingSpecification(plant, specificationId), characteristic);
      bySpecification.set(specificationId, read);
    }
    return read(judged);
  };
}

function readerBetween({ characteristics }: SpecificationRow, to: NumericCharacteristic): Read {
  const index = characteristics.findIndex((one) => one.code === to.code);
  const own = characteristics[index];
  if (!own || own.kind === 'attribute' || !areCommensurable(own.unit, to.unit)) return () => null;
  return (judged) => {
    const value = unpackJudgedAt(own, judged, index);
    if (typeof value !== 'number' || Math.abs(value) >= LARGEST) return null;
    return convert(value, own.unit, to.unit);
  };
}
