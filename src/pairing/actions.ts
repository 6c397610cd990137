import type { z } from 'zod';
import type { ConfigurationRow, ModelRow } from '../catalogue/records.js';
import type { Command } from '../command.js';
import type { Attributes } from '../http/shapes.js';
import { merged } from '../merged.js';
import type { OrderRow } from '../orders/records.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { happenedAt, plantYear } from '../time.js';
import { assertFree } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { likelyUnit, resolveUnit } from '../units/resolve.js';
import { nameOfClass } from '../units/rules.js';
import { attributeConflict } from './rules.js';
import type { setDraft, teardownDraft } from './schema.js';
import { formatSerial } from './serial.js';

export interface PairScans {
  powerhead: string;
  lowerUnit: string;
  order?: string | undefined;
}

/** What setting a pair would make. */
export interface Match {
  powerhead: UnitRow;
  lowerUnit: UnitRow;
  configuration: ConfigurationRow;
  model: ModelRow;
  /** Fixed attributes of model and configuration together. */
  attributes: Attributes;
  order: OrderRow;
}

/**
 * Would this pair do? Writes nothing; the set itself asks the same.
 * @throws Problem with the first reason why not, in the order in which an operator can act on it
 */
export function matchPair(plant: Plant, scans: PairScans, now: number): Match {
  const powerhead = resolveUnit(plant, 'powerhead', scans.powerhead);
  const lowerUnit = resolveUnit(plant, 'lower-unit', scans.lowerUnit);
  assertFree(plant, powerhead);
  assertFree(plant, lowerUnit);
  const candidates = candidatesFor(plant, powerhead, lowerUnit, now);
  const order = orderFor(plant, candidates, scans.order);
  const candidate = candidates.find((one) => one.model.id === order.modelId);
  if (!candidate)
    throw new Error(`order ${order.number} was chosen for a model that is no candidate`);
  return { powerhead, lowerUnit, order, ...candidate };
}

export interface SetDone extends Match {
  serial: string;
}

/**
 * Sets a powerhead and a lower unit together under an order and issues the motor's
 * serial. A refusal is returned, not thrown: it is recorded as an attempt.
 */
export function setPair(command: Command, draft: z.output<typeof setDraft>): SetDone | Problem {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  try {
    const match = matchPair(plant, draft, now);
    return { serial: recordSet(command, draft, match, occurredAtMs), ...match };
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    recordRefusal(command, draft, error, occurredAtMs);
    return error;
  }
}

function recordSet(
  command: Command,
  draft: z.output<typeof setDraft>,
  match: Match,
  occurredAtMs: number,
): string {
  const { plant, settings, now } = command;
  const number = plant.pairing.nextNumber();
  const serial = formatSerial(settings.serialFormat, number, plantYear(now, settings.timeZone));
  const motorId = plant.units.nextId();
  command.record(
    'pair.set',
    {
      motorId,
      serial,
      number,
      modelId: match.model.id,
      attributes: match.attributes,
      powerheadId: match.powerhead.id,
      lowerUnitId: match.lowerUnit.id,
      orderId: match.order.id,
      configurationId: match.configuration.id,
      station: draft.station,
      day: plant.calendar.shiftAt(occurredAtMs, settings.timeZone).day,
      ...scansOf(draft),
    },
    {
      units: [motorId, match.powerhead.id, match.lowerUnit.id],
      station: draft.station,
      occurredAtMs,
    },
  );
  return serial;
}

function recordRefusal(
  command: Command,
  draft: z.output<typeof setDraft>,
  problem: Problem,
  occurredAtMs: number,
): void {
  const { plant, settings } = command;
  const scanned = [
    likelyUnit(plant, 'powerhead', draft.powerhead),
    likelyUnit(plant, 'lower-unit', draft.lowerUnit),
  ];
  const units = scanned.flatMap((unit) => (unit ? [unit.id] : []));
  command.record(
    'pair.refused',
    {
      station: draft.station,
      day: plant.calendar.shiftAt(occurredAtMs, settings.timeZone).day,
      outcome: problem.slug,
      detail: problem.message,
      ...scansOf(draft),
    },
    { units, station: draft.station, occurredAtMs },
  );
}

function scansOf(draft: PairScans) {
  return {
    powerheadScan: draft.powerhead,
    lowerUnitScan: draft.lowerUnit,
    orderNumber: draft.order ?? null,
  };
}

type Candidate = Pick<Match, 'configuration' | 'model' | 'attributes'>;

/** The configurations in force that take the pair with its attributes, each with its model. */
function candidatesFor(
  plant: Plant,
  powerhead: UnitRow,
  lowerUnit: UnitRow,
  now: number,
): Candidate[] {
  const taking = plant.catalogue
    .configurationsTaking(partOf(powerhead), partOf(lowerUnit), now)
    .map((configuration) => withModel(plant, configuration));
  if (taking.length === 0) {
    throw new Problem(
      'no-configuration',
      `No configuration in force takes powerhead ${powerhead.part} revision ${powerhead.partRevision} with lower unit ${lowerUnit.part} revision ${lowerUnit.partRevision}.`,
      { powerheadPart: powerhead.part, lowerUnitPart: lowerUnit.part },
    );
  }
  const checked = taking.map((candidate) => ({
    candidate,
    conflict: attributeConflict(powerhead.attributes, lowerUnit.attributes, candidate.attributes),
  }));
  const fitting = checked.filter((one) => !one.conflict).map((one) => one.candidate);
  const conflict = checked[0]?.conflict;
  if (fitting.length === 0 && conflict) {
    const { attribute, half, found, wanted, wantedBy } = conflict;
    throw new Problem(
      'attribute-conflict',
      `${attribute}: this ${half} has ${found}, the ${wantedBy} ${wantedBy === 'configuration' ? 'wants' : 'has'} ${wanted}.`,
      { ...conflict },
    );
  }
  return fitting;
}

