import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  furnish,
  holdBecause,
  refused,
  runMotor,
} from '../support/scenario.js';

describe('what a repair bench asks', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const repairsOf = async (query: string) =>
    (await plant.get('read', `/v1/repairs?${query}`)).body.items.map(
      (one: { id: number }) => one.id,
    );
  const scan = (repair: number, text: string, more = '') =>
    plant.get('repair', `/v1/repairs/${repair}/scan?text=${encodeURIComponent(text)}${more}`);

  it('the repairs of one motor, by its scan, open or all', async () => {
    const { motor, repair } = await failedMotor(plant);
    const other = await failedMotor(plant);
    expect(await repairsOf(`motor=${motor}`)).toEqual([repair]);
    await closeRepair(plant, repair);
    expect(await repairsOf(`motor=${motor}&open=true`)).toEqual([]);
    expect(await repairsOf(`motor=${motor}&open=false`)).toEqual([repair]);
    expect(await repairsOf('open=true')).toContain(other.repair);
    const second = await runMotor(plant, motor, [
      { code: 'idle-speed', value: 900 },
      { code: 'water-pressure', value: 100 },
      { code: 'telltale', value: true },
    ]);
    expect(await repairsOf(`motor=${motor}`)).toEqual([repair, second.repair]);
    const page = await plant.get('read', `/v1/repairs?motor=${motor}&limit=1`);
    expect(page.body.items).toHaveLength(1);
    expect((await plant.get('read', page.body.next)).body.items[0].id).toBe(second.repair);
    await refused(plant, 'wrong-class', () =>
      plant.get('read', `/v1/repairs?motor=${other.powerhead}`),
    );
  });

  it('the motors that wait, the longest first, whatever the order of their numbers', async () => {
    const late = await failedMotor(plant);
    plant.wait(60_000);
    const waiting = plant.service.store.reading.repair.waiting(100);
    expect(waiting.map((one) => one.openedAtMs)).toEqual(
      waiting.map((one) => one.openedAtMs).sort((a, b) => a - b),
    );
    expect(waiting.at(-1)?.id).toBe(late.repair);
    expect(waiting.every((one) => one.closedAtMs === null)).toBe(true);
    expect(plant.service.store.reading.repair.waiting(1)).toHaveLength(1);
  });

  it('what a scanned part is: in the motor and where, or from outside and whether it fits', async () => {
    const { powerhead, motor, repair } = await failedMotor(plant);
    const spare = await enter(plant, 'fuel-pump');
    expect((await scan(repair, powerhead)).body).toEqual({
      class: 'powerhead',
      serial: powerhead,
      part: 'PH-100',
      partRevision: 'A',
      model: null,
      inside: true,
      position: 'powerhead',
      parentClass: 'motor',
      parent: motor,
      refusal: null,
    });
    expect((await scan(repair, spare)).body).toMatchObject({
      class: 'fuel-pump',
      inside: false,
      position: null,
      parent: null,
      refusal: null,
    });
    await holdBecause(plant, 'fuel-pump', spare, { cause: 'quality', reason: 'Wrong seal' });
    expect((await scan(repair, spare)).body.refusal).toMatchObject({
      type: '/problems/on-hold',
      detail: expect.stringContaining('Wrong seal'),
    });
  });

  it('refuses the motor itself, an unknown repair, and asks where two classes bear a serial', async () => {
    const { motor, repair } = await failedMotor(plant);
    await refused(plant, 'wrong-class', () => scan(repair, motor));
    await refused(plant, 'repair-unknown', () => scan(999_999, motor));
    await enter(plant, 'powerhead', { serial: 'PAIR-1' });
    await enter(plant, 'fuel-pump', { serial: 'PAIR-1' });
    await refused(plant, 'serial-ambiguous', () => scan(repair, 'PAIR-1'));
    expect((await scan(repair, 'PAIR-1', '&class=fuel-pump')).body.class).toBe('fuel-pump');
  });
});
