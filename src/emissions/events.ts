import type { Applier } from '../journal/applier.js';
import type { NewDraw, NewFamily, NewTest } from './records.js';

/** What the event of a draw states: enough to repeat it and to check it. */
export interface Drawn extends Omit<NewDraw, 'drawnMotorIds'> {
  /** The motors it was drawn from, by their ids, ascending. */
  populationMotorIds: number[];
  drawn: { motorId: number; serial: string }[];
}

const recorded: Applier<NewFamily> = (plant, content, e) =>
  plant.emissions.addFamily({
    ...content,
    recordedAtMs: e.recordedAtMs,
    recordedById: e.keyId,
  });

const drawn: Applier<Drawn> = (plant, { populationMotorIds: _, drawn: engines, ...content }, e) =>
  plant.emissions.addDraw({
    ...content,
    drawnMotorIds: engines.map((one) => one.motorId),
    seq: e.seq,
    drawnAtMs: e.recordedAtMs,
    drawnById: e.keyId,
  });

const tested: Applier<NewTest> = (plant, content, e) =>
  plant.emissions.addTest({
    ...content,
    recordedAtMs: e.recordedAtMs,
    recordedById: e.keyId,
  });

const invalidated: Applier<{ testId: number; reason: string }> = (plant, content, e) =>
  plant.emissions.invalidateTest({ ...content, atMs: e.recordedAtMs, keyId: e.keyId });

export const emissionEvents = {
  'engine-family.recorded': recorded,
  'engines.drawn': drawn,
  'emission-test.recorded': tested,
  'emission-test.invalidated': invalidated,
};
