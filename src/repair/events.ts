import type { Applier } from '../journal/applier.js';
import { fitUnit, takeUnitOut } from '../units/events.js';

interface Opened {
  id: number;
  motorId: number;
  complaint: string;
}

const opened: Applier<Opened> = ({ repair, units }, { id, motorId, complaint }, e) => {
  repair.open({ id, motorId, complaint, runId: null, openedAtMs: e.occurredAtMs });
  units.setState(motorId, 'in-repair');
};

interface Exchanged {
  repairId: number;
  motorId: number;
  parentId: number;
  position: string;
  removedId: number | null;
  removedAs: 'accepted' | 'rejected';
  fittedId: number | null;
}

const exchanged: Applier<Exchanged> = (plant, content, e) => {
  const { repairId, parentId, position, removedId, removedAs, fittedId } = content;
  const atMs = e.occurredAtMs;
  if (removedId !== null) takeUnitOut(plant, removedId, removedAs, atMs);
  if (fittedId !== null) fitUnit(plant, { parentId, position, childId: fittedId }, atMs);
  plant.repair.addExchange({ repairId, parentId, position, removedId, fittedId, atMs });
};

interface Closed {
  id: number;
  motorId: number;
  symptom: string;
  cause: string;
  action: string;
  note: string | null;
}

const closed: Applier<Closed> = (
  { repair, units },
  { id, motorId, symptom, cause, action, note },
  e,
) => {
  const { occurredAtMs: atMs, keyId } = e;
  repair.end({ id, outcome: 'repaired', symptom, cause, action, note, atMs, keyId });
  units.setState(motorId, 'awaiting-test');
};

interface RetestAllowed {
  motorId: number;
  /** The open repair that ends as no fault found; null for a motor that had passed. */
  repairId: number | null;
  reason: string;
}

const retestAllowed: Applier<RetestAllowed> = (
  { repair, units },
  { motorId, repairId, reason },
  e,
) => {
  const { occurredAtMs: atMs, keyId } = e;
  if (repairId !== null) {
    repair.end({ id: repairId, outcome: 'no-fault-found', note: reason, atMs, keyId });
  }
  units.setState(motorId, 'awaiting-test');
};

interface Disposed {
  unitId: number;
  kind: 'rework' | 'scrap' | 'concession';
  reason: string;
  /** The failed run that a concession is about. */
  runId: number | null;
  /** The open repair that it ends. */
  repairId: number | null;
  /** The order that lacks a motor again when one is scrapped. */
  orderId: number | null;
}

const disposed: Applier<Disposed> = (plant, content, e) => {
  const { unitId, kind, reason, runId, repairId, orderId } = content;
  const { occurredAtMs: atMs, keyId } = e;
  plant.repair.addDisposition({ unitId, runId, kind, reason, keyId, atMs });
  if (kind === 'rework') return;
  const [state, outcome] =
    kind === 'scrap' ? (['scrapped', 'scrapped'] as const) : (['passed', 'concession'] as const);
  if (repairId !== null) plant.repair.end({ id: repairId, outcome, note: reason, atMs, keyId });
  if (orderId !== null) plant.orders.count(orderId, -1);
  plant.units.setState(unitId, state);
};

export const repairEvents = {
  'repair.opened': opened,
  'repair.exchanged': exchanged,
  'repair.closed': closed,
  'retest.allowed': retestAllowed,
  'unit.disposed': disposed,
};
