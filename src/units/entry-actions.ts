import type { z } from 'zod';
import type { PartRow } from '../catalogue/records.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import {
  assertComponent,
  assertDepth,
  assertFree,
  assertLoose,
  assertNotScrapped,
  existingUnit,
} from './actions.js';
import type { Fitted, LotUse } from './events.js';
import type { Fastening, UnitRow } from './records.js';
import { readSerialScan, resolveUnit } from './resolve.js';
import { fasteningConforms, inspectionKindOf, looseJoints, nameOfClass } from './rules.js';
import type {
  fasteningDraft,
  fasteningsDraft,
  inspectionDraft,
  lotUse,
  lotUsesDraft,
  unitDraft,
} from './schema.js';

type Draft = z.output<typeof unitDraft>;

/** Enters a unit with its upstream inspection, as accepted or as rejected. */
export function enterUnit(command: Command, draft: Draft): UnitRow {
  const { plant, now, settings } = command;
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
      day: plant.calendar.shiftAt(occurredAtMs, settings.timeZone).day,
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
  return existingUnit(plant, id);
}

/** Inspects a unit again: what was rejected may be accepted after rework, and the reverse. */
export function inspectUnit(command: Command, draft: z.output<typeof inspectionDraft>): UnitRow {
  const { plant, now, settings } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  if (unit.class === 'motor') {
    throw new Problem('wrong-class', 'A motor is tested, not inspected: scan a part.');
  }
  assertNotScrapped(unit);
  assertLoose(plant, unit);
  const fastenings = (draft.fastenings ?? []).map((one) => judgeFastening(one, now, occurredAtMs));
  if (draft.result === 'accepted') {
    assertAcceptable(unit.class, [...plant.units.fastenings([unit.id]), ...fastenings]);
  }
  command.record(
    'unit.inspected',
    {
      day: plant.calendar.shiftAt(occurredAtMs, settings.timeZone).day,
      unitId: unit.id,
      inspection: inspectionOf(unit.class, draft, occurredAtMs),
      fastenings,
    },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingUnit(plant, unit.id);
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
  return { unit: existingUnit(plant, unit.id), outside };
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
  return existingUnit(plant, unit.id);
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
    .filter(([name, value]) => ofPart[name] !== undefined && ofPart[name] !== value)
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
