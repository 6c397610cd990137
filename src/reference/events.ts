import type { Applier } from '../journal/applier.js';
import { REFERENCE, type Shift } from './rules.js';

interface Designated {
  id: number;
  motorId: number;
  intervalHours: number;
  baselineRuns: number;
  cells: string[];
  reason: string;
  holdId: number;
}

const designated: Applier<Designated> = ({ reference, units }, { cells, ...content }, e) => {
  const { id, motorId, intervalHours, reason, holdId } = content;
  const { recordedAtMs: atMs, keyId } = e;
  units.placeHold({
    id: holdId,
    unitId: motorId,
    cause: REFERENCE,
    reason: `Reference motor: ${reason}`,
    placedAtMs: atMs,
    placedById: keyId,
  });
  reference.designate({ ...content, atMs, keyId });
  reference.schedule({ id, intervalHours, atMs }, { kept: [], added: cells });
};

interface Rescheduled {
  id: number;
  intervalHours: number;
  /** Cells that had to run it before, and go on. */
  kept: string[];
  added: string[];
  reason: string;
}

const rescheduled: Applier<Rescheduled> = (
  { reference },
  { id, intervalHours, kept, added },
  e,
) => {
  reference.setInterval(id, intervalHours);
  reference.schedule({ id, intervalHours, atMs: e.recordedAtMs }, { kept, added });
};

const retired: Applier<{ id: number; holdId: number; reason: string }> = (
  { reference, units },
  { id, holdId, reason },
  e,
) => {
  const { recordedAtMs: atMs, keyId } = e;
  reference.retire({ id, reason, atMs, keyId });
  reference.unschedule(id);
  units.liftHold({ id: holdId, reason, liftedAtMs: atMs, liftedById: keyId });
};

interface ReferenceRun {
  id: number;
  referenceMotorId: number;
  specificationId: number;
  cell: string;
  /** The judged values in the specification's order, eight bytes each, as base64. */
  judged: string;
  /** How many of them were compared with the motor's history, and those that were off it. */
  compared: number;
  shifts: Shift[];
}

const run: Applier<ReferenceRun> = ({ reference }, { judged, ...content }, e) =>
  reference.addRun({
    ...content,
    judged: Buffer.from(judged, 'base64'),
    atMs: e.occurredAtMs,
    recordedById: e.keyId,
  });

export const referenceEvents = {
  'reference.designated': designated,
  'reference.rescheduled': rescheduled,
  'reference.retired': retired,
  'reference.run': run,
};
