import type { Applier } from '../journal/applier.js';

interface Recorded {
  id: number;
  unitId: number;
  motorId: number;
  releasedOn: string;
  returnedOn: string;
  fullMonths: number;
  hoursRun: number | null;
  symptom: string;
  finding: string | null;
}

const recorded: Applier<Recorded> = (plant, content, e) =>
  plant.returns.add({ ...content, recordedAtMs: e.recordedAtMs, recordedById: e.keyId });

export const returnEvents = { 'return.recorded': recorded };
