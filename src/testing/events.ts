import { advanceCharts } from '../charts/advance.js';
import type { Applier } from '../journal/applier.js';
import { countAbort, countCompletion } from '../yield/count.js';
import type { YieldKey } from '../yield/records.js';
import { READING_BYTES } from './packing.js';

interface Started {
  id: number;
  motorId: number;
  specificationId: number;
  cell: string;
}

const started: Applier<Started> = ({ testing, units }, content, e) => {
  testing.start({ startedAtMs: e.occurredAtMs, startedById: e.keyId, ...content });
  units.setState(content.motorId, 'in-test');
};

/** What an event says of a batch of readings, which stand in their own table. */
export interface BatchPosted {
  sequence: number;
  measuredAtMs: number;
  count: number;
  /** SHA-256 of the packed readings, in hex. */
  digest: string;
}

export interface ReadingsPosted extends BatchPosted {
  runId: number;
}

const readingsPosted: Applier<ReadingsPosted> = ({ testing }, content, _e, packed) => {
  if (!packed) throw new Error('readings came without their bytes');
  const { runId, sequence, measuredAtMs } = content;
  testing.addBatch({ runId, sequence, measuredAtMs, packed });
};

/** Comes with its batch of readings, if any, and the judged values behind them, as one attachment. */
export interface Completed {
  id: number;
  motorId: number;
  specificationId: number;
  /** The last readings, where the completion brought them. */
  batch: BatchPosted | null;
  attempt: number;
  verdict: 'pass' | 'fail';
  /** Whether the motor is first-pass; null for any but its first completed run. */
  firstPass: boolean | null;
  cellVerdict: 'pass' | 'fail' | null;
  disagreement: boolean;
  failedIds: number[];
  /** The repair that a failed run opens. */
  repair: { id: number; complaint: string } | null;
  counted: YieldKey;
}

function splitCompletion(batch: BatchPosted | null, attachment: Buffer) {
  const end = (batch?.count ?? 0) * READING_BYTES;
  return { packed: attachment.subarray(0, end), judged: attachment.subarray(end) };
}

const completed: Applier<Completed> = (plant, content, e, attachment) => {
  if (!attachment) throw new Error('a verdict came without its judged values');
  const { id, motorId, attempt, verdict, firstPass, cellVerdict, disagreement, failedIds } =
    content;
  const { packed, judged } = splitCompletion(content.batch, attachment);
  if (content.batch) {
    const { sequence, measuredAtMs } = content.batch;
    plant.testing.addBatch({ runId: id, sequence, measuredAtMs, packed });
  }
  const endedAtMs = e.occurredAtMs;
  plant.testing.complete({
    id,
    endedAtMs,
    attempt,
    verdict,
    firstPass,
    cellVerdict,
    disagreement,
    judged,
    failedIds,
    countedOn: content.counted,
  });
  plant.series.append(content.specificationId, id);
  advanceCharts(plant, {
    runId: id,
    motorId,
    modelId: content.counted.modelId,
    specificationId: content.specificationId,
    cell: content.counted.cell,
    day: content.counted.day,
    endedAtMs,
    attempt,
    verdict,
    firstPass,
    failedIds,
    judged,
  });
  plant.units.setState(motorId, verdict === 'pass' ? 'passed' : 'in-repair');
  if (content.repair) {
    plant.repair.open({ motorId, runId: id, openedAtMs: endedAtMs, ...content.repair });
  }
  const { counted } = content;
  const defects = failedIds.length;
  countCompletion(plant, { id, motorId, attempt, verdict, firstPass, defects, counted });
};

interface Aborted {
  id: number;
  motorId: number;
  reason: string;
  counted: YieldKey;
}

const aborted: Applier<Aborted> = (plant, { id, motorId, reason, counted }, e) => {
  plant.testing.abort({ id, endedAtMs: e.occurredAtMs, reason, countedOn: counted });
  plant.units.setState(motorId, 'awaiting-test');
  countAbort(plant, counted);
};

const resumed: Applier<{ id: number; motorId: number; fromCell: string; cell: string }> = (
  { testing },
  { id, cell },
) => testing.move(id, cell);

export const testingEvents = {
  'run.started': started,
  'run.readings': readingsPosted,
  'run.completed': completed,
  'run.aborted': aborted,
  'run.resumed': resumed,
};
