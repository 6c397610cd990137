import type { z } from 'zod';
import { refusalOf } from '../pairing/recognise.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { assertFree } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { resolveAnyUnit, resolveUnit } from '../units/resolve.js';
import { existingRepair } from './actions.js';
import type { RepairRow } from './records.js';
import type { partScanQuery, partScanShape, repairQuery } from './schema.js';

/**
 * Repairs after one, open, closed or all, of all motors or of one, in the order in which
 * they were opened.
 * @throws Problem scan-unreadable, serial-unknown, wrong-class
 */
export function repairsListed(
  plant: Plant,
  { open, motor }: z.output<typeof repairQuery>,
  afterId: number,
  limit: number,
): RepairRow[] {
  if (motor === undefined) return plant.repair.list(open ?? null, afterId, limit);
  return plant.repair
    .ofMotor(resolveUnit(plant, 'motor', motor).id)
    .filter((one) => one.id > afterId)
    .filter((one) => open === undefined || open === (one.closedAtMs === null))
    .slice(0, limit);
}

/**
 * What a part that was scanned at the bench is to a repair: one that is in its motor, and
 * where, or one from outside, and why it may not be fitted now.
 * @throws Problem repair-unknown, wrong-class for the motor itself, and of `resolveAnyUnit`
 */
export function recognisePart(
  plant: Plant,
  repairId: number,
  { text, class: unitClass }: z.output<typeof partScanQuery>,
): z.input<typeof partScanShape> {
  const { motorId, motor } = existingRepair(plant, repairId);
  const unit = resolveAnyUnit(plant, text, unitClass);
  if (unit.id === motorId) {
    throw new Problem('wrong-class', `${motor} is the motor itself: scan a part of it.`, {
      serial: motor,
      foundClass: 'motor',
    });
  }
  const inside = plant.genealogy.outermost(unit.id) === motorId;
  return {
    class: unit.class,
    serial: unit.serial,
    part: unit.part,
    partRevision: unit.partRevision,
    model: unit.model,
    inside,
    ...(inside ? placeOf(plant, unit) : { position: null, parentClass: null, parent: null }),
    refusal: inside ? null : refusalOf(() => assertFree(plant, unit)),
  };
}

function placeOf(plant: Plant, unit: UnitRow) {
  const place = plant.genealogy.openOfChild(unit.id);
  const parent = place && plant.units.byId(place.parentId);
  return {
    position: place?.position ?? null,
    parentClass: parent?.class ?? null,
    parent: parent?.serial ?? null,
  };
}
