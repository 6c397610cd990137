import type { Applier, EventMeta } from '../journal/applier.js';
import type { Plant } from '../plant.js';
import { countedDay, firstAttempt, laterInspection, type StepCounts } from '../yield/step-rules.js';
import type { Fastening, Inspection, NewUnit, UnitState } from './records.js';

export interface LotUse {
  partId: number;
  lot: string;
}

export interface Fitted {
  parentId: number;
  position: string;
  childId: number;
}

interface Entered {
  /** The plant day on which the inspection counts; missing in old events. */
  day?: string;
  unit: NewUnit;
  inspection: Inspection;
  fastenings: Fastening[];
  lots: LotUse[];
  components: Fitted[];
}

const entered: Applier<Entered> = (
  plant,
  { day, unit, inspection, fastenings, lots, components },
  e,
) => {
  const { units } = plant;
  units.add({ enteredAtMs: e.occurredAtMs, ...unit });
  units.addInspection(unit.id, inspection);
  for (const one of fastenings) units.addFastening(unit.id, one);
  for (const { partId, lot } of lots) units.useLot(unit.id, partId, lot, e.occurredAtMs);
  for (const one of components) fitUnit(plant, one, e.occurredAtMs);
  countInspection(plant, day, inspection, e, firstAttempt(inspection.result === 'accepted'));
};

function countInspection(
  plant: Plant,
  day: string | undefined,
  { kind }: Inspection,
  e: EventMeta,
  counts: StepCounts,
): void {
  const key = { day: countedDay(day, e.occurredAtMs), step: kind, place: e.station ?? '' };
  plant.rework.countStep(key, counts);
}

/** Fits a unit: its installation, and its own state. */
export function fitUnit(plant: Plant, { parentId, position, childId }: Fitted, atMs: number): void {
  plant.genealogy.install(parentId, position, childId, atMs);
  plant.units.setState(childId, 'installed');
}

/** Takes a unit out of what it is in; `as` is what it is from then on. */
export function takeUnitOut(plant: Plant, childId: number, as: UnitState, atMs: number): void {
  plant.genealogy.remove(childId, atMs);
  plant.units.setState(childId, as);
}

interface Inspected {
  /** As of a unit that is entered. */
  day?: string;
  unitId: number;
  inspection: Inspection;
  fastenings: Fastening[];
}

const inspected: Applier<Inspected> = (plant, { day, unitId, inspection, fastenings }, e) => {
  const { units } = plant;
  units.addInspection(unitId, inspection);
  for (const one of fastenings) units.addFastening(unitId, one);
  units.setState(unitId, inspection.result);
  countInspection(plant, day, inspection, e, laterInspection(inspection.result === 'accepted'));
};

interface Fastened {
  unitId: number;
  fastenings: Fastening[];
  /** The hold that a fastening outside its window places; null when all conform. */
  hold: { id: number; reason: string } | null;
}

const fastened: Applier<Fastened> = ({ units }, { unitId, fastenings, hold }, e) => {
  for (const one of fastenings) units.addFastening(unitId, one);
  if (!hold) return;
  const { keyId: placedById, occurredAtMs: placedAtMs } = e;
  units.placeHold({ ...hold, unitId, cause: 'fastening', placedAtMs, placedById });
};

const lotUsed: Applier<{ unitId: number; lots: LotUse[] }> = ({ units }, { unitId, lots }, e) => {
  for (const { partId, lot } of lots) units.useLot(unitId, partId, lot, e.occurredAtMs);
};

const installed: Applier<Fitted> = (plant, fitted, e) => fitUnit(plant, fitted, e.occurredAtMs);

interface Removed {
  unitId: number;
  parentId: number;
  position: string;
  as: 'accepted' | 'rejected';
  reason: string;
}

const removed: Applier<Removed> = (plant, { unitId, as }, e) =>
  takeUnitOut(plant, unitId, as, e.occurredAtMs);

interface Held {
  id: number;
  unitId: number;
  cause: string;
  reason: string;
}

const held: Applier<Held> = ({ units }, content, e) =>
  units.placeHold({ ...content, placedAtMs: e.occurredAtMs, placedById: e.keyId });

const holdLifted: Applier<{ id: number; reason: string }> = ({ units }, { id, reason }, e) =>
  units.liftHold({ id, reason, liftedAtMs: e.recordedAtMs, liftedById: e.keyId });

export const unitEvents = {
  'unit.entered': entered,
  'unit.inspected': inspected,
  'unit.fastened': fastened,
  'unit.lot-used': lotUsed,
  'unit.installed': installed,
  'unit.removed': removed,
  'unit.held': held,
  'unit.hold-lifted': holdLifted,
};
