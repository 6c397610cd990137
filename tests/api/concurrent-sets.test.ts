import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { attemptsOf } from '../support/refused-set.js';
import { enter, furnish, order } from '../support/scenario.js';

const STATIONS = 16;

describe('many stations in the same instant', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const lowerUnits = (count: number) =>
    Promise.all(Array.from({ length: count }, () => enter(plant, 'lower-unit')));
  const powerheads = (count: number) =>
    Promise.all(Array.from({ length: count }, () => enter(plant, 'powerhead')));
  const setAt = (station: number, body: object) =>
    plant.post('set', '/v1/sets', { station: `SET-${station}`, ...body });

  it('that scan one powerhead: one sets it, each other is told in which motor it is', async () => {
    const number = await order(plant, STATIONS);
    const powerhead = await enter(plant, 'powerhead');
    const lower = await lowerUnits(STATIONS);
    const answers = await Promise.all(
      lower.map((lowerUnit, i) => setAt(i, { powerhead, lowerUnit, order: number })),
    );
    const won = answers.filter((one) => one.status === 201);
    const lost = answers.filter((one) => one.status !== 201);
    expect(won).toHaveLength(1);
    const { motor, lowerUnit } = won[0]?.body ?? {};
    expect(lost).toHaveLength(STATIONS - 1);
    for (const one of lost) {
      expect(one.body).toMatchObject({
        type: '/problems/already-installed',
        status: 409,
        parentSerial: motor,
      });
    }
    const tree = (await plant.get('read', `/v1/history?serial=${motor}`)).body.tree;
    expect(tree.map((node: { serial: string }) => node.serial)).toEqual([
      motor,
      lowerUnit,
      powerhead,
    ]);
    const state = await plant.get('read', `/v1/orders/${number}`);
    expect(state.body.set).toBe(1);
    const free = await plant.get('read', '/v1/units?class=lower-unit&state=accepted');
    expect(free.body.items).toHaveLength(STATIONS - 1);
    const outcomes = (await attemptsOf(plant)).map((one) => one.outcome);
    expect(outcomes.filter((one) => one === 'set')).toHaveLength(1);
    expect(outcomes.filter((one) => one === 'already-installed')).toHaveLength(STATIONS - 1);
  });

  it('that race for the last places of an order: as many win as it lacks', async () => {
    const quantity = 3;
    const number = await order(plant, quantity);
    const upper = await powerheads(8);
    const lower = await lowerUnits(8);
    const answers = await Promise.all(
      upper.map((powerhead, i) => setAt(i, { powerhead, lowerUnit: lower[i], order: number })),
    );
    expect(answers.filter((one) => one.status === 201)).toHaveLength(quantity);
    const refused = answers.filter((one) => one.status !== 201);
    expect(refused.map((one) => one.body.type)).toEqual(
      Array(8 - quantity).fill('/problems/order-complete'),
    );
    const state = await plant.get('read', `/v1/orders/${number}`);
    expect(state.body).toMatchObject({ set: quantity, quantity });
  });

  it('that set pairs of their own: every one gets a serial, and no two the same', async () => {
    const number = await order(plant, STATIONS);
    const upper = await powerheads(STATIONS);
    const lower = await lowerUnits(STATIONS);
    const answers = await Promise.all(
      upper.map((powerhead, i) => setAt(i, { powerhead, lowerUnit: lower[i], order: number })),
    );
    const motors = answers.map((one) => one.body.motor as string);
    const numbers = motors.map((motor) => Number(motor.slice(3, 9))).sort((a, b) => a - b);
    // One motor of the first test and three of the second came before.
    expect(numbers).toEqual(Array.from({ length: STATIONS }, (_, i) => i + 5));
    expect(answers.map((one) => one.body.orderSet).sort((a, b) => a - b)).toEqual(
      Array.from({ length: STATIONS }, (_, i) => i + 1),
    );
  });

  it('that tear one motor down: one does, the others are told its state', async () => {
    const number = await order(plant, 1);
    const set = await setAt(1, {
      powerhead: await enter(plant, 'powerhead'),
      lowerUnit: await enter(plant, 'lower-unit'),
      order: number,
    });
    const answers = await Promise.all(
      Array.from({ length: 4 }, () =>
        plant.post('repair', '/v1/teardowns', { motor: set.body.motor, reason: 'Wrong colour' }),
      ),
    );
    expect(answers.map((one) => one.status).sort()).toEqual([200, 409, 409, 409]);
    const state = await plant.get('read', `/v1/orders/${number}`);
    expect(state.body.set).toBe(0);
  });
});
