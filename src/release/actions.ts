import type { z } from 'zod';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { happenedAt } from '../time.js';
import type { UnitRow } from '../units/records.js';
import { resolveUnit } from '../units/resolve.js';
import type { ReleaseRow } from './records.js';
import { gateReasons } from './rules.js';
import type { releaseDraft } from './schema.js';

/** Kinds of event that change what was tested. */
const changes = ['pair.set', 'unit.installed', 'unit.removed', 'repair.exchanged', 'repair.closed'];

export interface Gate {
  motor: UnitRow;
  runId: number | null;
  reasons: { code: string; detail: string }[];
}

/** Why a motor may not be released, every reason; none when it may. */
export function gateOf(plant: Plant, scan: string): Gate {
  const motor = resolveUnit(plant, 'motor', scan);
  const lastRun = plant.testing.lastCompleted(motor.id);
  const openRun = plant.testing.openOfMotor(motor.id);
  const inside = plant.genealogy.tree(motor.id).map((node) => node.unitId);
  const completedSeq = plant.journal.lastOf([motor.id], ['run.completed']);
  const reasons = gateReasons({
    state: motor.state,
    lastRun: lastRun?.verdict ? { id: lastRun.id, verdict: lastRun.verdict } : null,
    conceded: plant.repair
      .dispositions(motor.id)
      .some((one) => one.kind === 'concession' && one.runId === lastRun?.id),
    changedSinceRun: plant.journal.lastOf(inside, changes) > completedSeq,
    openRun: openRun ? { id: openRun.id, cell: openRun.cell } : null,
    openRepair: plant.repair.openOf(motor.id)?.id ?? null,
    holds: plant.units.openHoldsOf(inside),
  });
  return { motor, runId: lastRun?.id ?? null, reasons };
}

/** Releases motors to shipping: all of them, or none with every reason listed. */
export function releaseMotors(
  command: Command,
  draft: z.output<typeof releaseDraft>,
): ReleaseRow[] {
  const { plant, now } = command;
  const occurredAtMs = happenedAt(now, draft.occurredAt);
  const gates = draft.motors.map((scan) => gateOf(plant, scan));
  const stopped = gates.filter((gate) => gate.reasons.length > 0);
  if (stopped.length > 0) throw notReleasable(stopped);
  const byId = new Map(gates.map((gate) => [gate.motor.id, gate.runId ?? 0]));
  const motors = [...byId].map(([motorId, runId]) => ({ motorId, runId }));
  command.record(
    'motor.released',
    { motors },
    { units: [...byId.keys()], station: draft.station ?? null, occurredAtMs },
  );
  return motors.flatMap(({ motorId }) => plant.release.ofMotor(motorId) ?? []);
}

function notReleasable(stopped: Gate[]): Problem {
  const [first, ...others] = stopped;
  const more = others.length > 0 ? ` ${others.length} more may not go either.` : '';
  return new Problem(
    'not-releasable',
    `Motor ${first?.motor.serial} may not be released: ${first?.reasons[0]?.detail}${more}`,
    { motors: stopped.map(({ motor, reasons }) => ({ motor: motor.serial, reasons })) },
  );
}
