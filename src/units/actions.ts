import type { z } from 'zod';
import type { PartRow } from '../catalogue/records.js';
import { attributeOf } from '../catalogue/rules.js';
import type { Command } from '../command.js';
import { DEPTH_LIMIT } from '../genealogy/records.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import type { Fitted, LotUse } from './events.js';
import type { Fastening, Hold, UnitRow } from './records.js';
import { readSerialScan, resolveUnit } from './resolve.js';
import { fasteningConforms, inspectionKindOf, isHalf, looseJoints, nameOfClass } from './rules.js';
import type {
  fasteningDraft,
  fasteningsDraft,
  holdDraft,
  inspectionDraft,
  installationDraft,
  lotUse,
  lotUsesDraft,
  removalDraft,
  unitDraft,
} from './schema.js';

type Draft = z.output<typeof unitDraft>;

/** Enters a unit with its upstream inspection, as accepted or as rejected. */
export function enterUnit(command: Command, draft: Draft): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const scan = readSerialScan(draft.serial);
  assertEnterable(plant, draft.class, scan.serial);
  const part = partOf(plant, draft, scan);
  const fastenings = (draft.fastenings ?? []).map((one) => judgeFastening(one, now, occurredAtMs));
  if (draft.inspection.result === 'accepted') assertAcceptable(draft.class, fastenings);
  const id = plant.units.nextId();
  const components = componentsOf(plant, id, draft.components ?? []);
  command.record(
    'unit.entered',
    {
      unit: {
        id,
        class: draft.class,
        serial: scan.serial,
        partId: part.id,
        modelId: null,
        attributes: soundAttributes(part.attributes, draft.attributes ?? {}),
        state: draft.inspection.result,
      },
      inspection: inspectionOf(draft.class, draft.inspection, occurredAtMs),
      fastenings,
      lots: lotUsesOf(plant, draft.lots ?? []),
      components,
    },
    {
      units: [id, ...components.map((one) => one.childId)],
      station: draft.station ?? null,
      occurredAtMs,
    },
  );
  return existing(plant, id);
}

/** Inspects a unit again: what was rejected may be accepted after rework, and the reverse. */
export function inspectUnit(command: Command, draft: z.output<typeof inspectionDraft>): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  if (unit.class === 'motor') {
    throw new Problem('wrong-class', 'A motor is tested, not inspected: scan a part.');
  }
  assertNotScrapped(unit);
  assertLoose(plant, unit);
  const fastenings = (draft.fastenings ?? []).map((one) => judgeFastening(one, now, occurredAtMs));
  if (draft.result === 'accepted') {
    assertAcceptable(unit.class, [...plant.units.fastenings(unit.id), ...fastenings]);
  }
  command.record(
    'unit.inspected',
    {
      unitId: unit.id,
      inspection: inspectionOf(unit.class, draft, occurredAtMs),
      fastenings,
    },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return existing(plant, unit.id);
}

/** Records fastenings; one outside its window puts the unit on hold in the same transaction. */
export function fastenUnit(
  command: Command,
  draft: z.output<typeof fasteningsDraft>,
): { unit: UnitRow; outside: string[] } {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  assertNotScrapped(unit);
  const fastenings = draft.fastenings.map((one) => judgeFastening(one, now, occurredAtMs));
  const outside = fastenings.filter((one) => !one.conforms).map((one) => one.joint);
  const reason = `Outside its window: ${outside.join(', ')}`.slice(0, 500);
  command.record(
    'unit.fastened',
    {
      unitId: unit.id,
      fastenings,
      hold: outside.length > 0 ? { id: plant.units.nextHoldId(), reason } : null,
    },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return { unit: existing(plant, unit.id), outside };
}

/** Records that lots were used on a unit. */
export function useLots(command: Command, draft: z.output<typeof lotUsesDraft>): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  assertNotScrapped(unit);
  command.record(
    'unit.lot-used',
    { unitId: unit.id, lots: lotUsesOf(plant, draft.lots) },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return existing(plant, unit.id);
}

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
  return existing(plant, child.id);
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
  const parent = existing(plant, place.parentId);
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
  return existing(plant, child.id);
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

/** The cause of the holds that containments place, and only they lift. */
const CONTAINMENT = 'containment';

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
  if (hold.liftedAtMs !== null) {
    throw new Problem('hold-lifted', `Hold ${id} was lifted by ${hold.liftedBy}.`);
  }
  command.record('unit.hold-lifted', { id, reason }, { units: [hold.unitId] });
  return existingHold(plant, id);
}

