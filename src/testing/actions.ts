import { hash } from 'node:crypto';
import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import { onHold, openHoldIn } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { resolveUnit } from '../units/resolve.js';
import type { YieldKey } from '../yield/records.js';
import type { BatchPosted } from './events.js';
import { packJudged, packReadings, READING_BYTES, unpackReadings } from './packing.js';
import type { RunRow } from './records.js';
import { type JudgedRun, judgeRun, type Reading, readingFault } from './rules.js';
import {
  type batchDraft,
  type completionDraft,
  READINGS_LIMIT,
  type reading,
  type runDraft,
} from './schema.js';

/** Starts a run: the specification in force now judges it, whatever is approved later. */
export function startRun(command: Command, draft: z.output<typeof runDraft>): RunRow {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  assertTestable(plant, motor);
  assertCellFree(plant, draft.cell);
  const specification = plant.specifications.inForce(motor.modelId ?? 0, now);
  if (!specification) {
    throw new Problem('no-specification', `No specification of model ${motor.model} is in force.`);
  }
  const id = plant.testing.nextRunId();
  command.record(
    'run.started',
    { id, motorId: motor.id, specificationId: specification.id, cell: draft.cell },
    { units: [motor.id], station: draft.cell, occurredAtMs },
  );
  return existingRun(plant, id);
}

/**
 * Keeps a batch of readings. The same batch again changes nothing, also after the run
 * has ended; a batch may come late or out of order, since its number orders it.
 */
export function postBatch(
  command: Command,
  runId: number,
  draft: z.output<typeof batchDraft>,
): RunRow {
  const { plant, now } = command;
  const measuredAtMs = happenedAt(now, draft.measuredAt);
  const run = existingRun(plant, runId);
  const specification = existingSpecification(plant, run.specificationId);
  const readings = soundReadings(specification, draft.readings);
  const packed = packReadings(specification.characteristics, readings);
  const known = plant.testing.batch(runId, draft.sequence);
  if (known) {
    if (known.packed.equals(packed)) return run;
    throw new Problem(
      'batch-conflict',
      `Batch ${draft.sequence} of run ${runId} is recorded with other readings.`,
    );
  }
  assertOpen(run);
  assertRoom(plant.testing.held(runId).readings, readings.length);
  command.record(
    'run.readings',
    { runId, ...batchPosted(draft.sequence, measuredAtMs, packed) },
    { units: [run.motorId], station: run.cell, occurredAtMs: measuredAtMs },
    packed,
  );
  return run;
}

export interface CompletionDone {
  /** The run as it was before. */
  run: RunRow;
  attempt: number;
  firstPass: boolean | null;
  cellVerdict: 'pass' | 'fail' | null;
  disagreement: boolean;
  judged: JudgedRun;
  repairId: number | null;
}

/**
 * Completes a run: the server judges all its readings, a failed motor goes to repair,
 * and the roll-ups count it, in one transaction.
 */
export function completeRun(
  command: Command,
  runId: number,
  draft: z.output<typeof completionDraft>,
): CompletionDone {
  const { plant, now } = command;
  const run = existingRun(plant, runId);
  const occurredAtMs = endedAt(now, run, draft.occurredAt);
  assertOpen(run);
  const specification = existingSpecification(plant, run.specificationId);
  if (draft.batches !== undefined) assertAllBatches(plant, run, draft.batches);
  const last = draft.readings
    ? lastBatch(plant, run, specification, draft.readings, occurredAtMs)
    : null;
  const judged = judge(plant, run, specification, last?.readings ?? []);
  const earlier = plant.testing.attempts(run.motorId);
  const firstPass = earlier === 0 ? isFirstPass(plant, run, judged) : null;
  const cellVerdict = draft.cellVerdict ?? null;
  const repairId = judged.verdict === 'fail' ? plant.repair.nextId() : null;
  const outcome = {
    attempt: earlier + 1,
    verdict: judged.verdict,
    firstPass,
    cellVerdict,
    disagreement: cellVerdict !== null && cellVerdict !== judged.verdict,
  };
  command.record(
    'run.completed',
    {
      id: runId,
      motorId: run.motorId,
      specificationId: run.specificationId,
      batch: last?.posted ?? null,
      failedIds: failedIds(specification, judged),
      repair: repairId === null ? null : { id: repairId, complaint: complaintOf(judged) },
      counted: yieldKey(command, run, occurredAtMs),
      ...outcome,
    },
    { units: [run.motorId], station: run.cell, occurredAtMs },
    Buffer.concat([
      ...(last ? [last.packed] : []),
      packJudged(judged.judgements.map((one) => one.value)),
    ]),
  );
  return { run, judged, repairId, ...outcome };
}

