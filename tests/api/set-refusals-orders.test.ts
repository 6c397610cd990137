import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { checkAddress, expectRefusal } from '../support/refused-set.js';
import { configure, enter, furnish, order } from '../support/scenario.js';

const HOUR = 3_600_000;

describe('a set of parts that no configuration takes is refused, and', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 9);
  });
  afterAll(() => plant.stop());

  const none = (powerheadRevision: string, lowerUnit: string) => ({
    slug: 'no-configuration',
    status: 409,
    detail: `No configuration in force takes powerhead PH-100 revision ${powerheadRevision} with lower unit ${lowerUnit} revision A.`,
    powerheadPart: 'PH-100',
    lowerUnitPart: lowerUnit,
  });

  it('parts that were never configured together name both with their revisions', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit', {
      part: { number: 'LU-25', revision: 'A' },
    });
    const scans = { powerhead, lowerUnit };
    await expectRefusal(plant, scans, { ...none('A', 'LU-25'), units: [powerhead, lowerUnit] });
  });

  it('a configuration that is not yet effective does not count until its moment', async () => {
    await plant.make('configuration', '/v1/models', {
      code: 'F100X',
      name: 'Hundred, extra long shaft',
      ratedPowerKw: 73.5,
      attributes: { shaftLength: '635 mm' },
    });
    const from = plant.now + HOUR;
    await configure(
      plant,
      { code: 'F100X-A', model: 'F100X', lowerUnitNumber: 'LU-25' },
      { effectiveFrom: new Date(from).toISOString() },
    );
    await order(plant, 1, { model: 'F100X' });
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit', {
      part: { number: 'LU-25', revision: 'A' },
    });
    const scans = { powerhead, lowerUnit };
    plant.wait(from - plant.now - 1);
    await expectRefusal(plant, scans, { ...none('A', 'LU-25'), units: [powerhead, lowerUnit] });
    plant.wait(1);
    const check = await plant.get('read', checkAddress(scans));
    expect(check.body).toMatchObject({ model: 'F100X', configuration: 'F100X-A' });
  });

  it('a draft does not count, however long it waits for approval', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit');
    // Discontinued by a draft that nobody approved: the rule in force still takes the pair.
    await plant.make('configuration', '/v1/configurations', {
      code: 'F100L-A',
      model: 'F100L',
      powerheadNumber: 'PH-100',
      lowerUnitNumber: 'LU-20',
      discontinued: true,
    });
    plant.wait(24 * HOUR);
    const check = await plant.get('read', checkAddress({ powerhead, lowerUnit }));
    expect(check.body).toMatchObject({ configuration: 'F100L-A', configurationRevision: 1 });
  });

  it('a revision that names one powerhead revision refuses the others', async () => {
    const list = await plant.get('read', '/v1/configurations?code=F100L-A&state=draft');
    const [draft] = list.body.items as { id: number }[];
    const revised = await plant.put(
      'configuration',
      `/v1/configurations/${draft?.id}`,
      {
        code: 'F100L-A',
        model: 'F100L',
        powerheadNumber: 'PH-100',
        powerheadRevision: 'B',
        lowerUnitNumber: 'LU-20',
      },
      { headers: { 'If-Match': '"v1"' } },
    );
    expect(revised.status).toBe(200);
    await plant.make('configuration 2', `/v1/configurations/${draft?.id}/approval`, {});
    const lowerUnit = await enter(plant, 'lower-unit');
    const old = await enter(plant, 'powerhead');
    const scans = { powerhead: old, lowerUnit };
    await expectRefusal(plant, scans, { ...none('A', 'LU-20'), units: [old, lowerUnit] });
    const fresh = await enter(plant, 'powerhead', { part: { number: 'PH-100', revision: 'B' } });
    const check = await plant.get('read', checkAddress({ powerhead: fresh, lowerUnit }));
    expect(check.body).toMatchObject({ wouldSet: true, configurationRevision: 2 });
  });

  it('a discontinued rule takes nothing from its date on', async () => {
    plant.wait(HOUR);
    const powerhead = await enter(plant, 'powerhead', {
      part: { number: 'PH-100', revision: 'B' },
    });
    const lowerUnit = await enter(plant, 'lower-unit');
    const scans = { powerhead, lowerUnit };
    expect((await plant.get('read', checkAddress(scans))).status).toBe(200);
    await configure(plant, { code: 'F100L-A', discontinued: true });
    plant.wait(1);
    await expectRefusal(plant, scans, { ...none('B', 'LU-20'), units: [powerhead, lowerUnit] });
  });
});

describe('a set that no order asks for is refused, and', () => {
  let plant: TestPlant;
  let powerhead: string;
  let lowerUnit: string;
  let units: string[];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    powerhead = await enter(plant, 'powerhead');
    lowerUnit = await enter(plant, 'lower-unit');
    units = [powerhead, lowerUnit];
  });
  afterAll(() => plant.stop());

  it('without any open order it names the model that the pair would make', async () => {
    await expectRefusal(
      plant,
      { powerhead, lowerUnit },
      {
        slug: 'no-open-order',
        status: 409,
        detail: 'No open order asks for model F100L.',
        models: ['F100L'],
        units,
      },
    );
  });

  it('an order that does not exist is named', async () => {
    await expectRefusal(
      plant,
      { powerhead, lowerUnit, order: 'O-GHOST' },
      { slug: 'order-unknown', status: 404, detail: 'There is no order O-GHOST.', units },
    );
  });

  it('an order for another model names both models', async () => {
    await plant.make('configuration', '/v1/models', { code: 'F75', name: '75', ratedPowerKw: 55 });
    const other = await order(plant, 1, { model: 'F75' });
    await expectRefusal(
      plant,
      { powerhead, lowerUnit, order: other },
      {
        slug: 'no-open-order',
        status: 409,
        detail: `Order ${other} asks for model F75; this pair makes model F100L.`,
        models: ['F100L'],
        orderModel: 'F75',
        units,
      },
    );
  });

  it('a closed order says why it was closed, scanned or not', async () => {
    const closed = await order(plant, 2);
    await plant.make('configuration', `/v1/orders/${closed}/closure`, { reason: 'Cancelled' });
    await expectRefusal(
      plant,
      { powerhead, lowerUnit, order: closed },
      {
        slug: 'order-closed',
        status: 409,
        detail: `Order ${closed} is closed: Cancelled`,
        units,
      },
    );
    await expectRefusal(
      plant,
      { powerhead, lowerUnit },
      { slug: 'no-open-order', status: 409, detail: 'No open order asks for model F100L.', units },
    );
  });

  it('a complete order says how many it has, scanned or not', async () => {
    const full = await order(plant, 1);
    const set = await plant.post('set', '/v1/sets', {
      powerhead: await enter(plant, 'powerhead'),
      lowerUnit: await enter(plant, 'lower-unit'),
      order: full,
      station: 'SET-1',
    });
    expect(set.body).toMatchObject({ order: full, orderSet: 1, orderQuantity: 1 });
    await expectRefusal(
      plant,
      { powerhead, lowerUnit, order: full },
      {
        slug: 'order-complete',
        status: 409,
        detail: `Order ${full} is complete: 1 of 1 motors are set.`,
        order: full,
        quantity: 1,
        units,
      },
    );
    await expectRefusal(
      plant,
      { powerhead, lowerUnit },
      { slug: 'no-open-order', status: 409, detail: 'No open order asks for model F100L.', units },
    );
  });
});
