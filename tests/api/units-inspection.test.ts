import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { checkAddress } from '../support/refused-set.js';
import {
  enter,
  furnish,
  goodFastening,
  order,
  refused,
  setMotor,
  stateOf,
} from '../support/scenario.js';

describe('a unit inspected again', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 9);
  });
  afterAll(() => plant.stop());

  const inspect = (unitClass: string, unit: string, more: object = {}) =>
    plant.post('quality', '/v1/inspections', {
      class: unitClass,
      unit,
      result: 'accepted',
      ...more,
    });

  it('is accepted after rework, and may then be set; both inspections stay on record', async () => {
    const lowerUnit = await enter(plant, 'lower-unit', {
      inspection: { result: 'rejected', note: 'Runs in the paint' },
    });
    const scans = { powerhead: await enter(plant, 'powerhead'), lowerUnit };
    const before = await plant.get('read', checkAddress(scans));
    expect(before.body.type).toBe('/problems/not-accepted');
    plant.wait(1000);
    const answer = await inspect('lower-unit', lowerUnit, { note: 'Painted again' });
    expect(answer.body).toMatchObject({ serial: lowerUnit, state: 'accepted' });
    const after = await plant.get('read', checkAddress(scans));
    expect(after.body).toMatchObject({ wouldSet: true });
    const history = await plant.get('read', `/v1/history?serial=${lowerUnit}`);
    expect(history.body.tree[0].inspections).toEqual([
      {
        kind: 'paint inspection',
        result: 'rejected',
        note: 'Runs in the paint',
        at: iso(plant.now - 1000),
      },
      {
        kind: 'paint inspection',
        result: 'accepted',
        note: 'Painted again',
        at: iso(plant.now),
      },
    ]);
  });

  it('is rejected where a fault is found late', async () => {
    const lowerUnit = await enter(plant, 'lower-unit');
    await inspect('lower-unit', lowerUnit, { result: 'rejected' });
    expect(await stateOf(plant, 'lower-unit', lowerUnit)).toBe('rejected');
  });

  it('is not accepted while a joint’s latest fastening is outside its window', async () => {
    const loose = { ...goodFastening, torque: 20 };
    const powerhead = await enter(plant, 'powerhead', {
      inspection: { result: 'rejected' },
      fastenings: [loose],
    });
    plant.wait(1000);
    const problem = await refused(plant, 'fastening-outside-window', () =>
      inspect('powerhead', powerhead),
    );
    expect(problem.joints).toEqual(['cylinder head 1']);
    expect(await stateOf(plant, 'powerhead', powerhead)).toBe('rejected');
    const fastened = await inspect('powerhead', powerhead, { fastenings: [goodFastening] });
    expect(fastened.body.state).toBe('accepted');
  });

  it('that has no fastenings at all is not accepted as a powerhead', async () => {
    const powerhead = await enter(plant, 'powerhead', {
      inspection: { result: 'rejected' },
      fastenings: [],
    });
    await refused(plant, 'unit-invalid', () => inspect('powerhead', powerhead));
  });

  it('is refused while it is in a motor, once it is scrapped, and of a motor', async () => {
    const made = await setMotor(plant);
    const installed = await refused(plant, 'already-installed', () =>
      inspect('powerhead', made.powerhead, { result: 'rejected' }),
    );
    expect(installed.detail).toBe(`Powerhead ${made.powerhead} is in motor ${made.motor} already.`);
    await refused(plant, 'wrong-class', () => inspect('motor', made.motor));
    const scrapped = await enter(plant, 'lower-unit');
    await plant.make('quality', '/v1/dispositions', {
      class: 'lower-unit',
      unit: scrapped,
      kind: 'scrap',
      reason: 'Dropped',
    });
    await refused(plant, 'scrapped', () => inspect('lower-unit', scrapped));
  });
});

describe('fastening results sent later', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 9);
  });
  afterAll(() => plant.stop());

  const fasten = (unit: string, ...fastenings: object[]) =>
    plant.post('set', '/v1/fastenings', { class: 'powerhead', unit, fastenings });

  it('that conform change nothing but the record', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const answer = await fasten(powerhead, { ...goodFastening, joint: 'mount 1' });
    expect(answer.body).toMatchObject({ outside: [], unit: { state: 'accepted', onHold: false } });
    const history = await plant.get('read', `/v1/history?serial=${powerhead}`);
    expect(history.body.tree[0].fastenings).toMatchObject([
      { joint: 'cylinder head 1', conforms: true },
      { joint: 'mount 1', conforms: true },
    ]);
  });

  it('outside their window put the unit on hold, with the joints as the reason', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const answer = await fasten(
      powerhead,
      { ...goodFastening, joint: 'mount 1', torque: 40 },
      { ...goodFastening, joint: 'mount 2' },
      { ...goodFastening, joint: 'mount 3', angle: 10 },
    );
    expect(answer.body.outside).toEqual(['mount 1', 'mount 3']);
    expect(answer.body.unit).toMatchObject({ state: 'accepted', onHold: true });
    const scans = { powerhead, lowerUnit: await enter(plant, 'lower-unit') };
    const check = await plant.get('read', checkAddress(scans));
    expect(check.body).toMatchObject({
      type: '/problems/on-hold',
      detail: `Powerhead ${powerhead} is on hold (fastening): Outside its window: mount 1, mount 3`,
    });
  });

  it('outside their window on a powerhead in a motor stop the motor’s release', async () => {
    const { motor, powerhead } = await setMotor(plant);
    await fasten(powerhead, { ...goodFastening, torque: 40 });
    const gate = await plant.get('read', `/v1/release-gate?motor=${motor}`);
    expect(gate.body.reasons).toContainEqual({
      code: 'on-hold',
      detail: `${powerhead} is on hold (fastening): Outside its window: cylinder head 1`,
    });
  });

  it.each([
    ['a unit of something else', { torqueUnit: 'kPa' }, '/fastenings/0/torqueUnit'],
    ['a unit that does not exist', { torqueUnit: 'wrench' }, '/fastenings/0/torqueUnit'],
    ['an angle without its unit', { angleUnit: null }, '/fastenings/0/angleUnit'],
    ['a window upside down', { torqueLower: 33 }, '/fastenings/0/torqueUpper'],
    ['an angle window upside down', { angleLower: 96 }, '/fastenings/0/angleUpper'],
    ['text as a number', { torque: '30' }, '/fastenings/0/torque'],
    ['no joint', { joint: '' }, '/fastenings/0/joint'],
  ])('with %s are refused at the member', async (_name, more, pointer) => {
    const powerhead = await enter(plant, 'powerhead');
    const problem = await refused(plant, 'request-invalid', () =>
      fasten(powerhead, { ...goodFastening, ...more }),
    );
    expect(problem.errors).toContainEqual(expect.objectContaining({ pointer }));
  });

  it('of another unit of torque keep it as it was measured', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const inPounds = {
      ...goodFastening,
      torque: 265,
      torqueLower: 250,
      torqueUpper: 280,
      torqueUnit: '[lbf_av].[in_i]',
    };
    expect((await fasten(powerhead, inPounds)).body.outside).toEqual([]);
    const history = await plant.get('read', `/v1/history?serial=${powerhead}`);
    expect(history.body.tree[0].fastenings.at(-1)).toMatchObject({
      torque: 265,
      torqueUnit: '[lbf_av].[in_i]',
    });
  });
});
