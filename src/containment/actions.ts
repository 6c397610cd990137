import type { z } from 'zod';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { isInside, pick } from '../tracing/questions.js';
import type { Picked, Reason } from '../tracing/rules.js';
import type { Condition } from '../tracing/schema.js';
import type { UnitState } from '../units/records.js';
import type { Disposed } from './events.js';
import type { Contained, ContainmentDisposition, ContainmentRow, Joining } from './records.js';
import { effectOf } from './rules.js';
import type { containmentDraft, dispositionDraft, joinedShape } from './schema.js';

/** A picked unit, the state it is in, and why it was picked. */
type PickedUnit = [id: number, state: string, reasons: readonly Reason[]];

/** A question answered on a snapshot, before the command that uses the answer. */
export interface SnapshotAnswer {
  /** The last event that the snapshot knew. */
  seq: number;
  picked: PickedUnit[];
}

/** Answers a condition and says as of which event; for a worker thread. */
export function pickOnSnapshot(
  plant: Plant,
  { condition }: { condition: Condition },
): SnapshotAnswer {
  return plant.atomically(() => ({
    seq: plant.journal.last()?.seq ?? 0,
    picked: withStates(plant, pick(plant, condition)),
  }));
}

/**
 * Freezes a question with its answer and holds every picked unit that is inside, in one
 * transaction. The answer comes from a snapshot; units touched since are asked again.
 */
export function openContainment(
  command: Command,
  draft: z.output<typeof containmentDraft>,
  snapshot: SnapshotAnswer,
): ContainmentRow {
  const { plant } = command;
  const picked = broughtUpToDate(plant, draft.where, snapshot);
  const id = plant.containment.nextId();
  const joining = joiningsOf(plant, picked);
  command.record(
    'containment.opened',
    { id, title: draft.title, condition: draft.where, joining },
    { units: joining.flatMap((one) => one.unitIds) },
  );
  return existingContainment(plant, id);
}

function broughtUpToDate(
  plant: Plant,
  condition: Condition,
  { seq, picked }: SnapshotAnswer,
): PickedUnit[] {
  const since = plant.journal.unitsSince(seq);
  if (since.length === 0) return picked;
  const touched = outermostOf(plant, since);
  const stale = new Set([...touched, ...since]);
  const kept = picked.filter(([id]) => !stale.has(id));
  return [...kept, ...withStates(plant, pick(plant, condition, touched))];
}

function withStates(plant: Plant, picked: Picked): PickedUnit[] {
  return plant.tracing
    .statesOf([...picked.keys()])
    .map(([id, state]) => [id, state, picked.get(id) ?? []]);
}

function outermostOf(plant: Plant, unitIds: readonly number[]): number[] {
  return [...new Set(unitIds.map((id) => plant.genealogy.outermost(id)))];
}

/** The picked units, those of one state together. */
function joiningsOf(plant: Plant, picked: readonly PickedUnit[]): Joining[] {
  let nextHoldId = plant.units.nextHoldId();
  const states = [...new Set(picked.map(([, state]) => state))].sort();
  return states.map((state): Joining => {
    const alike = picked.filter((one) => one[1] === state);
    const unitIds = alike.map(([id]) => id);
    const reasons = alike.map((one) => one[2]);
    if (!isInside(state)) return { state, firstHoldId: null, unitIds, reasons };
    const firstHoldId = nextHoldId;
    nextHoldId += unitIds.length;
    return { state, firstHoldId, unitIds, reasons };
  });
}

/**
 * Lets units that a command has just touched join the open containments whose question
 * they now fit; each that is inside is held.
 */
