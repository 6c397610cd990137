import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, failing, furnish, order, runMotor } from '../support/scenario.js';

interface Placed {
  class: string;
  serial: string;
  depth: number;
  position: string | null;
  parentClass: string | null;
  parent: string | null;
  since: string | null;
  until: string | null;
}

describe('the tree of a serial', () => {
  let plant: TestPlant;
  const at = { motor: '', powerhead: '', lowerUnit: '', pump: '', valve: '', spare: '' };
  const when = { entered: '', set: '', exchanged: '', tornDown: '' };
  const now = () => new Date(plant.now).toISOString();

  const tree = async (query: string): Promise<Placed[]> => {
    const answer = await plant.get('read', `/v1/tree?${query}`);
    expect(answer.status, answer.text).toBe(200);
    return answer.body.units;
  };
  const serials = (units: Placed[]) => units.map((one) => one.serial);

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    // A pump with a valve of its own in it: four levels, motor to valve.
    at.valve = await enter(plant, 'fuel-pump');
    at.spare = await enter(plant, 'fuel-pump');
    at.pump = await enter(plant, 'fuel-pump', {
      components: [{ class: 'fuel-pump', serial: at.valve, position: 'valve' }],
    });
    at.powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: at.pump }],
    });
    at.lowerUnit = await enter(plant, 'lower-unit');
    when.entered = now();
    plant.wait(60_000);
    const pair = { powerhead: at.powerhead, lowerUnit: at.lowerUnit, order: await order(plant) };
    const set = { ...pair, station: 'SET-1' };
    at.motor = (await plant.make<{ motor: string }>('set', '/v1/sets', set)).motor;
    when.set = now();
    plant.wait(60_000);
    const { repair } = await runMotor(plant, at.motor, failing);
    plant.wait(60_000);
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
      parentClass: 'powerhead',
      parent: at.powerhead,
      position: 'fuel-pump',
      removed: at.pump,
      fitted: { class: 'fuel-pump', serial: at.spare },
    });
    when.exchanged = now();
    plant.wait(60_000);
    await plant.make('repair', '/v1/teardowns', { motor: at.motor, reason: 'Cracked' });
    when.tornDown = now();
    plant.wait(60_000);
  });
  afterAll(() => plant.stop());

  it('inside at a past instant: everything in the motor then, at every level, with its place and times', async () => {
    expect(await tree(`serial=${at.motor}&asOf=${when.set}`)).toMatchObject([
      { serial: at.motor, depth: 0, position: null, parent: null, since: null, until: null },
      {
        serial: at.lowerUnit,
        depth: 1,
        position: 'lower-unit',
        parentClass: 'motor',
        parent: at.motor,
        since: when.set,
        until: when.tornDown,
      },
      { serial: at.powerhead, depth: 1, position: 'powerhead', parent: at.motor },
      {
        serial: at.pump,
        depth: 2,
        position: 'fuel-pump',
        parentClass: 'powerhead',
        parent: at.powerhead,
        since: when.entered,
        until: when.exchanged,
      },
      {
        serial: at.valve,
        depth: 3,
        position: 'valve',
        parent: at.pump,
        since: when.entered,
        until: null,
      },
    ]);
  });

  it('around: what a component was in, outward to the motor, each with its own place', async () => {
    const units = await tree(`serial=${at.valve}&direction=around&asOf=${when.set}`);
    expect(units).toMatchObject([
      { serial: at.valve, depth: 0, position: 'valve', parent: at.pump, until: null },
      { serial: at.pump, depth: 1, position: 'fuel-pump', parent: at.powerhead },
      {
        serial: at.powerhead,
        depth: 2,
        position: 'powerhead',
        parentClass: 'motor',
        parent: at.motor,
        since: when.set,
        until: when.tornDown,
      },
      { class: 'motor', serial: at.motor, depth: 3, position: null, parent: null, since: null },
    ]);
  });

  it('changes at the instant of an exchange, not a millisecond before', async () => {
    const before = new Date(Date.parse(when.exchanged) - 1).toISOString();
    expect(serials(await tree(`serial=${at.powerhead}&asOf=${before}`))).toEqual([
      at.powerhead,
      at.pump,
      at.valve,
    ]);
    expect(serials(await tree(`serial=${at.powerhead}&asOf=${when.exchanged}`))).toEqual([
      at.powerhead,
      at.spare,
    ]);
    expect(
      serials(await tree(`serial=${at.pump}&direction=around&asOf=${when.exchanged}`)),
    ).toEqual([at.pump]);
  });

  it('is the tree as it stands where no time is given', async () => {
    const answer = await plant.get('read', `/v1/tree?serial=${at.motor}`);
    expect(answer.body).toMatchObject({ asOf: now(), direction: 'inside' });
    expect(serials(answer.body.units)).toEqual([at.motor]);
    expect(serials(await tree(`serial=${at.powerhead}`))).toEqual([at.powerhead, at.spare]);
    expect(serials(await tree(`serial=${at.powerhead}&direction=around`))).toEqual([at.powerhead]);
  });

  it('before anything was in anything: the unit alone, in both directions', async () => {
    const early = new Date(Date.parse(when.entered) - 1).toISOString();
    for (const direction of ['inside', 'around']) {
      const units = await tree(`serial=${at.pump}&asOf=${early}&direction=${direction}`);
      expect(serials(units)).toEqual([at.pump]);
    }
  });

  it('is refused for an unknown serial, the wrong class and another direction', async () => {
    const type = async (query: string) =>
      (await plant.get('read', `/v1/tree?${query}`)).body.type as string;
    expect(await type('serial=NOBODY')).toBe('/problems/serial-unknown');
    expect(await type(`serial=${at.pump}&class=powerhead`)).toBe('/problems/wrong-class');
    expect(await type(`serial=${at.pump}&direction=sideways`)).toBe('/problems/request-invalid');
    expect(await type('direction=inside')).toBe('/problems/request-invalid');
  });
});
