import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { checkAddress, expectRefusal } from '../support/refused-set.js';
import {
  configure,
  enter,
  furnish,
  hold,
  holdBecause,
  order,
  setMotor,
} from '../support/scenario.js';

describe('a set of a half that may not be used is refused, and', () => {
  let plant: TestPlant;
  let powerhead: string;
  let lowerUnit: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    powerhead = await enter(plant, 'powerhead');
    lowerUnit = await enter(plant, 'lower-unit');
    await order(plant, 5);
  });
  afterAll(() => plant.stop());

  it('a rejected powerhead says which inspection has to accept it', async () => {
    const rejected = await enter(plant, 'powerhead', { inspection: { result: 'rejected' } });
    await expectRefusal(
      plant,
      { powerhead: rejected, lowerUnit },
      {
        slug: 'not-accepted',
        status: 409,
        detail: `Powerhead ${rejected} is rejected: its build record has to accept it first.`,
        serial: rejected,
        units: [rejected, lowerUnit],
      },
    );
  });

  it('a rejected lower unit names its paint inspection', async () => {
    const rejected = await enter(plant, 'lower-unit', { inspection: { result: 'rejected' } });
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: rejected },
      {
        slug: 'not-accepted',
        status: 409,
        detail: `Lower unit ${rejected} is rejected: its paint inspection has to accept it first.`,
        units: [powerhead, rejected],
      },
    );
  });

  it('a half on hold says the cause and the reason, until the hold is lifted', async () => {
    const held = await enter(plant, 'lower-unit');
    const id = await hold(plant, 'lower-unit', held);
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: held },
      {
        slug: 'on-hold',
        status: 409,
        detail: `Lower unit ${held} is on hold (quality): To be looked at`,
        serial: held,
        hold: id,
        units: [powerhead, held],
      },
    );
    await plant.make('quality', `/v1/holds/${id}/lift`, { reason: 'Polished' });
    const check = await plant.get('read', checkAddress({ powerhead, lowerUnit: held }));
    expect(check.body).toMatchObject({ wouldSet: true, lowerUnit: held });
  });

  it('a hold on a component two levels inside the powerhead is found and named', async () => {
    await plant.make('configuration', '/v1/part-classes', { code: 'seal', name: 'Seal' });
    await plant.make('configuration', '/v1/parts', {
      number: 'SE-1',
      revision: 'A',
      name: 'Seal',
      tracking: 'serial',
      class: 'seal',
    });
    await plant.make('set', '/v1/units', {
      class: 'seal',
      serial: 'S-1',
      part: { number: 'SE-1', revision: 'A' },
      inspection: { result: 'accepted' },
    });
    const pump = await enter(plant, 'fuel-pump', {
      components: [{ class: 'seal', serial: 'S-1' }],
    });
    const whole = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    const id = await holdBecause(plant, 'seal', 'S-1', {
      cause: 'supplier',
      reason: 'Wrong rubber',
    });
    await expectRefusal(
      plant,
      { powerhead: whole, lowerUnit },
      {
        slug: 'on-hold',
        status: 409,
        detail: 'Seal S-1 is on hold (supplier): Wrong rubber',
        serial: 'S-1',
        hold: id,
        units: [whole, lowerUnit],
      },
    );
  });

  it('a scrapped half says so, even if it was on hold before', async () => {
    const scrapped = await enter(plant, 'powerhead');
    await hold(plant, 'powerhead', scrapped);
    await plant.make('quality', '/v1/dispositions', {
      class: 'powerhead',
      unit: scrapped,
      kind: 'scrap',
      reason: 'Cracked block',
    });
    await expectRefusal(
      plant,
      { powerhead: scrapped, lowerUnit },
      {
        slug: 'scrapped',
        status: 409,
        detail: `Powerhead ${scrapped} is scrapped.`,
        serial: scrapped,
        units: [scrapped, lowerUnit],
      },
    );
  });

  it('a half that is in a motor says in which', async () => {
    const made = await setMotor(plant);
    await expectRefusal(
      plant,
      { powerhead: made.powerhead, lowerUnit },
      {
        slug: 'already-installed',
        status: 409,
        detail: `Powerhead ${made.powerhead} is in motor ${made.motor} already.`,
        parentClass: 'motor',
        parentSerial: made.motor,
        units: [made.powerhead, lowerUnit],
      },
    );
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: made.lowerUnit },
      {
        slug: 'already-installed',
        status: 409,
        detail: `Lower unit ${made.lowerUnit} is in motor ${made.motor} already.`,
        parentSerial: made.motor,
        units: [powerhead, made.lowerUnit],
      },
    );
  });

  it('after all these refusals the good pair still sets and takes the next serial', async () => {
    const set = await plant.post('set', '/v1/sets', { powerhead, lowerUnit, station: 'SET-1' });
    expect(set.status).toBe(201);
    // Number 1 went to the motor of the test above; no refusal took one.
    expect(set.body.motor).toMatch(/^T26000002.$/);
  });
});

