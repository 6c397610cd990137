import type { z } from 'zod';
import { conflictBetween } from '../catalogue/rules.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import { assertFits, assertFree, assertNests, existingUnit } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { resolveUnit } from '../units/resolve.js';
import { nameOfClass, titleOfClass } from '../units/rules.js';
import { existingRepair, openRepairOf } from './actions.js';
import type { RepairRow } from './records.js';
import type { exchangeDraft } from './schema.js';

/** Takes a part out, fits one, or both, in one position of the motor under repair. */
export function exchangePart(
  command: Command,
  repairId: number,
  draft: z.output<typeof exchangeDraft>,
): RepairRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const repair = openRepairOf(plant, repairId);
  const parent = resolveUnit(plant, draft.parentClass, draft.parent);
  assertInside(plant, repair, parent);
  const removed =
    draft.removed === undefined ? null : occupant(plant, parent, draft.position, draft.removed);
  const fitted = draft.fitted && resolveUnit(plant, draft.fitted.class, draft.fitted.serial);
  if (fitted) assertExchangeFits(plant, parent, draft.position, fitted, removed);
  command.record(
    'repair.exchanged',
    {
      repairId,
      motorId: repair.motorId,
      parentId: parent.id,
      position: draft.position,
      removedId: removed?.id ?? null,
      removedAs: draft.removedAs ?? 'rejected',
      fittedId: fitted?.id ?? null,
    },
    {
      units: [
        repair.motorId,
        parent.id,
        ...[removed, fitted].flatMap((one) => (one ? [one.id] : [])),
      ],
      station: draft.station ?? null,
      occurredAtMs,
    },
  );
  return existingRepair(plant, repairId);
}

function assertInside(plant: Plant, repair: RepairRow, parent: UnitRow): void {
  if (plant.genealogy.outermost(parent.id) === repair.motorId) return;
  throw new Problem(
    'unit-invalid',
    `${titleOfClass(parent.class)} ${parent.serial} is not in motor ${repair.motor}.`,
  );
}

/** The unit in a position, if it is the one that was scanned. */
function occupant(plant: Plant, parent: UnitRow, position: string, scan: string): UnitRow {
  const place = plant.genealogy.inPosition(parent.id, position);
  if (!place) {
    throw new Problem('unit-invalid', `Position ${position} of ${parent.serial} is empty.`);
  }
  const unit = existingUnit(plant, place.childId);
  const scanned = resolveUnit(plant, unit.class, scan);
  if (scanned.id === unit.id) return unit;
  throw new Problem(
    'unit-invalid',
    `Position ${position} of ${parent.serial} holds ${unit.serial}, not ${scanned.serial}.`,
    { position, occupant: unit.serial },
  );
}

/** What goes in must fit; a half of a motor must be the same part, or one its configuration takes. */
function assertExchangeFits(
  plant: Plant,
  parent: UnitRow,
  position: string,
  fitted: UnitRow,
  removed: UnitRow | null,
): void {
  assertClassBelongs(parent, position, fitted, removed);
  if (removed === null) {
    assertFits(plant, parent, position, fitted);
  } else {
    assertFree(plant, fitted);
    assertNests(plant, parent, position, fitted);
  }
  if (parent.class === 'motor') assertHalfFits(plant, parent, position, fitted);
}

const otherHalf = { powerhead: 'lower-unit', 'lower-unit': 'powerhead' } as const;
type HalfPosition = keyof typeof otherHalf;
const isHalf = (name: string): name is HalfPosition => Object.hasOwn(otherHalf, name);

/** Like replaces like, and a half goes nowhere but into its own position of a motor. */
function assertClassBelongs(
  parent: UnitRow,
  position: string,
  fitted: UnitRow,
  removed: UnitRow | null,
): void {
  const ofHalf = parent.class === 'motor' && isHalf(position);
  const expected = ofHalf ? position : removed?.class;
  const strayHalf = !ofHalf && (fitted.class === 'motor' || isHalf(fitted.class));
  if (fitted.class === expected || (expected === undefined && !strayHalf)) return;
  const wanted = expected === undefined ? 'component' : nameOfClass(expected);
  throw new Problem(
    'wrong-class',
    `${fitted.serial} is a ${nameOfClass(fitted.class)}; a ${wanted} belongs here.`,
    { serial: fitted.serial, expectedClass: expected ?? null, foundClass: fitted.class },
  );
}

function assertHalfFits(plant: Plant, motor: UnitRow, position: string, fitted: UnitRow): void {
  if (!isHalf(position)) return;
  const set = plant.pairing.ofMotor(motor.id);
  const configuration = set && plant.catalogue.configuration(set.configurationId);
  if (!configuration) throw new Error(`motor ${motor.serial} has no configuration`);
  const [number, revision] =
    position === 'powerhead'
      ? [configuration.powerheadNumber, configuration.powerheadRevision]
      : [configuration.lowerUnitNumber, configuration.lowerUnitRevision];
  if (fitted.part !== number || (revision !== null && fitted.partRevision !== revision)) {
    throw new Problem(
      'no-configuration',
      `Motor ${motor.serial} was set under ${configuration.code} revision ${configuration.revision}, which takes ${number}${revision === null ? '' : ` revision ${revision}`}, not ${fitted.part} revision ${fitted.partRevision}.`,
    );
  }
  assertAttributesAgree(motor, fitted);
  const other = plant.genealogy.inPosition(motor.id, otherHalf[position]);
  if (other) assertAttributesAgree(existingUnit(plant, other.childId), fitted);
}

function assertAttributesAgree(present: UnitRow, fitted: UnitRow): void {
  const conflict = conflictBetween(present.attributes, fitted.attributes);
  if (!conflict) return;
  const { attribute, a, b } = conflict;
  throw new Problem(
    'attribute-conflict',
    `${attribute}: the ${nameOfClass(present.class)} has ${a}, this ${nameOfClass(fitted.class)} has ${b}.`,
    { attribute, wanted: a, found: b },
  );
}
