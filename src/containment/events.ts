import type { Applier, EventMeta } from '../journal/applier.js';
import type { Plant } from '../plant.js';
import type { Condition } from '../tracing/schema.js';
import { CONTAINMENT } from '../units/rules.js';
import type { ContainmentDisposition, Joining } from './records.js';

interface Opened {
  id: number;
  title: string;
  condition: Condition;
  units: Joining[];
}

const opened: Applier<Opened> = (plant, { id, title, condition, units }, e) => {
  plant.containment.add({
    id,
    title,
    condition,
    openedAtMs: e.recordedAtMs,
    openedById: e.keyId,
  });
  joinAll(plant, id, title, units, e);
};

const joined: Applier<{ id: number; title: string; units: Joining[] }> = (
  plant,
  { id, title, units },
  e,
) => joinAll(plant, id, title, units, e);

function joinAll(
  plant: Plant,
  id: number,
  title: string,
  units: readonly Joining[],
  e: EventMeta,
): void {
  plant.units.placeHolds({
    units,
    cause: CONTAINMENT,
    reason: `Containment ${id}: ${title}`,
    placedAtMs: e.recordedAtMs,
    placedById: e.keyId,
  });
  plant.containment.join(id, units, e.recordedAtMs);
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
  for (const unit of units) {
    const { unitId, holdId, repairId, endedRepairId, orderId, state } = unit;
    plant.containment.dispose({
      containmentId: id,
      unitId,
      disposition,
      evidence,
      disposedAtMs: atMs,
      disposedById: keyId,
    });
    if (holdId !== null) {
      plant.units.liftHold({ id: holdId, reason: evidence, liftedAtMs: atMs, liftedById: keyId });
    }
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
