import type { z } from 'zod';
import type { Command } from '../command.js';
import { DEPTH_LIMIT } from '../genealogy/records.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import type { Hold, UnitRow } from './records.js';
import { resolveUnit } from './resolve.js';
import { CONTAINMENT, inspectionKindOf, isHalf, nameOfClass, titleOfClass } from './rules.js';
import type { holdDraft, installationDraft, removalDraft } from './schema.js';

/** Fits an accepted component into a unit that is not under test yet. */
export function installComponent(
  command: Command,
  draft: z.output<typeof installationDraft>,
): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const parent = resolveUnit(plant, draft.parentClass, draft.parent);
  const child = resolveUnit(plant, draft.childClass, draft.child);
  assertComponent(child);
  assertOpenToFitting(plant, parent);
  assertFits(plant, parent, draft.position, child);
  command.record(
    'unit.installed',
    { parentId: parent.id, position: draft.position, childId: child.id },
    { units: [parent.id, child.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingUnit(plant, child.id);
}

/** Takes a component out of a unit that is not under test yet. */
export function removeComponent(command: Command, draft: z.output<typeof removalDraft>): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const child = resolveUnit(plant, draft.class, draft.unit);
  const place = plant.genealogy.openOfChild(child.id);
  if (!place) {
    throw new Problem('unit-invalid', `${child.serial} is installed nowhere.`);
  }
  const parent = existingUnit(plant, place.parentId);
  if (parent.class === 'motor' && isHalf(child.class)) {
    throw new Problem(
      'motor-state',
      `${child.serial} is the ${nameOfClass(child.class)} of motor ${parent.serial}: exchange it in a repair, or tear the motor down.`,
    );
  }
  assertOpenToTaking(plant, parent);
  command.record(
    'unit.removed',
    {
      unitId: child.id,
      parentId: place.parentId,
      position: place.position,
      as: draft.as,
      reason: draft.reason,
    },
    { units: [child.id, place.parentId], station: draft.station ?? null, occurredAtMs },
  );
  return existingUnit(plant, child.id);
}

/** Puts a unit on hold, whatever its state, unless it is scrapped. */
export function placeHold(command: Command, draft: z.output<typeof holdDraft>): Hold {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  assertNotScrapped(unit);
  if (draft.cause === CONTAINMENT) {
    throw new Problem('unit-invalid', 'Holds with the cause containment come from containments.', {
      errors: [{ pointer: '/cause', detail: 'is kept for containments' }],
    });
  }
  const id = plant.units.nextHoldId();
  command.record(
    'unit.held',
    { id, unitId: unit.id, cause: draft.cause, reason: draft.reason },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingHold(plant, id);
}

/** Lifts one hold; the unit is free when none is left. */
export function liftHold(command: Command, id: number, reason: string): Hold {
  const { plant } = command;
  const hold = existingHold(plant, id);
  if (hold.cause === CONTAINMENT) {
    throw new Problem(
      'hold-of-containment',
      `Hold ${id} was placed by a containment: ${hold.reason}`,
    );
  }
  if (plant.reference.inUse(hold.unitId)?.holdId === id) {
    throw new Problem(
      'hold-of-reference-motor',
      `Hold ${id} keeps reference motor ${hold.serial} from being shipped.`,
    );
  }
  if (hold.liftedAtMs !== null) {
    throw new Problem('hold-lifted', `Hold ${id} was lifted by ${hold.liftedBy}.`);
  }
  command.record('unit.hold-lifted', { id, reason }, { units: [hold.unitId] });
  return existingHold(plant, id);
}

export function existingUnit(plant: Plant, id: number): UnitRow {
  const unit = plant.units.byId(id);
  if (!unit) throw new Error(`unit ${id} vanished inside its own transaction`);
  return unit;
}

function existingHold(plant: Plant, id: number): Hold {
  const hold = plant.units.hold(id);
  if (!hold) throw new Problem('hold-unknown', `There is no hold ${id}.`);
  return hold;
}

/**
 * A unit that can be installed: accepted, not on hold, in nothing yet.
 * @throws Problem scrapped, already-installed, not-accepted, on-hold
 */
export function assertFree(plant: Plant, unit: UnitRow): void {
  assertNotScrapped(unit);
  assertLoose(plant, unit);
  if (unit.state !== 'accepted') {
    throw new Problem(
      'not-accepted',
      `${titleOfClass(unit.class)} ${unit.serial} is rejected: its ${inspectionKindOf(unit.class)} has to accept it first.`,
      { serial: unit.serial },
    );
  }
  const held = openHoldIn(plant, unit.id);
  if (held) throw onHold(held);
}

/** The first open hold on a unit or on anything in it. */
export function openHoldIn(plant: Plant, unitId: number): Hold | undefined {
  const inside = plant.genealogy.tree(unitId).map((node) => node.unitId);
  return plant.units.openHoldsOf(inside)[0];
}

export function onHold(hold: Hold): Problem {
  return new Problem(
    'on-hold',
    `${titleOfClass(hold.class)} ${hold.serial} is on hold (${hold.cause}): ${hold.reason}`,
    { serial: hold.serial, hold: hold.id },
  );
}

export function assertNotScrapped(unit: UnitRow): void {
  if (unit.state !== 'scrapped') return;
  throw new Problem('scrapped', `${titleOfClass(unit.class)} ${unit.serial} is scrapped.`, {
    serial: unit.serial,
  });
}

export function assertLoose(plant: Plant, unit: UnitRow): void {
  const place = plant.genealogy.openOfChild(unit.id);
  const parent = place && plant.units.byId(place.parentId);
  if (!parent) return;
  throw new Problem(
    'already-installed',
    `${titleOfClass(unit.class)} ${unit.serial} is in ${nameOfClass(parent.class)} ${parent.serial} already.`,
    { serial: unit.serial, parentClass: parent.class, parentSerial: parent.serial },
  );
}

/** Components are fitted before the motor is under test; later a repair exchanges them. */
function assertOpenToFitting(plant: Plant, parent: UnitRow): void {
  assertNotScrapped(parent);
  const top = existingUnit(plant, plant.genealogy.outermost(parent.id));
  if (top.class !== 'motor' || top.state === 'awaiting-test') return;
  throw new Problem(
    'motor-state',
    `Motor ${top.serial} is ${top.state}: parts change in a repair only.`,
    { motor: top.serial, state: top.state },
  );
}

/** A component also leaves a torn down motor, or it would be in it for good. */
function assertOpenToTaking(plant: Plant, parent: UnitRow): void {
  const top = existingUnit(plant, plant.genealogy.outermost(parent.id));
  if (top.state !== 'torn-down') assertOpenToFitting(plant, parent);
}

/** Halves come together by a set alone, which checks what goes with what. */
export function assertComponent(unit: UnitRow): void {
  if (unit.class !== 'motor' && !isHalf(unit.class)) return;
  throw new Problem(
    'wrong-class',
    `${unit.serial} is a ${nameOfClass(unit.class)}, which is no component: scan the component.`,
    { serial: unit.serial, foundClass: unit.class },
  );
}

/** @throws Problem position-occupied, installation-depth, and those of assertFree */
export function assertFits(plant: Plant, parent: UnitRow, position: string, child: UnitRow): void {
  assertFree(plant, child);
  const occupant = plant.genealogy.inPosition(parent.id, position);
  const held = occupant && plant.units.byId(occupant.childId);
  if (held) {
    throw new Problem(
      'position-occupied',
      `Position ${position} of ${parent.serial} holds ${held.serial}.`,
      { position, occupant: held.serial },
    );
  }
  assertNests(plant, parent, position, child);
}

/** @throws Problem installation-depth where the child holds the parent, or would nest too deep */
export function assertNests(plant: Plant, parent: UnitRow, position: string, child: UnitRow): void {
  const above = plant.genealogy.ancestors(parent.id);
  if (above.some((one) => one.unitId === child.id)) {
    throw new Problem('installation-depth', `${parent.serial} is itself in ${child.serial}.`);
  }
  assertDepth(plant, above.length, child, position);
}

/** @param above levels over the child: what it is to be in, and what that is in */
export function assertDepth(plant: Plant, above: number, child: UnitRow, position: string): void {
  const levels = plant.genealogy.tree(child.id).map((node) => node.depth);
  if (above + Math.max(...levels) < DEPTH_LIMIT) return;
  throw new Problem(
    'installation-depth',
    `${child.serial} in position ${position} would nest units deeper than ${DEPTH_LIMIT} levels.`,
  );
}
