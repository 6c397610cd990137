import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { checkAddress } from '../support/refused-set.js';
import { configure, enter, furnish, hold, order, refused } from '../support/scenario.js';

interface Next {
  order: { number: string } | null;
  remaining: number;
  configuration: string | null;
  powerheads: { serial: string }[];
  lowerUnits: { serial: string }[];
  passedOver: { order: string; reason: string }[];
}

async function next(plant: TestPlant): Promise<Next> {
  return (await plant.get('set', '/v1/orders/next')).body;
}

const serials = (units: { serial: string }[]) => units.map((one) => one.serial);

describe('what to build next', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('is nothing while there is no order, and then says what an order lacks', async () => {
    expect(await next(plant)).toEqual({
      order: null,
      remaining: 0,
      configuration: null,
      powerheads: [],
      lowerUnits: [],
      passedOver: [],
    });
    const number = await order(plant, 2);
    expect((await next(plant)).passedOver).toEqual([
      {
        order: number,
        reason: 'No powerhead PH-100 is ready; no lower unit LU-20 is ready.',
      },
    ]);
    await enter(plant, 'lower-unit');
    expect((await next(plant)).passedOver).toEqual([
      { order: number, reason: 'No powerhead PH-100 is ready.' },
    ]);
    const powerhead = await enter(plant, 'powerhead');
    expect(await next(plant)).toMatchObject({
      order: { number },
      remaining: 2,
      configuration: 'F100L-A',
      powerheads: [{ serial: powerhead, part: 'PH-100', partRevision: 'A' }],
      passedOver: [],
    });
  });

  it('counts down what remains, and names neither used nor rejected nor held halves', async () => {
    const before = await next(plant);
    const [powerhead, lowerUnit] = [before.powerheads[0]?.serial, before.lowerUnits[0]?.serial];
    await plant.make('set', '/v1/sets', { powerhead, lowerUnit, station: 'SET-1' });
    await enter(plant, 'powerhead', { inspection: { result: 'rejected' } });
    const held = await enter(plant, 'powerhead');
    const holdId = await hold(plant, 'powerhead', held);
    await enter(plant, 'lower-unit');
    expect((await next(plant)).passedOver).toMatchObject([
      { reason: 'No powerhead PH-100 is ready.' },
    ]);
    await plant.make('quality', `/v1/holds/${holdId}/lift`, { reason: 'Fine' });
    const after = await next(plant);
    expect(after.remaining).toBe(1);
    expect(serials(after.powerheads)).toEqual([held]);
  });

  it('names five of each at most, the oldest first', async () => {
    for (let i = 0; i < 6; i += 1) {
      await enter(plant, 'powerhead');
      await enter(plant, 'lower-unit');
    }
    const { powerheads, lowerUnits } = await next(plant);
    expect(powerheads).toHaveLength(5);
    expect(lowerUnits).toHaveLength(5);
    expect(serials(powerheads)).toEqual([...serials(powerheads)].sort());
  });

  it('passes over an urgent order whose model has no configuration, and one whose halves lack', async () => {
    await plant.make('configuration', '/v1/models', { code: 'F75', name: '75', ratedPowerKw: 55 });
    await plant.make('configuration', '/v1/models', { code: 'F90', name: '90', ratedPowerKw: 66 });
    await configure(plant, {
      code: 'F90-A',
      model: 'F90',
      powerheadRevision: 'B',
      lowerUnitNumber: 'LU-25',
    });
    plant.wait(1000);
    const first = await order(plant, 1, { model: 'F75', priority: 1 });
    const second = await order(plant, 1, { model: 'F90', priority: 2 });
    const found = await next(plant);
    expect(found.order).toMatchObject({ model: 'F100L' });
    expect(found.passedOver).toEqual([
      { order: first, reason: 'No configuration of model F75 is in force.' },
      {
        order: second,
        reason: 'No powerhead PH-100 revision B is ready; no lower unit LU-25 is ready.',
      },
    ]);
    await enter(plant, 'powerhead', { part: { number: 'PH-100', revision: 'B' } });
    await enter(plant, 'lower-unit', { part: { number: 'LU-25', revision: 'A' } });
    expect(await next(plant)).toMatchObject({
      order: { number: second },
      configuration: 'F90-A',
      passedOver: [{ order: first }],
    });
    for (const number of [first, second]) {
      await plant.make('quality', `/v1/orders/${number}/closure`, { reason: 'Done' });
    }
  });

  it('goes by priority, then by due date, then by age', async () => {
    const later = await order(plant, 1, { priority: 4, dueOn: '2026-03-09' });
    const sooner = await order(plant, 1, { priority: 4, dueOn: '2026-03-05' });
    const youngest = await order(plant, 1, { priority: 4, dueOn: '2026-03-05' });
    for (const expected of [sooner, youngest, later]) {
      const found = await next(plant);
      expect(found.order?.number).toBe(expected);
      const scans = {
        powerhead: found.powerheads[0]?.serial ?? '',
        lowerUnit: found.lowerUnits[0]?.serial ?? '',
      };
      // A set without an order scanned takes the same one.
      const check = await plant.get('read', checkAddress(scans));
      expect(check.body).toMatchObject({ order: expected });
      await plant.make('set', '/v1/sets', { ...scans, station: 'SET-1' });
    }
  });

  it('takes no member that it does not know', async () => {
    await refused(plant, 'request-invalid', () => plant.get('read', '/v1/orders/next?cell=C-1'));
  });
});

