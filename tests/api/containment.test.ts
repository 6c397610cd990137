import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, order, passing, runMotor } from '../support/scenario.js';

interface Opened {
  id: number;
  units: number;
  held: number;
  waiting: number;
}

let lots = 0;

describe('containment', () => {
  let plant: TestPlant;
  let lot: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());
  beforeEach(() => {
    lots += 1;
    lot = `L-${lots}`;
  });

  const primed = () => ({ lots: [{ part: 'PRIMER', revision: '1', lot }] });
  const ofLot = () => ({ lot: { part: 'PRIMER', lot } });
  const open = (where: object = ofLot(), title = 'Primer that peels') =>
    plant.make<Opened>('quality', '/v1/containments', { title, where });
  const unitsOf = async (id: number, query = '') =>
    (await plant.get('read', `/v1/containments/${id}/units${query}`)).body.items;
  const dispose = (id: number, serial: string, disposition: string, unitClass = 'motor') =>
    plant.post('quality', `/v1/containments/${id}/dispositions`, {
      units: [{ class: unitClass, serial }],
      disposition,
      evidence: 'Adhesion test 12',
    });

  async function motor(): Promise<{ motor: string; powerhead: string; lowerUnit: string }> {
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit', primed());
    const number = await order(plant);
    return plant.make('set', '/v1/sets', { powerhead, lowerUnit, order: number, station: 'SET-1' });
  }

  async function released(): Promise<string> {
    const made = await motor();
    await runMotor(plant, made.motor, passing);
    await plant.make('quality', '/v1/releases', { motors: [made.motor] });
    return made.motor;
  }

  it('holds every picked unit that is inside and lists those that have left', async () => {
    const inside = await motor();
    const gone = await released();
    const loose = await enter(plant, 'lower-unit', primed());
    const containment = await open();
    expect(containment).toMatchObject({ units: 3, held: 2, waiting: 3 });
    expect(
      (await unitsOf(containment.id, '?held=false')).map((one: { serial: string }) => one.serial),
    ).toEqual([gone]);
    const run = await plant.post('cell', '/v1/runs', { motor: inside.motor, cell: 'HELD' });
    expect(run.body.type).toBe('/problems/on-hold');
    const powerhead = await enter(plant, 'powerhead');
    const set = await plant.post('set', '/v1/sets', {
      powerhead,
      lowerUnit: loose,
      station: 'SET-1',
    });
    expect(set.body.type).toBe('/problems/on-hold');
  });

  it('takes in a unit entered later, holds it, and says so in its answer', async () => {
    const containment = await open();
    const unit = await plant.post('set', '/v1/units', {
      class: 'lower-unit',
      serial: `LATE-${lot}`,
      part: { number: 'LU-20', revision: 'A' },
      inspection: { result: 'accepted' },
      ...primed(),
    });
    expect(unit.status).toBe(201);
    expect(unit.body.contained).toEqual([
      {
        containment: containment.id,
        title: 'Primer that peels',
        serial: `LATE-${lot}`,
        held: true,
      },
    ]);
    const hold = (await plant.get('read', '/v1/units?onHold=true&class=lower-unit')).body.items;
    expect(hold.map((one: { serial: string }) => one.serial)).toContain(`LATE-${lot}`);
  });

  it('takes in a motor when its run gives the reading that is asked for', async () => {
    const containment = await open(
      { all: [{ margin: { model: 'F100L', code: 'water-pressure', below: 0.05 } }, ofLot()] },
      'Weak pump',
    );
    const made = await motor();
    const cell = `LOW-${lot}`;
    const run = await plant.make<{ id: number }>('cell', '/v1/runs', { motor: made.motor, cell });
    const completion = await plant.post('cell', `/v1/runs/${run.id}/completion`, {
      readings: [
        { code: 'idle-speed', value: 650 },
        { code: 'water-pressure', value: 55.5 },
        { code: 'telltale', value: true },
      ],
    });
    expect(completion.body.verdict).toBe('pass');
    expect(completion.body.contained).toMatchObject([{ containment: containment.id, held: true }]);
    const gate = await plant.get('read', `/v1/release-gate?motor=${made.motor}`);
    expect(gate.body.reasons).toMatchObject([{ code: 'on-hold' }]);
  });

  it('frees a unit only when both containments that hold it let go', async () => {
    const made = await motor();
    const first = await open();
    const second = await open(
      { serials: { class: 'motor', serials: [made.motor] } },
      'Second look',
    );
    expect((await dispose(first.id, made.motor, 'clear')).status).toBe(200);
    const still = await plant.post('cell', '/v1/runs', { motor: made.motor, cell: 'BOTH' });
    expect(still.body.type).toBe('/problems/on-hold');
    expect((await dispose(second.id, made.motor, 'concession')).status).toBe(200);
    expect(await runMotor(plant, made.motor)).toMatchObject({ verdict: 'pass' });
  });

  it('does not take a unit in again once it has its disposition', async () => {
    const made = await motor();
    const containment = await open();
    await dispose(containment.id, made.motor, 'clear');
    const run = await plant.post('cell', '/v1/runs', { motor: made.motor, cell: `AGAIN-${lot}` });
    expect(run.status).toBe(201);
    expect(run.body.contained).toBeUndefined();
  });

  it('reworks, scraps and notifies, each with what follows', async () => {
    const reworked = await motor();
    const scrapped = await motor();
    const gone = await released();
    const loose = await enter(plant, 'lower-unit', primed());
    const containment = await open();
    expect((await dispose(containment.id, reworked.motor, 'rework')).status).toBe(200);
    expect((await dispose(containment.id, scrapped.motor, 'scrap')).status).toBe(200);
    expect((await dispose(containment.id, gone, 'notified')).status).toBe(200);
    expect((await dispose(containment.id, loose, 'rework', 'lower-unit')).status).toBe(200);
    const states = (await unitsOf(containment.id)).map(
      (one: { serial: string; stateNow: string }) => [one.serial, one.stateNow],
    );
    expect(Object.fromEntries(states)).toEqual({
      [reworked.motor]: 'in-repair',
      [scrapped.motor]: 'scrapped',
      [gone]: 'released',
      [loose]: 'rejected',
    });
  });

  it('refuses a disposition that does not fit, and then disposes of none', async () => {
    const inside = await motor();
    const gone = await released();
    const containment = await open();
    const both = await plant.post('quality', `/v1/containments/${containment.id}/dispositions`, {
      units: [
        { class: 'motor', serial: gone },
        { class: 'motor', serial: inside.motor },
      ],
      disposition: 'notified',
      evidence: 'Letter',
    });
    expect(both.body.type).toBe('/problems/disposition-not-possible');
    expect(both.body.errors).toMatchObject([{ pointer: '/units/1' }]);
    const scrap = await dispose(containment.id, gone, 'scrap');
    expect(scrap.body.type).toBe('/problems/disposition-not-possible');
    const stranger = await dispose(containment.id, 'NOBODY', 'clear');
    expect(stranger.body.errors).toMatchObject([{ detail: 'NOBODY: no such unit' }]);
    expect((await plant.get('read', `/v1/containments/${containment.id}`)).body.waiting).toBe(2);
  });

  it('closes when every unit has its disposition, and not before', async () => {
    const made = await motor();
    const containment = await open();
    const early = await plant.post('quality', `/v1/containments/${containment.id}/closure`, {
      reason: 'Done',
    });
    expect(early.body.type).toBe('/problems/containment-not-done');
    await dispose(containment.id, made.motor, 'clear');
    const twice = await dispose(containment.id, made.motor, 'clear');
    expect(twice.body.type).toBe('/problems/disposition-not-possible');
    const closed = await plant.post('quality', `/v1/containments/${containment.id}/closure`, {
      reason: 'Done',
    });
    expect(closed.body).toMatchObject({ waiting: 0, closeReason: 'Done' });
    const late = await enter(plant, 'lower-unit', primed());
    expect(
      (await unitsOf(containment.id)).map((one: { serial: string }) => one.serial),
    ).not.toContain(late);
    const shut = await dispose(containment.id, made.motor, 'clear');
    expect(shut.body.type).toBe('/problems/containment-closed');
  });

  it('keeps its holds from being lifted past it, and its cause to itself', async () => {
    const made = await motor();
    await open();
    const holds = (await plant.get('read', '/v1/holds?open=true&limit=1000')).body.items;
    const own = holds.find((one: { serial: string }) => one.serial === made.motor);
    const lift = await plant.post('quality', `/v1/holds/${own.id}/lift`, { reason: 'I say so' });
    expect(lift.body.type).toBe('/problems/hold-of-containment');
    const place = await plant.post('quality', '/v1/holds', {
      class: 'motor',
      unit: made.motor,
      cause: 'containment',
      reason: 'x',
    });
    expect(place.body.type).toBe('/problems/unit-invalid');
  });

  it('answers unknown ids with a problem', async () => {
    expect((await plant.get('read', '/v1/containments/99999')).body.type).toBe(
      '/problems/containment-unknown',
    );
    expect((await plant.get('read', '/v1/containments')).body.items.length).toBeGreaterThan(5);
  });

  it('leaves a journal from which everything is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
