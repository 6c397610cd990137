import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { checkAddress } from '../support/refused-set.js';
import {
  enter,
  failedMotor,
  furnish,
  holdBecause,
  openRun,
  refused,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';

describe('a teardown', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const tearDown = (motor: string, more: object = {}) =>
    plant.post('repair', '/v1/teardowns', {
      motor,
      reason: 'Set under the wrong order',
      station: 'REPAIR-1',
      ...more,
    });

  it('frees both halves and the order’s place, and the motor stays known as torn down', async () => {
    const made = await setMotor(plant);
    plant.wait(1000);
    const answer = await tearDown(made.motor);
    expect([answer.status, answer.body]).toEqual([
      200,
      {
        motor: made.motor,
        powerhead: made.powerhead,
        lowerUnit: made.lowerUnit,
        order: made.order,
        held: [],
      },
    ]);
    expect(await stateOf(plant, 'motor', made.motor)).toBe('torn-down');
    expect(await stateOf(plant, 'powerhead', made.powerhead)).toBe('accepted');
    expect(await stateOf(plant, 'lower-unit', made.lowerUnit)).toBe('accepted');
    const counted = await plant.get('read', `/v1/orders/${made.order}`);
    expect(counted.body).toMatchObject({ set: 0, quantity: 1, state: 'open' });

    const history = (await plant.get('read', `/v1/history?serial=${made.motor}`)).body;
    expect(history.tree).toHaveLength(1);
    expect(history.sets).toMatchObject([
      {
        motor: made.motor,
        tornDownAt: iso(plant.now),
        teardownReason: 'Set under the wrong order',
      },
    ]);
    expect(history.timeline.at(-1)).toMatchObject({
      kind: 'motor.torn-down',
      station: 'REPAIR-1',
      actor: 'repair key',
      text: 'Torn down: Set under the wrong order',
    });
    const before = await plant.get(
      'read',
      `/v1/history?serial=${made.motor}&asOf=${iso(plant.now - 1)}`,
    );
    expect(before.body.tree.map((node: { serial: string }) => node.serial)).toEqual([
      made.motor,
      made.lowerUnit,
      made.powerhead,
    ]);
  });

  it('puts suspect halves on hold, each once, so that they are not set again unseen', async () => {
    const made = await setMotor(plant);
    const answer = await tearDown(made.motor, {
      reason: 'Water in the oil',
      suspect: ['lower-unit', 'lower-unit'],
    });
    expect(answer.body.held).toEqual([made.lowerUnit]);
    const holds = (await plant.get('read', '/v1/holds?open=true')).body.items;
    expect(holds).toMatchObject([
      {
        serial: made.lowerUnit,
        class: 'lower-unit',
        cause: 'teardown',
        reason: 'Water in the oil',
        placedBy: 'repair key',
      },
    ]);
    const check = await plant.get('read', checkAddress(made));
    expect(check.body.detail).toContain(
      `${made.lowerUnit} is on hold (teardown): Water in the oil`,
    );
  });

  it('of a motor on hold holds both halves, so that the hold is not lost with the motor', async () => {
    const made = await setMotor(plant);
    await holdBecause(plant, 'motor', made.motor, { cause: 'quality', reason: 'Wrong torque' });
    const answer = await tearDown(made.motor);
    expect(answer.body.held).toEqual([made.powerhead, made.lowerUnit]);
  });

  it('with both halves suspect holds both', async () => {
    const made = await setMotor(plant);
    const answer = await tearDown(made.motor, { suspect: ['powerhead', 'lower-unit'] });
    expect(answer.body.held).toEqual([made.powerhead, made.lowerUnit]);
    const units = (await plant.get('read', '/v1/units?onHold=true&limit=1000')).body.items;
    const serials = units.map((unit: { serial: string }) => unit.serial);
    expect(serials).toEqual(expect.arrayContaining([made.powerhead, made.lowerUnit]));
  });

  it('of a motor in repair ends its repair', async () => {
    const made = await failedMotor(plant);
    expect((await tearDown(made.motor)).status).toBe(200);
    const repair = await plant.get('read', `/v1/repairs/${made.repair}`);
    expect(repair.body).toMatchObject({ outcome: 'torn-down', closedAt: iso(plant.now) });
  });

  it('of a motor that passed is possible, and its run stays on record', async () => {
    const made = await setMotor(plant);
    await runMotor(plant, made.motor);
    expect((await tearDown(made.motor)).status).toBe(200);
    const history = await plant.get('read', `/v1/history?serial=${made.motor}`);
    expect(history.body.runs).toMatchObject([{ verdict: 'pass', attempt: 1 }]);
    const gate = await plant.get('read', `/v1/release-gate?motor=${made.motor}`);
    expect(gate.body).toMatchObject({ releasable: false, reasons: [{ code: 'torn-down' }] });
  });

  it('keeps the components in their half, which is set again with them', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const made = await setMotor(plant);
    await plant.make('set', '/v1/installations', {
      parentClass: 'powerhead',
      parent: made.powerhead,
      position: 'fuel-pump',
      childClass: 'fuel-pump',
      child: pump,
    });
    await tearDown(made.motor);
    const again = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead: made.powerhead,
      lowerUnit: made.lowerUnit,
      order: made.order,
      station: 'SET-1',
    });
    const tree = (await plant.get('read', `/v1/history?serial=${pump}`)).body.tree;
    expect(tree[0].serial).toBe(again.motor);
    expect(tree.at(-1)).toMatchObject({ serial: pump, parent: made.powerhead });
  });

  it('is refused while the motor is in test, and after it was released, torn down or scrapped', async () => {
    const expectRefused = async (motor: string, state: string) => {
      const problem = await refused(plant, 'motor-state', () => tearDown(motor));
      expect(problem).toMatchObject({
        status: 409,
        detail: `Motor ${motor} is ${state}: it cannot be torn down.`,
        motor,
        state,
      });
      expect(await stateOf(plant, 'motor', motor)).toBe(state);
    };
    const inTest = await setMotor(plant);
    await openRun(plant, inTest.motor);
    await expectRefused(inTest.motor, 'in-test');

    const released = await setMotor(plant);
    await runMotor(plant, released.motor);
    await plant.make('quality', '/v1/releases', { motors: [released.motor] });
    await expectRefused(released.motor, 'released');

    const scrapped = await setMotor(plant);
    await plant.make('quality', '/v1/dispositions', {
      class: 'motor',
      unit: scrapped.motor,
      kind: 'scrap',
      reason: 'Dropped',
    });
    await expectRefused(scrapped.motor, 'scrapped');

    const tornDown = await setMotor(plant);
    await tearDown(tornDown.motor);
    await expectRefused(tornDown.motor, 'torn-down');
  });

  it('is refused of a serial that is no motor’s, and for a role that may not', async () => {
    const { powerhead, motor } = await setMotor(plant);
    const wrong = await refused(plant, 'wrong-class', () => tearDown(powerhead));
    expect(wrong.detail).toBe(`${powerhead} is a powerhead; scan the motor here.`);
    await refused(plant, 'serial-unknown', () => tearDown('T-GHOST'));
    await refused(plant, 'forbidden', () =>
      plant.post('set', '/v1/teardowns', { motor, reason: 'Wrong order' }),
    );
  });

  it('gives the place back to an order that is complete, which then takes another motor', async () => {
    const made = await setMotor(plant);
    const next = { powerhead: await enter(plant, 'powerhead'), order: made.order };
    const lowerUnit = await enter(plant, 'lower-unit');
    const address = checkAddress({ ...next, lowerUnit });
    expect((await plant.get('read', address)).body.type).toBe('/problems/order-complete');
    await tearDown(made.motor);
    expect((await plant.get('read', address)).body).toMatchObject({ order: made.order });
  });
});
