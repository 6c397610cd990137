import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { hasValidMod37_36CheckCharacter } from '../scan/check-character.js';
import { parseScan, type Scan } from '../scan/parse.js';
import type { UnitRow } from './records.js';
import { nameOfClass } from './rules.js';

/** What `resolveUnit` may refuse a motor's scan with: a motor is of no part that a label could deny. */
export const motorScanProblems = ['scan-unreadable', 'serial-unknown', 'wrong-class'] as const;
/** What `resolveUnit` may refuse a scan with. */
export const scanProblems = [...motorScanProblems, 'scan-part-mismatch'] as const;
/** What `resolveAnyUnit` may refuse a scan with. */
export const anyScanProblems = [...scanProblems, 'serial-ambiguous'] as const;

export interface SerialScan extends Scan {
  serial: string;
}

/**
 * What a scan names.
 * @throws Problem scan-unreadable, also when it carries a lot but no serial
 */
export function readSerialScan(text: string): SerialScan {
  const answer = parseScan(text);
  if (!answer.ok) throw new Problem('scan-unreadable', answer.reason);
  const { serial } = answer.scan;
  if (serial === null) {
    throw new Problem(
      'scan-unreadable',
      'This label carries no serial: scan the label with the serial.',
    );
  }
  return { ...answer.scan, serial };
}

/**
 * The unit of a class that a scan names.
 * @throws Problem scan-unreadable, serial-unknown, wrong-class, scan-part-mismatch
 */
export function resolveUnit(plant: Plant, unitClass: string, text: string): UnitRow {
  const scan = readSerialScan(text);
  const unit = plant.units.bySerial(unitClass, scan.serial);
  if (!unit) throw notOfClass(plant, unitClass, scan.serial);
  assertLabelAgrees(unit, scan);
  return unit;
}

/**
 * The unit that a scan names, whatever its class, or of a class where one is said.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, scan-part-mismatch
 */
export function resolveAnyUnit(plant: Plant, text: string, unitClass?: string): UnitRow {
  if (unitClass !== undefined) return resolveUnit(plant, unitClass, text);
  const scan = readSerialScan(text);
  const all = plant.units.withSerial(scan.serial);
  const fitting = all.filter((unit) => labelAgrees(unit, scan));
  const candidates = fitting.length > 0 ? fitting : all;
  const [unit, ...others] = candidates;
  if (!unit) throw new Problem('serial-unknown', `No unit has the serial ${scan.serial}.`);
  if (others.length > 0) {
    const classes = candidates.map((one) => one.class);
    throw new Problem(
      'serial-ambiguous',
      `Serial ${scan.serial} is borne by units of ${classes.length} classes: say which is meant.`,
      { classes },
    );
  }
  assertLabelAgrees(unit, scan);
  return unit;
}

/** The unit that a scan most likely means, for the record of a refusal; undefined where none is known. */
export function likelyUnit(plant: Plant, unitClass: string, text: string): UnitRow | undefined {
  const answer = parseScan(text);
  const serial = answer.ok ? answer.scan.serial : null;
  if (serial === null) return undefined;
  const [other, ...more] = plant.units.withSerial(serial);
  return plant.units.bySerial(unitClass, serial) ?? (more.length === 0 ? other : undefined);
}

function notOfClass(plant: Plant, unitClass: string, serial: string): Problem {
  const [other] = plant.units.withSerial(serial);
  const wanted = nameOfClass(unitClass);
  if (other) {
    return new Problem(
      'wrong-class',
      `${serial} is a ${nameOfClass(other.class)}; scan the ${wanted} here.`,
      { serial, expectedClass: unitClass, foundClass: other.class },
    );
  }
  const hint =
    unitClass === 'motor' && !hasValidMod37_36CheckCharacter(serial)
      ? ' Its check character is wrong, so it was probably mistyped.'
      : '';
  return new Problem('serial-unknown', `No ${wanted} has the serial ${serial}.${hint}`, { serial });
}

function labelAgrees(unit: UnitRow, scan: Scan): boolean {
  if (scan.partNumber !== null && unit.part !== null && scan.partNumber !== unit.part) return false;
  if (scan.partRevision !== null && unit.partRevision !== null) {
    if (scan.partRevision !== unit.partRevision) return false;
  }
  return scan.gtin === null || unit.gtin === null || scan.gtin === unit.gtin;
}

function assertLabelAgrees(unit: UnitRow, scan: Scan): void {
  if (labelAgrees(unit, scan)) return;
  const named = partNamedBy(scan);
  const recorded = `${unit.part} revision ${unit.partRevision}${unit.gtin === null ? '' : `, GTIN ${unit.gtin}`}`;
  throw new Problem(
    'scan-part-mismatch',
    `The label of ${unit.serial} names ${named}, but it is recorded as ${recorded}.`,
    { serial: unit.serial, label: named, record: recorded },
  );
}

/** All that a label says of its part, as printed. */
function partNamedBy({ partNumber, partRevision, gtin }: Scan): string {
  const said = [
    partNumber,
    partRevision === null ? null : `revision ${partRevision}`,
    gtin === null ? null : `GTIN ${gtin}`,
  ];
  return said.filter((one) => one !== null).join(', ');
}
