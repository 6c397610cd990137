import type { Applier } from '../journal/applier.js';
import type { NewReturn } from './records.js';

const recorded: Applier<NewReturn> = (plant, content, e) =>
  plant.returns.add({ ...content, recordedAtMs: e.recordedAtMs, recordedById: e.keyId });

export const returnEvents = { 'return.recorded': recorded };