describe('what to build next names only halves of which any two can be set:', () => {
  let plant: TestPlant;
  let number: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    number = await order(plant, 9);
  });
  afterAll(() => plant.stop());

  const colour = (value: string) => ({ attributes: { colour: value } });

  it('halves that do not go together pass the order over', async () => {
    await enter(plant, 'powerhead', colour('white'));
    await enter(plant, 'lower-unit', colour('black'));
    expect(await next(plant)).toMatchObject({
      order: null,
      passedOver: [
        {
          order: number,
          reason: 'No ready powerhead PH-100 goes with a ready lower unit LU-20.',
        },
      ],
    });
  });

  it('those that go together are found behind older ones that do not', async () => {
    const black = await enter(plant, 'powerhead', colour('black'));
    await enter(plant, 'powerhead', colour('white'));
    const plain = await enter(plant, 'powerhead');
    const found = await next(plant);
    expect(found.order?.number).toBe(number);
    for (const powerhead of serials(found.powerheads)) {
      for (const lowerUnit of serials(found.lowerUnits)) {
        const check = await plant.get('read', checkAddress({ powerhead, lowerUnit }));
        expect(check.body).toMatchObject({ wouldSet: true });
      }
    }
    expect(serials(found.powerheads)).toEqual([black, plain]);
  });

  it('a half with a component on hold is not named', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const whole = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    expect(serials((await next(plant)).powerheads)).toContain(whole);
    await hold(plant, 'fuel-pump', pump);
    expect(serials((await next(plant)).powerheads)).not.toContain(whole);
  });

  it('an attribute that the model fixes is looked for past any number of others', async () => {
    await plant.make('configuration', '/v1/models', {
      code: 'F100R',
      name: 'Hundred, red',
      ratedPowerKw: 73.5,
      attributes: { colour: 'red' },
    });
    await configure(plant, { code: 'F100R-A', model: 'F100R', powerheadRevision: 'B' });
    plant.wait(1000);
    const red = await order(plant, 1, { model: 'F100R', priority: 1 });
    const part = { number: 'PH-100', revision: 'B' };
    // More white ones than are looked at of one half.
    for (let i = 0; i < 51; i += 1) await enter(plant, 'powerhead', { part, ...colour('white') });
    const right = await enter(plant, 'powerhead', { part, ...colour('red') });
    const lowerUnit = await enter(plant, 'lower-unit');
    const found = await next(plant);
    expect(found.order?.number).toBe(red);
    expect(serials(found.powerheads)).toEqual([right]);
    expect(serials(found.lowerUnits)).toEqual([lowerUnit]);
  });
});
