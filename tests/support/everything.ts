import { draw, engineFamily } from './emissions.js';
import type { TestPlant } from './plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  hold,
  openRun,
  order,
  passing,
  runMotor,
  setMotor,
} from './scenario.js';

const reason = 'For the record';

/** Something of every kind, so that each question has an answer that names whoever did it. */
export async function liveThroughEverything(plant: TestPlant): Promise<void> {
  await furnish(plant);
  await plant.make('configuration', '/v1/shift-calendars', { code: 'ONE-SHIFT', shifts: [] });
  await repairedMotor(plant);
  await otherEnds(plant);
  await chart(plant);
  await referenceMotor(plant);
  await emissions(plant);
  await containmentAndReturn(plant);
}

/** Held, failed, repaired with another part, passed and released. */
async function repairedMotor(plant: TestPlant): Promise<void> {
  const { motor, repair, lowerUnit } = await failedMotor(plant);
  const held = await hold(plant, 'motor', motor);
  await plant.make('quality', `/v1/holds/${held}/lift`, { reason });
  const serial = await enter(plant, 'lower-unit');
  await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
    ...{ parentClass: 'motor', parent: motor, position: 'lower-unit', removed: lowerUnit },
    fitted: { class: 'lower-unit', serial },
  });
  await closeRepair(plant, repair);
  await runMotor(plant, motor);
  await plant.make('quality', '/v1/releases', { motors: [motor] });
}

/** What else may become of a motor, a set that was refused, and a pair that would do. */
async function otherEnds(plant: TestPlant): Promise<void> {
  const conceded = await failedMotor(plant);
  const ofMotor = (unit: string, kind: string) => ({ class: 'motor', unit, kind, reason });
  await plant.make('quality', '/v1/dispositions', ofMotor(conceded.motor, 'concession'));
  const scrapped = await setMotor(plant);
  await plant.make('quality', '/v1/dispositions', ofMotor(scrapped.motor, 'scrap'));
  const tornDown = await setMotor(plant);
  await plant.make('repair', '/v1/teardowns', { motor: tornDown.motor, reason });
  const aborted = await setMotor(plant);
  const run = await openRun(plant, aborted.motor);
  await plant.make('cell', `/v1/runs/${run}/abort`, { reason });
  await openRun(plant, aborted.motor);
  await hold(plant, 'motor', aborted.motor);
  await failedMotor(plant);
  const pair = { powerhead: aborted.powerhead, lowerUnit: 'NOBODY-1', station: 'SET-1' };
  await plant.post('set', '/v1/sets', { ...pair, order: await order(plant) });
  await enter(plant, 'powerhead');
  await enter(plant, 'lower-unit');
}

/** A chart with two baselines, a signal that was acknowledged and one that was not. */
export async function chart(plant: TestPlant): Promise<void> {
  const { motor } = await setMotor(plant);
  const run = async (value: number) => {
    const [idle, , telltale] = passing;
    await runMotor(plant, motor, [idle ?? {}, { code: 'water-pressure', value }, telltale ?? {}]);
    await plant.make('quality', '/v1/retests', { motor, reason });
  };
  for (let i = 0; i < 12; i += 1) await run(100 + (i % 3));
  const baseline = { last: 10 };
  const { id } = await plant.make<{ id: number }>('quality', '/v1/charts', {
    ...{ kind: 'individuals', model: 'F100L', characteristic: 'water-pressure', runs: 'all' },
    baseline,
  });
  for (const value of [140, 101, 140]) await run(value);
  const signals = await plant.get('read', `/v1/charts/${id}/signals`);
  const [first] = signals.body.items as { id: number }[];
  await plant.make('quality', `/v1/signals/${first?.id}/acknowledgement`, { reason });
  await plant.make('quality', `/v1/charts/${id}/baseline`, { reason, baseline });
  await plant.make('quality', `/v1/charts/${id}/retirement`, { reason });
}

export async function referenceMotor(plant: TestPlant): Promise<void> {
  const { motor } = await setMotor(plant);
  const schedule = { intervalHours: 24, cells: ['C-1'], reason };
  const { id } = await plant.make<{ id: number }>('quality', '/v1/reference-motors', {
    motor,
    ...schedule,
  });
  const address = `/v1/reference-motors/${id}`;
  await plant.make('cell', '/v1/reference-runs', { motor, cell: 'C-1', readings: passing });
  await plant.make('quality', `${address}/schedule`, { ...schedule, intervalHours: 12 });
  await plant.make('quality', `${address}/retirement`, { reason });
}

export async function emissions(plant: TestPlant): Promise<void> {
  const { code, modelYear: _, ...terms } = engineFamily();
  const address = `/v1/engine-families/${code}`;
  await plant.make('quality', '/v1/engine-families', engineFamily());
  await plant.make('quality', `${address}/revisions`, { ...terms, reason });
  const [first, second] = await draw(plant, code, 2);
  for (const motor of [first, second]) {
    await plant.make('quality', `${address}/results`, {
      ...{ motor, testedOn: new Date(plant.now).toISOString().slice(0, 10) },
      results: [
        { pollutant: 'HC+NOx', value: 12 },
        { pollutant: 'CO', value: 200 },
      ],
    });
  }
  await plant.make('quality', `${address}/results/2/invalidation`, { reason });
}

/** A containment that has a unit left to dispose of, a closed one, and a motor that came back. */
async function containmentAndReturn(plant: TestPlant): Promise<void> {
  const lots = [{ part: 'PRIMER', revision: '1', lot: 'PR-1' }];
  const serial = await enter(plant, 'lower-unit', { lots });
  await enter(plant, 'lower-unit', { lots });
  const question = { title: 'Primer', where: { lot: { part: 'PRIMER', lot: 'PR-1' } } };
  const open = () => plant.make<{ id: number }>('quality', '/v1/containments', question);
  const first = await open();
  const dispose = (id: number, unit: string) =>
    plant.make('quality', `/v1/containments/${id}/dispositions`, {
      units: [{ class: 'lower-unit', serial: unit }],
      ...{ disposition: 'clear', evidence: reason },
    });
  await dispose(first.id, serial);
  const none = { title: 'None', where: { lot: { part: 'PRIMER', lot: 'PR-NONE' } } };
  const second = await plant.make<{ id: number }>('quality', '/v1/containments', none);
  await plant.make('quality', `/v1/containments/${second.id}/closure`, { reason });
  const { motor } = await setMotor(plant);
  await runMotor(plant, motor, failing);
  await plant.make('quality', '/v1/retests', { motor, reason });
  await runMotor(plant, motor, passing);
  await plant.make('quality', '/v1/releases', { motors: [motor] });
  plant.wait(24 * 60 * 60 * 1000);
  const returnedOn = new Date(plant.now).toISOString().slice(0, 10);
  await plant.make('quality', '/v1/returns', { unit: motor, returnedOn, symptom: 'low-pressure' });
}
