import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { checkAddress } from '../support/refused-set.js';
import { configure, enter, furnish, order } from '../support/scenario.js';

const HOUR = 3_600_000;

async function freshPair(plant: TestPlant) {
  return {
    powerhead: await enter(plant, 'powerhead'),
    lowerUnit: await enter(plant, 'lower-unit'),
  };
}

async function set(plant: TestPlant, more: Record<string, unknown> = {}) {
  const answer = await plant.post('set', '/v1/sets', {
    ...(await freshPair(plant)),
    station: 'SET-1',
    ...more,
  });
  expect(answer.status).toBe(201);
  return answer.body as Record<string, unknown> & { motor: string; order: string };
}

describe('a configuration superseded from a date', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 9);
  });
  afterAll(() => plant.stop());

  it('governs sets until that date, and its successor governs those from it on', async () => {
    const from = plant.now + HOUR;
    const id = await configure(
      plant,
      { code: 'F100L-A', attributes: { gearRatio: '1.85' } },
      { effectiveFrom: iso(from) },
    );
    plant.wait(HOUR - 1);
    const before = await set(plant);
    expect(before).toMatchObject({ configuration: 'F100L-A', configurationRevision: 1 });
    plant.wait(1);
    const after = await set(plant);
    expect(after).toMatchObject({ configuration: 'F100L-A', configurationRevision: 2 });

    const attributes = async (motor: string) =>
      (await plant.get('read', `/v1/history?serial=${motor}`)).body.unit.attributes;
    expect(await attributes(before.motor)).toEqual({ shaftLength: '508 mm' });
    expect(await attributes(after.motor)).toEqual({ shaftLength: '508 mm', gearRatio: '1.85' });
    const inForce = async (at: number) =>
      (await plant.get('read', `/v1/configurations?code=F100L-A&inForceAt=${iso(at)}`)).body.items;
    expect(await inForce(from - 1)).toMatchObject([{ revision: 1 }]);
    expect(await inForce(from)).toMatchObject([{ id, revision: 2 }]);
  });

  it('stands in the history of a motor with the revision it was set under', async () => {
    const made = await set(plant);
    await configure(plant, { code: 'F100L-A' });
    plant.wait(HOUR);
    const history = await plant.get('read', `/v1/history?serial=${made.motor}`);
    expect(history.body.sets).toMatchObject([
      { configuration: 'F100L-A', configurationRevision: 2, station: 'SET-1', setBy: 'set key' },
    ]);
    expect(await set(plant)).toMatchObject({ configurationRevision: 3 });
  });
});

describe('without an order scanned', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('a set goes to the order of the highest priority, then of the earliest due date, then the oldest', async () => {
    // Opened in an order that neither priority nor due date follows.
    const late = await order(plant, 1, { priority: 5, dueOn: '2026-03-20' });
    const oldest = await order(plant, 1, { priority: 5, dueOn: '2026-03-12' });
    const sameDay = await order(plant, 1, { priority: 5, dueOn: '2026-03-12' });
    const usual = await order(plant, 1, { dueOn: '2026-03-11' });
    const urgent = await order(plant, 2, { priority: 1, dueOn: '2026-12-31' });
    const closed = await order(plant, 1, { priority: 1, dueOn: '2026-03-03' });
    await plant.make('quality', `/v1/orders/${closed}/closure`, { reason: 'Cancelled' });
    const taken: string[] = [];
    for (let i = 0; i < 6; i += 1) {
      const check = await plant.get('read', checkAddress(await freshPair(plant)));
      const made = await set(plant);
      expect(check.body.order).toBe(made.order);
      taken.push(made.order);
    }
    // `usual` has no priority of its own: 5 is the default.
    expect(taken).toEqual([urgent, urgent, usual, oldest, sameDay, late]);
  });

  it('an order scanned is taken, though another is more urgent', async () => {
    const urgent = await order(plant, 1, { priority: 1 });
    const chosen = await order(plant, 1, { priority: 9 });
    expect(await set(plant, { order: chosen })).toMatchObject({ order: chosen, orderSet: 1 });
    const next = await plant.get('read', `/v1/orders/${urgent}`);
    expect(next.body).toMatchObject({ set: 0, state: 'open' });
  });
});

describe('a pair that configurations of two models take', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('configuration', '/v1/models', {
      code: 'F100C',
      name: 'Hundred, long shaft, camouflage',
      ratedPowerKw: 73.5,
      attributes: { shaftLength: '508 mm', colour: 'green' },
    });
    await configure(plant, { code: 'F100C-A', model: 'F100C' });
    plant.wait(1000);
  });
  afterAll(() => plant.stop());

  it('becomes the model of the most urgent order of either', async () => {
    await order(plant, 1, { model: 'F100L', priority: 5 });
    await order(plant, 1, { model: 'F100C', priority: 2 });
    expect(await set(plant)).toMatchObject({ model: 'F100C', configuration: 'F100C-A' });
    expect(await set(plant)).toMatchObject({ model: 'F100L', configuration: 'F100L-A' });
  });

  it('becomes the model of the order that is scanned', async () => {
    await order(plant, 1, { model: 'F100L', priority: 1 });
    const green = await order(plant, 1, { model: 'F100C', priority: 9 });
    expect(await set(plant, { order: green })).toMatchObject({ model: 'F100C' });
  });

  it('becomes the one whose attributes it has, where it cannot be both', async () => {
    await order(plant, 1, { model: 'F100C', priority: 1 });
    const scans = {
      powerhead: await enter(plant, 'powerhead', { attributes: { colour: 'white' } }),
      lowerUnit: await enter(plant, 'lower-unit'),
    };
    const check = await plant.get('read', checkAddress(scans));
    expect(check.body).toMatchObject({ model: 'F100L', configuration: 'F100L-A' });
  });

  it('is refused with both models where no order asks for either', async () => {
    const open = (await plant.get('read', '/v1/orders?state=open')).body.items;
    for (const { number } of open as { number: string }[]) {
      await plant.make('quality', `/v1/orders/${number}/closure`, { reason: 'Year end' });
    }
    const check = await plant.get('read', checkAddress(await freshPair(plant)));
    expect(check.body).toMatchObject({
      type: '/problems/no-open-order',
      detail: 'No open order asks for model F100L or F100C.',
      models: ['F100L', 'F100C'],
    });
  });
});