export function joinContainments(
  command: Command,
  touched: readonly number[],
): z.input<typeof joinedShape>[] {
  const { plant } = command;
  const open = plant.containment.open();
  if (open.length === 0 || touched.length === 0) return [];
  const few = outermostOf(plant, touched);
  return open.flatMap(({ id, title, condition }) => {
    const fresh = [...pick(plant, condition, few)].filter(
      ([unitId]) => few.includes(unitId) && !plant.containment.has(id, unitId),
    );
    if (fresh.length === 0) return [];
    const joining = joiningsOf(plant, withStates(plant, new Map(fresh)));
    const joined = joining.flatMap(({ unitIds, firstHoldId }) =>
      unitIds.map((unitId) => ({ unitId, held: firstHoldId !== null })),
    );
    const unitIds = joined.map((one) => one.unitId);
    command.record('containment.joined', { id, title, joining }, { units: unitIds });
    const serials = plant.units.serialsOf(unitIds);
    return joined.map(({ unitId, held }) => ({
      containment: id,
      title,
      serial: serials.get(unitId) ?? '',
      held,
    }));
  });
}

/** Disposes of contained units, all that are named or none. */
export function disposeContained(
  command: Command,
  id: number,
  draft: z.output<typeof dispositionDraft>,
): ContainmentRow {
  const { plant } = command;
  const containment = existingContainment(plant, id);
  assertOpen(containment);
  const errors: Fault[] = [];
  const next = { repairId: plant.repair.nextId() };
  const seen = new Set<number>();
  const known = plant.units.statesBySerial(draft.units);
  const contained = plant.containment.containedAmong(
    id,
    [...known.values()].map((one) => one.id),
  );
  const units = draft.units.flatMap(({ serial }, i) => {
    const unit = known.get(i);
    const row = unit && contained.get(unit.id);
    const answer = dispositionOf(plant, unit, row, draft.disposition, next);
    if (unit && seen.has(unit.id)) return [];
    if (typeof answer === 'string') {
      errors.push({ pointer: `/units/${i}`, detail: `${serial}: ${answer}` });
      return [];
    }
    seen.add(answer.unitId);
    return [answer];
  });
  if (errors.length > 0) {
    throw new Problem(
      'disposition-not-possible',
      `${errors.length} of the units cannot be disposed of so; none was.`,
      { errors: errors.slice(0, 100) },
    );
  }
  command.record(
    'containment.disposed',
    { id, disposition: draft.disposition, evidence: draft.evidence, units },
    { units: units.map((one) => one.unitId) },
  );
  return existingContainment(plant, id);
}

/** What a disposition does to a unit of the containment, or why it cannot be. */
function dispositionOf(
  plant: Plant,
  unit: { id: number; state: UnitState } | undefined,
  row: Contained | undefined,
  disposition: ContainmentDisposition,
  next: { repairId: number },
): Disposed | string {
  if (!unit) return 'no such unit';
  if (!row) return 'it is not in this containment';
  if (row.disposition !== null) return `it has its disposition, ${row.disposition}`;
  const answer = effectOf(disposition, unit.state);
  if (!answer.possible) return answer.why;
  const scraps = answer.effect === 'scrap';
  const state = {
    none: null,
    'open-repair': 'in-repair',
    reject: 'rejected',
    scrap: 'scrapped',
  } as const;
  return {
    unitId: unit.id,
    holdId: row.holdId,
    repairId: answer.effect === 'open-repair' ? next.repairId++ : null,
    endedRepairId: scraps ? (plant.repair.openOf(unit.id)?.id ?? null) : null,
    orderId: scraps ? (plant.pairing.ofMotor(unit.id)?.orderId ?? null) : null,
    state: state[answer.effect],
  };
}

/** Closes a containment in which every unit has its disposition. */
export function closeContainment(command: Command, id: number, reason: string): ContainmentRow {
  const { plant } = command;
  const containment = existingContainment(plant, id);
  assertOpen(containment);
  if (containment.waiting > 0) {
    throw new Problem(
      'containment-not-done',
      `${containment.waiting} of ${containment.units} units have no disposition yet.`,
      { waiting: containment.waiting },
    );
  }
  command.record('containment.closed', { id, reason });
  return existingContainment(plant, id);
}

export function existingContainment(plant: Plant, id: number): ContainmentRow {
  const row = plant.containment.containment(id);
  if (!row) throw new Problem('containment-unknown', `There is no containment ${id}.`);
  return row;
}

function assertOpen(containment: ContainmentRow): void {
  if (containment.closedAtMs === null) return;
  throw new Problem('containment-closed', `Containment ${containment.id} is closed.`);
}