/** A motor that was repaired before its first completed run is not first-pass. */
function isFirstPass(plant: Plant, run: RunRow, judged: JudgedRun): boolean {
  if (judged.verdict === 'fail') return false;
  return !plant.repair.wasRepaired(run.motorId);
}

/** Ends a run without a verdict; the motor waits for another. It counts as no attempt. */
export function abortRun(
  command: Command,
  runId: number,
  draft: { reason: string; occurredAt?: number | undefined },
): RunRow {
  const { plant, now } = command;
  const run = existingRun(plant, runId);
  const occurredAtMs = endedAt(now, run, draft.occurredAt);
  assertOpen(run);
  command.record(
    'run.aborted',
    {
      id: runId,
      motorId: run.motorId,
      reason: draft.reason,
      counted: yieldKey(command, run, occurredAtMs),
    },
    { units: [run.motorId], station: run.cell, occurredAtMs },
  );
  return existingRun(plant, runId);
}

/** Another cell, or the same one after a restart, takes an open run over with its readings. */
export function resumeRun(command: Command, runId: number, cell: string): RunRow {
  const { plant } = command;
  const run = existingRun(plant, runId);
  assertOpen(run);
  if (run.cell === cell) return run;
  assertCellFree(plant, cell);
  command.record(
    'run.resumed',
    { id: runId, motorId: run.motorId, fromCell: run.cell, cell },
    { units: [run.motorId], station: cell },
  );
  return existingRun(plant, runId);
}

/** When a run ended: not before it started, so that it is counted on the day that it states. */
function endedAt(now: number, run: RunRow, occurredAt: number | undefined): number {
  return Math.max(run.startedAtMs, happenedAt(now, occurredAt));
}

export function existingRun(plant: Plant, id: number): RunRow {
  const run = plant.testing.run(id);
  if (!run) throw new Problem('run-unknown', `There is no test run ${id}.`);
  return run;
}

/** All readings of a run in the cell's order: the last of a characteristic counts. */
export function readingsOf(
  plant: Plant,
  runId: number,
  specification: SpecificationRow,
): Reading[] {
  return plant.testing
    .batches(runId)
    .flatMap((batch) => unpackReadings(specification.characteristics, batch.packed));
}

/** Required characteristics that have no value yet. */
export function outstanding(plant: Plant, run: RunRow): string[] {
  const specification = existingSpecification(plant, run.specificationId);
  const answer = judgeRun(specification.characteristics, readingsOf(plant, run.id, specification));
  return answer.complete ? [] : answer.missing.map((one) => one.code);
}

/**
 * Judges the readings that a run holds, and the last ones, which are not kept yet.
 * @throws Problem run-incomplete with everything that is missing
 */
function judge(
  plant: Plant,
  run: RunRow,
  specification: SpecificationRow,
  last: readonly Reading[],
): JudgedRun {
  const readings = [...readingsOf(plant, run.id, specification), ...last];
  const answer = judgeRun(specification.characteristics, readings);
  if (answer.complete) return answer.run;
  const codes = answer.missing.map((one) => one.code).join(', ');
  throw new Problem('run-incomplete', `Still missing: ${codes}.`, { missing: answer.missing });
}

function assertTestable(plant: Plant, motor: UnitRow): void {
  if (motor.state !== 'awaiting-test') {
    const open = plant.testing.openOfMotor(motor.id);
    const where = open ? ` in cell ${open.cell}, run ${open.id}` : '';
    throw new Problem('motor-state', `Motor ${motor.serial} is ${motor.state}${where}.`, {
      motor: motor.serial,
      state: motor.state,
      ...(open ? { run: open.id, cell: open.cell } : {}),
    });
  }
  const held = openHoldIn(plant, motor.id);
  if (held) throw onHold(held);
}