describe('a set of two halves whose attributes do not go together is refused, and', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 5);
  });
  afterAll(() => plant.stop());

  async function pair(ofPowerhead: Record<string, string>, ofLowerUnit: Record<string, string>) {
    const powerhead = await enter(plant, 'powerhead', { attributes: ofPowerhead });
    const lowerUnit = await enter(plant, 'lower-unit', { attributes: ofLowerUnit });
    return { powerhead, lowerUnit, units: [powerhead, lowerUnit] };
  }

  it('halves that disagree with each other are told with both values', async () => {
    const { units, ...scans } = await pair({ colour: 'white' }, { colour: 'black' });
    await expectRefusal(plant, scans, {
      slug: 'attribute-conflict',
      status: 409,
      detail: 'colour: this lower unit has black, the powerhead has white.',
      attribute: 'colour',
      half: 'lower unit',
      found: 'black',
      wanted: 'white',
      wantedBy: 'powerhead',
      units,
    });
  });

  it('a powerhead that differs from the model is told with both values', async () => {
    const { units, ...scans } = await pair({ shaftLength: '635 mm' }, {});
    // The lower unit's part has the 508 mm of the model, so the halves disagree first.
    await expectRefusal(plant, scans, {
      slug: 'attribute-conflict',
      status: 409,
      detail: 'shaftLength: this lower unit has 508 mm, the powerhead has 635 mm.',
      units,
    });
  });

  it('a half that differs from the configuration is told, whichever half it is', async () => {
    const revised = { code: 'F100L-A', attributes: { rotation: 'right' } };
    await configure(plant, revised);
    plant.wait(1000);
    const first = await pair({ rotation: 'left' }, {});
    await expectRefusal(
      plant,
      { powerhead: first.powerhead, lowerUnit: first.lowerUnit },
      {
        slug: 'attribute-conflict',
        status: 409,
        detail: 'rotation: this powerhead has left, the configuration wants right.',
        half: 'powerhead',
        wantedBy: 'configuration',
        units: first.units,
      },
    );
    const second = await pair({}, { rotation: 'left' });
    await expectRefusal(
      plant,
      { powerhead: second.powerhead, lowerUnit: second.lowerUnit },
      {
        slug: 'attribute-conflict',
        status: 409,
        detail: 'rotation: this lower unit has left, the configuration wants right.',
        half: 'lower unit',
        wantedBy: 'configuration',
        units: second.units,
      },
    );
  });

  it('an attribute that only one half has decides nothing', async () => {
    const { powerhead, lowerUnit } = await pair(
      { cowl: 'tall' },
      { gearRatio: '1.85', rotation: 'right' },
    );
    const check = await plant.get('read', checkAddress({ powerhead, lowerUnit }));
    expect(check.body).toMatchObject({ wouldSet: true, powerhead, lowerUnit });
  });
});
