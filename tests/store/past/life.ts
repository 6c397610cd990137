import { chart, emissions, referenceMotor } from '../../support/everything.js';
import type { TestPlant } from '../../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  hold,
  openRun,
  runMotor,
  setMotor,
} from '../../support/scenario.js';
import { signIn } from '../../support/session.js';
import { bringBack, ship } from '../../support/shipped.js';

/**
 * A small life with something in every table that the first migrations make.
 * @param migrations which of them are there: what later ones brought does not happen
 */
export async function live(plant: TestPlant, migrations: number): Promise<void> {
  await furnish(plant);
  await ship(plant);
  const repaired = await setMotor(plant);
  const { repair } = await runMotor(plant, repaired.motor, failing);
  const pump = await enter(plant, 'fuel-pump');
  await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
    ...{ parentClass: 'powerhead', parent: repaired.powerhead, position: 'fuel-pump' },
    fitted: { class: 'fuel-pump', serial: pump },
  });
  await closeRepair(plant, repair ?? 0);
  await runMotor(plant, repaired.motor);
  await plant.make('quality', '/v1/releases', { motors: [repaired.motor] });

  const tornDown = await setMotor(plant);
  const reason = 'Wrong order';
  await plant.make('repair', '/v1/teardowns', { motor: tornDown.motor, reason });
  const { powerhead, lowerUnit } = repaired;
  await plant.post('set', '/v1/sets', { powerhead, lowerUnit, station: 'SET-1' });

  const scrapped = await setMotor(plant);
  await runMotor(plant, scrapped.motor, failing);
  const scrap = { class: 'motor', unit: scrapped.motor, kind: 'scrap', reason: 'Cracked' };
  await plant.make('quality', '/v1/dispositions', scrap);

  const waiting = await setMotor(plant);
  const aborted = await openRun(plant, waiting.motor);
  const batch = { sequence: 1, readings: failing.slice(0, 1) };
  await plant.make('cell', `/v1/runs/${aborted}/batches`, batch);
  await plant.make('cell', `/v1/runs/${aborted}/abort`, { reason: 'Cell stopped' });
  await openRun(plant, waiting.motor);
  await hold(plant, 'motor', (await setMotor(plant)).motor);

  if (migrations >= 2) await contain(plant);
  if (migrations >= 5) await newShifts(plant);
  if (migrations >= 7) await chart(plant);
  if (migrations >= 8) await referenceMotor(plant);
  if (migrations >= 9) await emissions(plant);
  if (migrations >= 10) await signIn(plant, 'read');
  if (migrations >= 3) await bringBack(plant, (await ship(plant)).motor, '2026-03-02');
}

/** Shifts, and a motor that counts in one. */
async function newShifts(plant: TestPlant): Promise<void> {
  const day = { name: 'All day', weekdays: [1, 2, 3, 4, 5, 6, 7], starts: '00:00', ends: '00:00' };
  await plant.make('configuration', '/v1/shift-calendars', {
    ...{ code: 'ONE-SHIFT', shifts: [{ ...day, code: 'DAY' }] },
  });
  await ship(plant);
}

async function contain(plant: TestPlant): Promise<void> {
  const lots = [{ part: 'PRIMER', revision: '1', lot: 'L-1' }];
  await enter(plant, 'lower-unit', { lots });
  const { motor } = await ship(plant, { lot: 'L-1' });
  const { id } = await plant.make<{ id: number }>('quality', '/v1/containments', {
    ...{ title: 'Primer that peels', where: { lot: { part: 'PRIMER', lot: 'L-1' } } },
  });
  await plant.make('quality', `/v1/containments/${id}/dispositions`, {
    ...{ units: [{ class: 'motor', serial: motor }], disposition: 'notified', evidence: 'Letter' },
  });
}
