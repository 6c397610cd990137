import type { z } from 'zod';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { ReleaseRow } from '../release/records.js';
import { dayEnd, plantDay } from '../time.js';
import type { UnitRow } from '../units/records.js';
import { resolveAnyUnit } from '../units/resolve.js';
import type { ReturnRow } from './records.js';
import { fullMonths } from './rules.js';
import type { returnDraft } from './schema.js';

/**
 * Records that a unit came back from outside, and of which motor.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, wrong-class,
 *   scan-part-mismatch, repair-code-unknown, time-in-future, not-released
 */
export function recordReturn(command: Command, draft: z.output<typeof returnDraft>): ReturnRow {
  const { plant, now, settings } = command;
  const { returnedOn, symptom } = draft;
  const unit = resolveAnyUnit(plant, draft.unit, draft.class);
  if (!plant.catalogue.repairCode('symptom', symptom)) {
    const names = { kind: 'symptom', code: symptom };
    throw new Problem('repair-code-unknown', `There is no symptom code ${symptom}.`, names);
  }
  const today = plantDay(now, settings.timeZone);
  if (returnedOn > today) {
    throw new Problem('time-in-future', `${returnedOn} is after today, ${today}.`);
  }
  const lastMoment = Math.min(dayEnd(returnedOn, settings.timeZone) - 1, now);
  const release = releaseAround(plant, unit, returnedOn, lastMoment);
  const releasedOn = plantDay(release.atMs, settings.timeZone);
  if (returnedOn < releasedOn) {
    throw notReleased(`Motor ${release.motor} was released on ${releasedOn} only.`, release.motor);
  }
  const id = plant.returns.nextId();
  command.record(
    'return.recorded',
    {
      id,
      unitId: unit.id,
      motorId: release.motorId,
      releasedOn,
      returnedOn,
      fullMonths: fullMonths(releasedOn, returnedOn),
      hoursRun: draft.hoursRun ?? null,
      symptom,
      finding: draft.finding ?? null,
    },
    { units: [unit.id, release.motorId] },
  );
  return existingReturn(plant, id);
}

/** The release of the motor that a unit is, or was in. @throws Problem not-released */
function releaseAround(plant: Plant, unit: UnitRow, day: string, atMs: number): ReleaseRow {
  const motor = plant.units.byId(plant.genealogy.outermost(unit.id, atMs));
  if (motor?.class !== 'motor') {
    throw notReleased(`${unit.class} ${unit.serial} was in no motor on ${day}.`, null);
  }
  const release = plant.release.ofMotor(motor.id);
  if (release) return release;
  throw notReleased(`Motor ${motor.serial} is ${motor.state}: it never left.`, motor.serial);
}

function notReleased(detail: string, motor: string | null): Problem {
  return new Problem('not-released', `${detail} What has not left cannot come back.`, { motor });
}

export function existingReturn(plant: Plant, id: number): ReturnRow {
  const row = plant.returns.fieldReturn(id);
  if (!row) throw new Problem('return-unknown', `There is no field return ${id}.`);
  return row;
}
