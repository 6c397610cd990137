import type { Applier } from '../journal/applier.js';

const released: Applier<{ motors: { motorId: number; runId: number }[] }> = (
  { release, units },
  { motors },
  e,
) => {
  for (const { motorId, runId } of motors) {
    // The row first: its trigger wants the motor still to be passed.
    release.add({ motorId, runId, keyId: e.keyId, atMs: e.occurredAtMs });
    units.setState(motorId, 'released');
  }
};

export const releaseEvents = { 'motor.released': released };
