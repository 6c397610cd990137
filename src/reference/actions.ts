import type { z } from 'zod';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { soundReadings } from '../testing/actions.js';
import { packJudged } from '../testing/packing.js';
import { type Judgement, judgeRun } from '../testing/rules.js';
import { happenedAt } from '../time.js';
import { assertNotScrapped } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { resolveUnit } from '../units/resolve.js';
import type { ReferenceMotorRow, ReferenceRunRow } from './records.js';
import { compareWithHistory, isAtRest, type Observed } from './rules.js';
import {
  BASELINE_RUNS_DEFAULT,
  type referenceMotorDraft,
  type referenceRunDraft,
  type scheduleDraft,
} from './schema.js';
import { valueReader } from './values.js';

/** Makes a motor a reference: it is held, and each of its cells has to run it in time. */
export function designateReference(
  command: Command,
  draft: z.output<typeof referenceMotorDraft>,
): ReferenceMotorRow {
  const { plant } = command;
  const motor = resolveUnit(plant, 'motor', draft.motor);
  const known = plant.reference.inUse(motor.id);
  if (known) {
    throw new Problem(
      'reference-motor-exists',
      `Motor ${motor.serial} is reference motor ${known.id} already.`,
      { motor: motor.serial, referenceMotor: known.id },
    );
  }
  assertAtRest(motor);
  const id = plant.reference.nextMotorId();
  command.record(
    'reference.designated',
    {
      id,
      motorId: motor.id,
      intervalHours: draft.intervalHours,
      baselineRuns: draft.baselineRuns ?? BASELINE_RUNS_DEFAULT,
      cells: draft.cells,
      reason: draft.reason,
      holdId: plant.units.nextHoldId(),
    },
    { units: [motor.id] },
  );
  return existingReference(plant, id);
}

/** Changes how often, and in which cells, a reference motor has to run. */
export function rescheduleReference(
  command: Command,
  id: number,
  { cells, intervalHours, reason }: z.output<typeof scheduleDraft>,
): ReferenceMotorRow {
  const { plant } = command;
  const reference = existingReference(plant, id);
  assertInUse(reference);
  const before = new Set(reference.cells);
  const kept = cells.filter((cell) => before.has(cell));
  const added = cells.filter((cell) => !before.has(cell));
  command.record(
    'reference.rescheduled',
    { id, intervalHours, kept, added, reason },
    { units: [reference.motorId] },
  );
  return existingReference(plant, id);
}

/** Ends a reference motor: no cell runs it any more, and its hold is lifted. */
export function retireReference(command: Command, id: number, reason: string): ReferenceMotorRow {
  const { plant } = command;
  const reference = existingReference(plant, id);
  assertInUse(reference);
  const { holdId, motorId } = reference;
  command.record('reference.retired', { id, holdId, reason }, { units: [motorId] });
  return existingReference(plant, id);
}

/**
 * Records that a cell ran a reference motor, and compares what it read with the motor's
 * accepted history. It is no attempt and has no verdict.
 */
export function recordReferenceRun(
  command: Command,
  draft: z.output<typeof referenceRunDraft>,
): ReferenceRunRow {
  const { plant, now } = command;
  const { cell } = draft;
  const happenedAtMs = happenedAt(now, draft.occurredAt);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  const reference = referenceOf(plant, motor);
  assertAtRest(motor);
  assertScheduled(reference, cell);
  const specification = plant.specifications.inForce(reference.modelId, now);
  if (!specification) {
    throw new Problem('no-specification', `No specification of model ${motor.model} is in force.`);
  }
  const judgements = judgementsOf(specification, draft.readings);
  const observed = besideHistory(plant, reference, specification, judgements);
  const id = plant.reference.nextRunId();
  command.record(
    'reference.run',
    {
      id,
      referenceMotorId: reference.id,
      specificationId: specification.id,
      cell,
      judged: packJudged(judgements.map((one) => one.value)).toString('base64'),
      ...compareWithHistory(observed, reference.baselineRuns),
    },
    {
      units: [motor.id],
      station: cell,
      // It was no reference before.
      occurredAtMs: Math.max(reference.designatedAtMs, happenedAtMs),
    },
  );
  return existingReferenceRun(plant, id);
}

export function existingReference(plant: Plant, id: number): ReferenceMotorRow {
  const row = plant.reference.referenceMotor(id);
  if (!row) throw new Problem('reference-motor-unknown', `There is no reference motor ${id}.`);
  return row;
}

export function existingReferenceRun(plant: Plant, id: number): ReferenceRunRow {
  const row = plant.reference.referenceRun(id);
  if (!row) throw new Problem('reference-run-unknown', `There is no reference run ${id}.`);
  return row;
}

function referenceOf(plant: Plant, motor: UnitRow): ReferenceMotorRow {
  const reference = plant.reference.inUse(motor.id);
  if (reference) return reference;
  throw new Problem(
    'not-a-reference-motor',
    `Motor ${motor.serial} is no reference motor: start a test run of it, or have quality designate it.`,
    { motor: motor.serial },
  );
}

function assertInUse(reference: ReferenceMotorRow): void {
  if (reference.retiredAtMs === null) return;
  throw new Problem(
    'reference-motor-retired',
    `Reference motor ${reference.id}, ${reference.motor}, was retired by ${reference.retiredBy}.`,
    { motor: reference.motor },
  );
}

function assertAtRest(motor: UnitRow): void {
  assertNotScrapped(motor);
  if (isAtRest(motor.state)) return;
  throw new Problem(
    'motor-state',
    `Motor ${motor.serial} is ${motor.state}: a reference motor awaits its test or has passed it.`,
    { motor: motor.serial, state: motor.state },
  );
}

function assertScheduled(reference: ReferenceMotorRow, cell: string): void {
  if (reference.cells.includes(cell)) return;
  throw new Problem(
    'cell-not-scheduled',
    `Reference motor ${reference.motor} runs in ${reference.cells.join(', ')}, not in ${cell}: check the cell's name, or have quality change the schedule.`,
    { motor: reference.motor, cells: reference.cells },
  );
}

/** @throws Problem reading-invalid, run-incomplete */
function judgementsOf(
  specification: SpecificationRow,
  drafts: z.output<typeof referenceRunDraft>['readings'],
): Judgement[] {
  const readings = soundReadings(specification, drafts);
  const answer = judgeRun(specification.characteristics, readings);
  if (answer.complete) return answer.run.judgements;
  const codes = answer.missing.map((one) => one.code).join(', ');
  throw new Problem('run-incomplete', `Still missing: ${codes}.`, { missing: answer.missing });
}

/** Each number of a run beside the first ones that the reference motor gave of it. */
function besideHistory(
  plant: Plant,
  { id, baselineRuns }: ReferenceMotorRow,
  { characteristics }: SpecificationRow,
  judgements: readonly Judgement[],
): Observed[] {
  const measured = characteristics.flatMap((one, i) => {
    const value = judgements[i]?.value;
    if (one.kind === 'attribute' || typeof value !== 'number') return [];
    const { code, unit } = one;
    const history: number[] = [];
    return [{ observed: { code, unit, value, history }, read: valueReader(plant, one) }];
  });
  let waiting = measured;
  for (const run of plant.reference.runsInOrder(id)) {
    waiting = waiting.filter(({ observed }) => observed.history.length < baselineRuns);
    if (waiting.length === 0) break;
    for (const { observed, read } of waiting) {
      const value = read(run);
      if (value !== null) observed.history.push(value);
    }
  }
  return measured.map((one) => one.observed);
}