function existing(plant: Plant, id: number): UnitRow {
  const unit = plant.units.byId(id);
  if (!unit) throw new Error(`unit ${id} vanished inside its own transaction`);
  return unit;
}

function existingHold(plant: Plant, id: number): Hold {
  const hold = plant.units.hold(id);
  if (!hold) throw new Problem('hold-unknown', `There is no hold ${id}.`);
  return hold;
}

function assertEnterable(plant: Plant, unitClass: string, serial: string): void {
  if (unitClass === 'motor') {
    throw new Problem(
      'part-not-for-class',
      'A motor comes from setting its two halves, not from here.',
    );
  }
  if (!plant.catalogue.hasClass(unitClass)) {
    throw new Problem('part-class-unknown', `There is no part class ${unitClass}.`);
  }
  if (plant.units.bySerial(unitClass, serial)) {
    throw new Problem(
      'serial-exists',
      `A ${nameOfClass(unitClass)} with the serial ${serial} is entered already.`,
      { serial },
    );
  }
}

function partOf(
  plant: Plant,
  draft: Draft,
  scan: { partNumber: string | null; partRevision: string | null; gtin: string | null },
): PartRow {
  const number = draft.part?.number ?? scan.partNumber;
  const revision = draft.part?.revision ?? scan.partRevision;
  if (!number || !revision) {
    throw new Problem(
      'part-unknown',
      'Neither the request nor the label names part number and revision.',
    );
  }
  const part = plant.catalogue.part(number, revision);
  if (!part) throw new Problem('part-unknown', `There is no part ${number} revision ${revision}.`);
  if (part.class !== draft.class) {
    throw new Problem('part-not-for-class', `Part ${number} is no ${nameOfClass(draft.class)}.`);
  }
  const contradicted =
    (scan.partNumber !== null && scan.partNumber !== number) ||
    (scan.partRevision !== null && scan.partRevision !== revision) ||
    (scan.gtin !== null && part.gtin !== null && scan.gtin !== part.gtin);
  if (contradicted) {
    throw new Problem(
      'scan-part-mismatch',
      `The label names another part than ${number} revision ${revision}.`,
    );
  }
  return part;
}

/** Attributes recorded for one unit may add to those of its part, not contradict them. */
function soundAttributes(ofPart: Record<string, string>, own: Record<string, string>) {
  const errors = Object.entries(own)
    .filter(([name, value]) => (attributeOf(ofPart, name) ?? value) !== value)
    .map(([name, value]) => ({
      pointer: `/attributes/${name}`,
      detail: `the part has ${ofPart[name]}, not ${value}`,
    }));
  if (errors.length > 0) {
    throw new Problem('unit-invalid', 'The unit contradicts its part.', { errors });
  }
  return own;
}

/** A fastening with its verdict; it happened with the request where it names no time of its own. */
function judgeFastening(
  draft: z.output<typeof fasteningDraft>,
  now: number,
  occurredAtMs: number,
): Fastening {
  const fastening = {
    joint: draft.joint,
    tool: draft.tool,
    torque: draft.torque,
    torqueLower: draft.torqueLower,
    torqueUpper: draft.torqueUpper,
    torqueUnit: draft.torqueUnit,
    angle: draft.angle ?? null,
    angleLower: draft.angleLower ?? null,
    angleUpper: draft.angleUpper ?? null,
    angleUnit: draft.angleUnit ?? null,
    atMs: happenedAt(now, draft.occurredAt ?? occurredAtMs),
  };
  return { ...fastening, conforms: fasteningConforms(fastening) };
}

function assertAcceptable(unitClass: string, fastenings: readonly Fastening[]): void {
  if (unitClass === 'powerhead' && fastenings.length === 0) {
    throw new Problem('unit-invalid', 'A powerhead is accepted with its fastening results only.', {
      errors: [{ pointer: '/fastenings', detail: 'is needed for an accepted powerhead' }],
    });
  }
  const loose = looseJoints(fastenings);
  if (loose.length === 0) return;
  throw new Problem(
    'fastening-outside-window',
    `Not acceptable: ${loose.join(', ')} is fastened outside its window.`,
    { joints: loose },
  );
}

function inspectionOf(
  unitClass: string,
  draft: { result: 'accepted' | 'rejected'; note?: string | null | undefined },
  atMs: number,
) {
  return {
    kind: inspectionKindOf(unitClass),
    result: draft.result,
    note: draft.note ?? null,
    atMs,
  };
}