function assertCellFree(plant: Plant, cell: string): void {
  const open = plant.testing.openInCell(cell);
  if (!open) return;
  throw new Problem('cell-busy', `Cell ${cell} has motor ${open.motor} in run ${open.id}.`, {
    run: open.id,
    motor: open.motor,
  });
}

function assertOpen(run: RunRow): void {
  if (run.state === 'open') return;
  throw new Problem('run-not-open', `Run ${run.id} is ${run.state}.`, { state: run.state });
}

function assertAllBatches(plant: Plant, run: RunRow, sent: number): void {
  const kept = new Set(plant.testing.batches(run.id).map((batch) => batch.sequence));
  const missing = Array.from({ length: sent }, (_, i) => i + 1).filter((n) => !kept.has(n));
  if (missing.length === 0) return;
  throw new Problem(
    'run-incomplete',
    `Batches have not arrived: ${missing.slice(0, 20).join(', ')}.`,
    {
      missing: missing
        .slice(0, 100)
        .map((n) => ({ code: `batch ${n}`, reason: 'has not arrived' })),
    },
  );
}

/** Readings as a specification takes them. @throws Problem reading-invalid, with every fault */
export function soundReadings(
  specification: SpecificationRow,
  drafts: readonly z.output<typeof reading>[],
): Reading[] {
  const byCode = new Map(specification.characteristics.map((one) => [one.code, one]));
  const errors: Fault[] = [];
  const readings = drafts.map(({ code, value, unit }, i): Reading => {
    const characteristic = byCode.get(code);
    const read = { code, value, unit: unit ?? null };
    const fault = characteristic
      ? readingFault(characteristic, read)
      : `the specification has no characteristic ${code}`;
    if (fault !== null) errors.push({ pointer: `/readings/${i}`, detail: fault });
    return read;
  });
  if (errors.length > 0) {
    throw new Problem('reading-invalid', `${errors.length} of the readings cannot be taken.`, {
      errors: errors.slice(0, 100),
    });
  }
  return readings;
}

interface LastBatch {
  readings: Reading[];
  packed: Buffer;
  posted: BatchPosted;
}

/** The readings that a completion brings, as the batch after all others. */
function lastBatch(
  plant: Plant,
  run: RunRow,
  specification: SpecificationRow,
  drafts: readonly z.output<typeof reading>[],
  measuredAtMs: number,
): LastBatch {
  const readings = soundReadings(specification, drafts);
  const packed = packReadings(specification.characteristics, readings);
  const held = plant.testing.held(run.id);
  assertRoom(held.readings, readings.length);
  const posted = batchPosted(held.lastBatch + 1, measuredAtMs, packed);
  return { readings, packed, posted };
}

function batchPosted(sequence: number, measuredAtMs: number, packed: Buffer): BatchPosted {
  const count = packed.length / READING_BYTES;
  return { sequence, measuredAtMs, count, digest: hash('sha256', packed, 'hex') };
}

/** @throws Problem too-many-readings */
function assertRoom(held: number, more: number): void {
  if (held + more <= READINGS_LIMIT) return;
  throw new Problem('too-many-readings', `A run holds at most ${READINGS_LIMIT} readings.`);
}

function failedIds(specification: SpecificationRow, judged: JudgedRun): number[] {
  const failed = new Set(judged.failed);
  return specification.characteristicIds.filter((_, i) => {
    const code = specification.characteristics[i]?.code;
    return code !== undefined && failed.has(code);
  });
}

function complaintOf(judged: JudgedRun): string {
  return `Failed the hot test: ${judged.failed.join(', ')}`.slice(0, 500);
}

/** Under what a run is counted: its place, and the plant day and shift in which it ended. */
function yieldKey({ plant, settings }: Command, run: RunRow, endedAtMs: number): YieldKey {
  const place = plant.pairing.placeOf(run.motorId);
  if (!place) throw new Error(`motor ${run.motor} has no set`);
  const { configurationId, station } = place;
  const { day, shift } = plant.calendar.shiftAt(endedAtMs, settings.timeZone);
  const code = shift?.code ?? null;
  return { day, shift: code, modelId: run.modelId, configurationId, cell: run.cell, station };
}