function partOf(unit: UnitRow): { number: string; revision: string } {
  return { number: unit.part ?? '', revision: unit.partRevision ?? '' };
}

function withModel(plant: Plant, configuration: ConfigurationRow): Candidate {
  const model = plant.catalogue.modelById(configuration.modelId);
  if (!model) throw new Error(`configuration ${configuration.id} names no model`);
  return {
    configuration,
    model,
    attributes: merged(model.attributes, configuration.attributes),
  };
}

/** The order that the pair is for: the one scanned, or the most urgent one that fits. */
function orderFor(plant: Plant, candidates: Candidate[], scanned: string | undefined): OrderRow {
  const models = candidates.map((one) => one.model);
  const names = models.map((model) => model.code).join(' or ');
  if (scanned === undefined) {
    const order = plant.orders.mostUrgentOf(models.map((model) => model.id));
    if (order) return order;
    throw new Problem('no-open-order', `No open order asks for model ${names}.`, {
      models: models.map((model) => model.code),
    });
  }
  const order = plant.orders.byNumber(scanned);
  if (!order) throw new Problem('order-unknown', `There is no order ${scanned}.`);
  if (!models.some((model) => model.id === order.modelId)) {
    throw new Problem(
      'no-open-order',
      `Order ${order.number} asks for model ${order.model}; this pair makes model ${names}.`,
      { models: models.map((model) => model.code), orderModel: order.model },
    );
  }
  assertOrderOpen(order);
  return order;
}

/** @throws Problem order-closed, order-complete */
export function assertOrderOpen(order: OrderRow): void {
  if (order.state === 'closed') {
    throw new Problem('order-closed', `Order ${order.number} is closed: ${order.closeReason}`);
  }
  if (order.setCount >= order.quantity) {
    throw new Problem(
      'order-complete',
      `Order ${order.number} is complete: ${order.setCount} of ${order.quantity} motors are set.`,
      {
        order: order.number,
        quantity: order.quantity,
      },
    );
  }
}

export interface TeardownDone {
  motor: string;
  powerhead: string;
  lowerUnit: string;
  order: string;
  held: string[];
}

/** Takes a motor apart: both halves are free again and the order lacks a motor again. */
export function tearDown(command: Command, draft: z.output<typeof teardownDraft>): TeardownDone {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  if (!['awaiting-test', 'in-repair', 'passed'].includes(motor.state)) {
    throw new Problem(
      'motor-state',
      `Motor ${motor.serial} is ${motor.state}: it cannot be torn down.`,
      {
        motor: motor.serial,
        state: motor.state,
      },
    );
  }
  const set = plant.pairing.ofMotor(motor.id);
  if (!set) throw new Error(`motor ${motor.serial} has no set`);
  const halves = {
    powerhead: halfOf(plant, motor, 'powerhead'),
    'lower-unit': halfOf(plant, motor, 'lower-unit'),
  };
  // A hold on the motor must not be got rid of by taking the motor apart.
  const suspect = motor.openHolds > 0 ? (['powerhead', 'lower-unit'] as const) : draft.suspect;
  const suspects = [...new Set(suspect ?? [])].map((half) => halves[half]);
  const firstHold = plant.units.nextHoldId();
  const repair = plant.repair.openOf(motor.id);
  command.record(
    'motor.torn-down',
    {
      motorId: motor.id,
      powerheadId: halves.powerhead.id,
      lowerUnitId: halves['lower-unit'].id,
      orderId: set.orderId,
      reason: draft.reason,
      repairId: repair?.id ?? null,
      holds: suspects.map((unit, i) => ({ id: firstHold + i, unitId: unit.id })),
    },
    {
      units: [motor.id, halves.powerhead.id, halves['lower-unit'].id],
      station: draft.station ?? null,
      occurredAtMs,
    },
  );
  return {
    motor: motor.serial,
    powerhead: halves.powerhead.serial,
    lowerUnit: halves['lower-unit'].serial,
    order: set.order,
    held: suspects.map((unit) => unit.serial),
  };
}

/** The half that is in a motor now; a repair may have exchanged the one it was set with. */
function halfOf(plant: Plant, motor: UnitRow, position: 'powerhead' | 'lower-unit'): UnitRow {
  const place = plant.genealogy.inPosition(motor.id, position);
  const unit = place && plant.units.byId(place.childId);
  if (unit) return unit;
  throw new Problem(
    'motor-state',
    `Motor ${motor.serial} has no ${nameOfClass(position)} in it: fit one in its repair first.`,
    { motor: motor.serial, state: motor.state },
  );
}