function lotUsesOf(plant: Plant, drafts: readonly z.output<typeof lotUse>[]): LotUse[] {
  const errors: Fault[] = [];
  const uses = drafts.map(({ part: number, revision, lot }, i) => {
    const part = plant.catalogue.part(number, revision);
    if (!part) {
      errors.push({
        pointer: `/lots/${i}`,
        detail: `there is no part ${number} revision ${revision}`,
      });
    } else if (part.tracking !== 'lot') {
      errors.push({
        pointer: `/lots/${i}`,
        detail: `part ${number} is tracked by serial, not by lot`,
      });
    }
    return { partId: part?.id ?? 0, lot };
  });
  if (errors.length > 0) throw new Problem('unit-invalid', 'A lot cannot be recorded.', { errors });
  return uses;
}

function componentsOf(
  plant: Plant,
  parentId: number,
  drafts: NonNullable<Draft['components']>,
): Fitted[] {
  const taken = new Set<string>();
  const used = new Set<number>();
  return drafts.map((draft) => {
    const child = resolveUnit(plant, draft.class, draft.serial);
    assertComponent(child);
    assertFree(plant, child);
    // The unit that is entered stands in nothing yet, so it is the one level above.
    assertDepth(plant, 1, child, draft.class);
    const position = draft.position ?? draft.class;
    if (taken.has(position) || used.has(child.id)) {
      throw new Problem(
        'position-occupied',
        `Position ${position} is filled twice in this request.`,
      );
    }
    taken.add(position);
    used.add(child.id);
    return { parentId, position, childId: child.id };
  });
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
      `${nameOfClass(unit.class)} ${unit.serial} is rejected: its ${inspectionKindOf(unit.class)} has to accept it first.`,
      { serial: unit.serial },
    );
  }
  const held = openHoldIn(plant, unit.id);
  if (held) throw onHold(held);
}

/** The first open hold on a unit or on anything in it. */
export function openHoldIn(plant: Plant, unitId: number): Hold | undefined {
  return plant.genealogy
    .tree(unitId)
    .flatMap((node) => plant.units.holdsOf(node.unitId))
    .find((hold) => hold.liftedAtMs === null);
}

export function onHold(hold: Hold): Problem {
  return new Problem(
    'on-hold',
    `${nameOfClass(hold.class)} ${hold.serial} is on hold (${hold.cause}): ${hold.reason}`,
    { serial: hold.serial, hold: hold.id },
  );
}

function assertNotScrapped(unit: UnitRow): void {
  if (unit.state !== 'scrapped') return;
  throw new Problem('scrapped', `${nameOfClass(unit.class)} ${unit.serial} is scrapped.`, {
    serial: unit.serial,
  });
}

function assertLoose(plant: Plant, unit: UnitRow): void {
  const place = plant.genealogy.openOfChild(unit.id);
  const parent = place && plant.units.byId(place.parentId);
  if (!parent) return;
  throw new Problem(
    'already-installed',
    `${nameOfClass(unit.class)} ${unit.serial} is in ${nameOfClass(parent.class)} ${parent.serial} already.`,
    { serial: unit.serial, parentClass: parent.class, parentSerial: parent.serial },
  );
}

/** Components are fitted before the motor is under test; later a repair exchanges them. */
function assertOpenToFitting(plant: Plant, parent: UnitRow): void {
  assertNotScrapped(parent);
  const top = existing(plant, plant.genealogy.outermost(parent.id));
  if (top.class !== 'motor' || top.state === 'awaiting-test') return;
  throw new Problem(
    'motor-state',
    `Motor ${top.serial} is ${top.state}: parts change in a repair only.`,
    { motor: top.serial, state: top.state },
  );
}

/** A component also leaves a torn down motor, or it would be in it for good. */
function assertOpenToTaking(plant: Plant, parent: UnitRow): void {
  const top = existing(plant, plant.genealogy.outermost(parent.id));
  if (top.state !== 'torn-down') assertOpenToFitting(plant, parent);
}

/** Halves come together by a set alone, which checks what goes with what. */
function assertComponent(unit: UnitRow): void {
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
  const above = plant.genealogy.ancestors(parent.id);
  if (above.some((one) => one.unitId === child.id)) {
    throw new Problem('installation-depth', `${parent.serial} is itself in ${child.serial}.`);
  }
  assertDepth(plant, above.length, child, position);
}

/** @param above levels over the child: what it is to be in, and what that is in */
function assertDepth(plant: Plant, above: number, child: UnitRow, position: string): void {
  const levels = plant.genealogy.tree(child.id).map((node) => node.depth);
  if (above + Math.max(...levels) < DEPTH_LIMIT) return;
  throw new Problem(
    'installation-depth',
    `${child.serial} in position ${position} would nest units deeper than ${DEPTH_LIMIT} levels.`,
  );
}
