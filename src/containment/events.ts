import type { Applier, EventMeta } from '../journal/applier.js';
import type { Plant } from '../plant.js';
import type { Condition } from '../tracing/schema.js';
import { CONTAINMENT } from '../units/rules.js';
import type { ContainmentDisposition, Joining } from './records.js';

interface Opened {
  id: number;
  title: string;
  condition: Condition;
  joining: Joining[];
}

const opened: Applier<Opened> = (plant, { id, title, condition, joining }, e) => {
  plant.containment.add({
    id,
    title,
    condition,
    openedAtMs: e.recordedAtMs,
    openedById: e.keyId,
  });
  joinAll(plant, id, title, joining, e);
};

const joined: Applier<{ id: number; title: string; joining: Joining[] }> = (
  plant,
  { id, title, joining },
  e,
) => joinAll(plant, id, title, joining, e);

function joinAll(
  plant: Plant,
  id: number,
  title: string,
  joining: readonly Joining[],
  e: EventMeta,
): void {
  for (const alike of joining) {
    const { firstHoldId, unitIds } = alike;
    if (firstHoldId !== null) {
      plant.units.placeHolds({
        firstHoldId,
        unitIds,
        cause: CONTAINMENT,
        reason: `Containment ${id}: ${title}`,
        placedAtMs: e.recordedAtMs,
        placedById: e.keyId,
      });
    }
    plant.containment.join({ ...alike, containmentId: id, atMs: e.recordedAtMs });
  }
}

/** What becomes of one contained unit. */
export interface Disposed {
  unitId: number;
  /** Its hold of this containment, to be lifted. */
  holdId: number | null;
  /** The repair that rework opens on a motor. */
  repairId: number | null;
  /** The open repair that scrapping ends. */
  endedRepairId: number | null;
  /** The order that lacks a motor again when one is scrapped. */
  orderId: number | null;
  state: 'in-repair' | 'rejected' | 'scrapped' | null;
}

interface Dispositions {
  id: number;
  disposition: ContainmentDisposition;
  evidence: string;
  units: Disposed[];
}

const disposed: Applier<Dispositions> = (plant, { id, disposition, evidence, units }, e) => {
  const { recordedAtMs: atMs, keyId } = e;
  plant.containment.dispose({
    containmentId: id,
    unitIds: units.map((unit) => unit.unitId),
    disposition,
    evidence,
    disposedAtMs: atMs,
    disposedById: keyId,
  });
  plant.units.liftHolds({
    ids: units.flatMap(({ holdId }) => (holdId === null ? [] : [holdId])),
    reason: evidence,
    liftedAtMs: atMs,
    liftedById: keyId,
  });
  for (const unit of units) {
    const { unitId, repairId, endedRepairId, orderId, state } = unit;
    if (repairId !== null) {
      plant.repair.open({
        id: repairId,
        motorId: unitId,
        runId: null,
        openedAtMs: atMs,
        complaint: evidence,
      });
    }
    if (endedRepairId !== null) {
      plant.repair.end({ id: endedRepairId, outcome: 'scrapped', note: evidence, atMs, keyId });
    }
    if (orderId !== null) plant.orders.count(orderId, -1);
    if (state === 'scrapped') {
      plant.repair.addDisposition({
        unitId,
        runId: null,
        kind: 'scrap',
        reason: evidence,
        keyId,
        atMs,
      });
    }
    if (state !== null) plant.units.setState(unitId, state);
  }
};

const closed: Applier<{ id: number; reason: string }> = (plant, { id, reason }, e) =>
  plant.containment.close({ id, reason, closedAtMs: e.recordedAtMs, closedById: e.keyId });

export const containmentEvents = {
  'containment.opened': opened,
  'containment.joined': joined,
  'containment.disposed': disposed,
  'containment.closed': closed,
};
