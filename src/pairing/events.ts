import type { Attributes } from '../http/shapes.js';
import type { Applier, EventMeta } from '../journal/applier.js';
import type { Plant } from '../plant.js';
import { fitUnit, takeUnitOut } from '../units/events.js';
import { countedDay, firstAttempt, SET } from '../yield/step-rules.js';

interface Scans {
  powerheadScan: string;
  lowerUnitScan: string;
  orderNumber: string | null;
  /** The plant day on which the attempt counts; missing in old events. */
  day?: string;
}

interface Set extends Scans {
  motorId: number;
  serial: string;
  /** Running number that the serial was made from. */
  number: number;
  modelId: number;
  attributes: Attributes;
  powerheadId: number;
  lowerUnitId: number;
  orderId: number;
  configurationId: number;
  station: string;
}

const set: Applier<Set> = (plant, content, e) => {
  const { motorId, powerheadId, lowerUnitId, orderId, configurationId, station } = content;
  const { occurredAtMs: atMs, keyId } = e;
  plant.units.add({
    id: motorId,
    class: 'motor',
    serial: content.serial,
    partId: null,
    modelId: content.modelId,
    attributes: content.attributes,
    state: 'awaiting-test',
    enteredAtMs: atMs,
  });
  plant.pairing.advance(content.number + 1);
  fitUnit(plant, { parentId: motorId, position: 'powerhead', childId: powerheadId }, atMs);
  fitUnit(plant, { parentId: motorId, position: 'lower-unit', childId: lowerUnitId }, atMs);
  plant.orders.count(orderId, 1);
  plant.pairing.addSet({
    motorId,
    powerheadId,
    lowerUnitId,
    orderId,
    configurationId,
    station,
    keyId,
    atMs,
  });
  plant.pairing.addAttempt({
    station,
    keyId,
    atMs,
    outcome: 'set',
    detail: content.serial,
    motorId,
    ...scansOf(content),
  });
  countAttempt(plant, content, e, true);
};

interface Refused extends Scans {
  station: string;
  outcome: string;
  detail: string;
}

const refused: Applier<Refused> = (plant, content, e) => {
  plant.pairing.addAttempt({
    station: content.station,
    keyId: e.keyId,
    atMs: e.occurredAtMs,
    outcome: content.outcome,
    detail: content.detail,
    motorId: null,
    ...scansOf(content),
  });
  countAttempt(plant, content, e, false);
};

function countAttempt(
  plant: Plant,
  { day, station }: { day?: string; station: string },
  e: EventMeta,
  passed: boolean,
): void {
  const key = { day: countedDay(day, e.occurredAtMs), step: SET, place: station };
  plant.rework.countStep(key, firstAttempt(passed));
}

function scansOf({ powerheadScan, lowerUnitScan, orderNumber }: Scans): Scans {
  return { powerheadScan, lowerUnitScan, orderNumber };
}

interface TornDown {
  motorId: number;
  powerheadId: number;
  lowerUnitId: number;
  orderId: number;
  reason: string;
  /** The open repair that ends with it. */
  repairId: number | null;
  /** Halves that are suspect: each goes on hold as it is freed. */
  holds: { id: number; unitId: number }[];
}

const tornDown: Applier<TornDown> = (plant, content, e) => {
  const { motorId, powerheadId, lowerUnitId, orderId, reason, repairId, holds } = content;
  const { occurredAtMs: atMs, keyId } = e;
  takeUnitOut(plant, powerheadId, 'accepted', atMs);
  takeUnitOut(plant, lowerUnitId, 'accepted', atMs);
  plant.orders.count(orderId, -1);
  plant.pairing.tearDown({ motorId, atMs, reason });
  plant.units.setState(motorId, 'torn-down');
  if (repairId !== null) {
    plant.repair.end({ id: repairId, outcome: 'torn-down', note: reason, atMs, keyId });
  }
  for (const hold of holds) {
    plant.units.placeHold({
      ...hold,
      cause: 'teardown',
      reason,
      placedAtMs: atMs,
      placedById: keyId,
    });
  }
};

export const pairingEvents = {
  'pair.set': set,
  'pair.refused': refused,
  'motor.torn-down': tornDown,
};
