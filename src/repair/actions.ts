import type { z } from 'zod';
import type { RepairCode } from '../catalogue/records.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import { existingUnit } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { resolveUnit } from '../units/resolve.js';
import { nameOfClass } from '../units/rules.js';
import type { RepairRow } from './records.js';
import type { closureDraft, dispositionDraft, repairDraft, retestDraft } from './schema.js';

/** Opens a repair for a nonconformance found outside a test run. */
export function openRepair(command: Command, draft: z.output<typeof repairDraft>): RepairRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  assertState(motor, ['awaiting-test', 'passed'], 'a repair cannot be opened');
  const id = plant.repair.nextId();
  command.record(
    'repair.opened',
    { id, motorId: motor.id, complaint: draft.complaint },
    { units: [motor.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingRepair(plant, id);
}

/** Closes a repair; the motor waits for its next test. Both halves have to be in it. */
export function closeRepair(
  command: Command,
  repairId: number,
  draft: z.output<typeof closureDraft>,
): RepairRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const repair = openRepairOf(plant, repairId);
  const { symptom, cause, action } = draft;
  assertCode(plant, 'symptom', symptom);
  assertCode(plant, 'cause', cause);
  assertCode(plant, 'action', action);
  assertWhole(plant, repair);
  command.record(
    'repair.closed',
    { id: repairId, motorId: repair.motorId, symptom, cause, action, note: draft.note ?? null },
    { units: [repair.motorId], station: draft.station ?? null, occurredAtMs },
  );
  return existingRepair(plant, repairId);
}

/** Lets a motor be tested again without a repair; an open repair ends as no fault found. */
export function allowRetest(command: Command, draft: z.output<typeof retestDraft>): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  assertState(motor, ['in-repair', 'passed'], 'there is nothing to test again');
  const repair = plant.repair.openOf(motor.id);
  if (repair) {
    assertUntouched(plant, repair);
    assertWhole(plant, repair);
  }
  command.record(
    'retest.allowed',
    { motorId: motor.id, repairId: repair?.id ?? null, reason: draft.reason },
    { units: [motor.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingUnit(plant, motor.id);
}

/** Decides what becomes of a nonconforming unit: rework, scrap or concession (ISO 9000 words). */
export function disposeUnit(command: Command, draft: z.output<typeof dispositionDraft>): UnitRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const unit = resolveUnit(plant, draft.class, draft.unit);
  const repair = unit.class === 'motor' ? plant.repair.openOf(unit.id) : undefined;
  const runId = dispositionRun(plant, unit, draft.kind, repair);
  const scrapsMotor = draft.kind === 'scrap' && unit.class === 'motor';
  command.record(
    'unit.disposed',
    {
      unitId: unit.id,
      kind: draft.kind,
      reason: draft.reason,
      runId,
      repairId: repair?.id ?? null,
      orderId: scrapsMotor ? (plant.pairing.ofMotor(unit.id)?.orderId ?? null) : null,
    },
    { units: [unit.id], station: draft.station ?? null, occurredAtMs },
  );
  return existingUnit(plant, unit.id);
}

export function existingRepair(plant: Plant, id: number): RepairRow {
  const repair = plant.repair.repair(id);
  if (!repair) throw new Problem('repair-unknown', `There is no repair ${id}.`);
  return repair;
}

/** @throws Problem repair-unknown, repair-closed */
export function openRepairOf(plant: Plant, id: number): RepairRow {
  const repair = existingRepair(plant, id);
  if (repair.closedAtMs === null) return repair;
  throw new Problem('repair-closed', `Repair ${id} ended as ${repair.outcome}.`, {
    outcome: repair.outcome,
  });
}

function assertState(motor: UnitRow, states: readonly string[], otherwise: string): void {
  if (states.includes(motor.state)) return;
  throw new Problem('motor-state', `Motor ${motor.serial} is ${motor.state}: ${otherwise}.`, {
    motor: motor.serial,
    state: motor.state,
  });
}

/** A motor leaves repair with both halves in it. */
function assertWhole(plant: Plant, repair: RepairRow): void {
  const empty = (['powerhead', 'lower-unit'] as const).filter(
    (position) => !plant.genealogy.inPosition(repair.motorId, position),
  );
  if (empty.length === 0) return;
  throw new Problem(
    'motor-state',
    `Motor ${repair.motor} has no ${empty.map(nameOfClass).join(' and no ')} in it.`,
    { motor: repair.motor },
  );
}

/** Where a part was exchanged something was repaired, so it is no case of no fault found. */
function assertUntouched(plant: Plant, repair: RepairRow): void {
  if (plant.repair.exchanges(repair.id).length === 0) return;
  throw new Problem(
    'motor-state',
    `Parts were exchanged in repair ${repair.id}: close it with its cause and action instead.`,
    { motor: repair.motor, repair: repair.id },
  );
}

function assertCode(plant: Plant, kind: RepairCode['kind'], code: string): void {
  if (plant.catalogue.repairCode(kind, code)) return;
  throw new Problem('repair-code-unknown', `There is no ${kind} code ${code}.`, { kind, code });
}

/** The failed run that a concession accepts; checks that the disposition fits the unit. */
function dispositionRun(
  plant: Plant,
  unit: UnitRow,
  kind: 'rework' | 'scrap' | 'concession',
  repair: RepairRow | undefined,
): number | null {
  const impossible = (why: string) =>
    new Problem('disposition-not-possible', `${unit.serial} cannot have a ${kind}: ${why}.`, {
      serial: unit.serial,
      state: unit.state,
    });
  if (kind === 'concession') {
    if (!repair) throw impossible('only a motor in repair after a failed test can');
    if (repair.runId === null) throw impossible('its repair was not opened by a failed test');
    if (plant.repair.exchanges(repair.id).length > 0) {
      throw impossible('parts were exchanged since it was tested');
    }
    return repair.runId;
  }
  if (kind === 'rework') {
    if (unit.state !== 'rejected') throw impossible(`it is ${unit.state}, not rejected`);
    return null;
  }
  const keep = ['installed', 'in-test', 'released', 'torn-down', 'scrapped'];
  if (keep.includes(unit.state)) throw impossible(`it is ${unit.state}`);
  return null;
}
