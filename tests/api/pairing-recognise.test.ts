import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, hold, order, setMotor } from '../support/scenario.js';

describe('what a scan at a set station is', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const recognise = (text: string, unitClass?: string) => {
    const query = new URLSearchParams({ text, ...(unitClass ? { class: unitClass } : {}) });
    return plant.get('set', `/v1/sets/scan?${query}`);
  };

  it('is a half by its serial, with part and attributes, and writes nothing', async () => {
    const lowerUnit = await enter(plant, 'lower-unit');
    const before = plant.eventCount();
    const answer = await recognise(` ${lowerUnit} `);
    expect(answer.body).toEqual({
      is: 'lower-unit',
      name: lowerUnit,
      part: 'LU-20',
      partRevision: 'A',
      attributes: { shaftLength: '508 mm' },
      order: null,
      refusal: null,
    });
    expect((await recognise(await enter(plant, 'powerhead'))).body.is).toBe('powerhead');
    expect(plant.eventCount()).toBe(before + 1);
  });

  it('is an order by its number, with how far it is', async () => {
    const number = await order(plant, 3);
    const { body } = await recognise(number);
    expect(body).toMatchObject({
      is: 'order',
      name: number,
      order: { number, model: 'F100L', quantity: 3, set: 0 },
      refusal: null,
    });
  });

  it('is the unit where a serial is also an order’s number', async () => {
    const number = await order(plant);
    await enter(plant, 'powerhead', { serial: number });
    expect((await recognise(number)).body.is).toBe('powerhead');
  });

  it('tells beside it what a set would be refused with now', async () => {
    const made = await setMotor(plant);
    const held = await enter(plant, 'powerhead');
    await hold(plant, 'powerhead', held);
    const closed = await order(plant);
    await plant.make('configuration', `/v1/orders/${closed}/closure`, { reason: 'Cancelled' });
    const rejected = await enter(plant, 'lower-unit', {
      inspection: { result: 'rejected', note: 'Runs in the paint' },
    });
    for (const [text, slug] of [
      [made.lowerUnit, 'already-installed'],
      [held, 'on-hold'],
      [rejected, 'not-accepted'],
      [closed, 'order-closed'],
      [made.order, 'order-complete'],
    ] as const) {
      const { refusal } = (await recognise(text)).body;
      expect(refusal.type).toBe(`/problems/${slug}`);
      expect(refusal.status).toBe(409);
      expect(refusal.detail.length).toBeGreaterThan(20);
    }
  });

  it('is refused where it is neither, or cannot be told', async () => {
    const { motor } = await setMotor(plant);
    await enter(plant, 'powerhead', { serial: 'BOTH-1' });
    await enter(plant, 'lower-unit', { serial: 'BOTH-1' });
    for (const [text, slug] of [
      [motor, 'wrong-class'],
      [await enter(plant, 'fuel-pump'), 'wrong-class'],
      ['NOBODY-1', 'serial-unknown'],
      ['two words', 'scan-unreadable'],
      ['BOTH-1', 'serial-ambiguous'],
    ] as const) {
      expect((await recognise(text)).body.type).toBe(`/problems/${slug}`);
    }
    expect((await recognise('BOTH-1', 'lower-unit')).body.is).toBe('lower-unit');
    expect((await recognise('BOTH-1', 'motor')).body.type).toBe('/problems/request-invalid');
  });
});

describe('the latest sets', () => {
  it('come last first, of one station or of all, and no more than asked for', async () => {
    const plant = await TestPlant.start();
    await furnish(plant);
    const made: [motor: string, station: string][] = [];
    for (const station of ['SET-1', 'SET-2', 'SET-1']) {
      const powerhead = await enter(plant, 'powerhead');
      const lowerUnit = await enter(plant, 'lower-unit');
      await order(plant);
      plant.wait(1000);
      const body = { powerhead, lowerUnit, station };
      const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', body);
      made.unshift([motor, station]);
    }
    const { pairing } = plant.service.store.reading;
    const motors = (station: string | undefined, limit: number) =>
      pairing.latest(station, limit).map((set) => set.motor);
    expect(motors(undefined, 10)).toEqual(made.map(([motor]) => motor));
    expect(motors('SET-1', 10)).toEqual([made[0]?.[0], made[2]?.[0]]);
    expect(motors('SET-1', 1)).toEqual([made[0]?.[0]]);
    expect(motors('SET-3', 10)).toEqual([]);
    await plant.stop();
  });
});
