import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  hold,
  order,
  runMotor,
} from '../support/scenario.js';

/** One life: a motor is set, fails, is repaired, torn down, and its powerhead set again. */
describe('a history as of an earlier time', () => {
  let plant: TestPlant;
  let powerhead: string;
  let lowerUnit: string;
  let pump: string;
  let newPump: string;
  let motor: string;
  let secondMotor: string;
  const at: Record<string, number> = {};

  /** Marks an instant, with time before and after it. */
  const mark = (name: string) => {
    plant.wait(1000);
    at[name] = plant.now;
    plant.wait(1000);
  };
  const set = async (half: string) => {
    const body = { powerhead, lowerUnit: half, order: await order(plant), station: 'SET-1' };
    return (await plant.make<{ motor: string }>('set', '/v1/sets', body)).motor;
  };

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    mark('before entry');
    pump = await enter(plant, 'fuel-pump');
    const components = [{ class: 'fuel-pump', serial: pump }];
    powerhead = await enter(plant, 'powerhead', { components });
    lowerUnit = await enter(plant, 'lower-unit');
    newPump = await enter(plant, 'fuel-pump');
    mark('before the set');
    motor = await set(lowerUnit);
    mark('after the set');
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'C-1' });
    mark('in the run');
    const done = { readings: failing };
    const { repair } = await plant.make<{ repair: number }>(
      'cell',
      `/v1/runs/${id}/completion`,
      done,
    );
    mark('in repair');
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
      parentClass: 'powerhead',
      parent: powerhead,
      position: 'fuel-pump',
      removed: pump,
      fitted: { class: 'fuel-pump', serial: newPump },
    });
    mark('after the exchange');
    await closeRepair(plant, repair);
    const held = await hold(plant, 'powerhead', powerhead);
    mark('on hold');
    await plant.make('quality', `/v1/holds/${held}/lift`, { reason: 'Sound' });
    const use = { class: 'powerhead', unit: powerhead };
    const lots = [{ part: 'PRIMER', revision: '1', lot: 'L-9' }];
    await plant.make('set', '/v1/lot-uses', { ...use, lots });
    mark('before the teardown');
    await plant.make('quality', '/v1/teardowns', { motor, reason: 'Wrong paint' });
    mark('after the teardown');
    secondMotor = await set(await enter(plant, 'lower-unit'));
    await runMotor(plant, secondMotor);
    mark('before the release');
    await plant.make('quality', '/v1/releases', { motors: [secondMotor] });
    mark('after the release');
  });
  afterAll(() => plant.stop());

  const ask = async (serial: string, when?: string) => {
    const asOf = when === undefined ? '' : `&asOf=${new Date(at[when] ?? 0).toISOString()}`;
    const answer = await plant.get('read', `/v1/history?serial=${serial}${asOf}`);
    return answer.body;
  };
  const tree = async (serial: string, when?: string) =>
    (await ask(serial, when)).tree.map((one: { serial: string }) => one.serial);

  it('shows a part alone before the set, with nothing that came later', async () => {
    const history = await ask(powerhead, 'before the set');
    expect(history.motor).toBeNull();
    expect(history.tree.map((one: { serial: string }) => one.serial)).toEqual([powerhead, pump]);
    expect(history).toMatchObject({ sets: [], runs: [], repairs: [], holds: [], release: null });
    const units = history.timeline.map((one: { units: string[] }) => one.units);
    expect(units).toEqual([[pump], [powerhead, pump]]);
  });

  it('shows a motor that was not set yet without halves, and a part not entered without events', async () => {
    const history = await ask(motor, 'before the set');
    expect(history).toMatchObject({ sets: [], timeline: [], runs: [] });
    expect(history.tree).toHaveLength(1);
    expect((await ask(powerhead, 'before entry')).timeline).toEqual([]);
  });

  it('shows each tree of its life', async () => {
    const first = [motor, lowerUnit, powerhead, pump];
    expect(await tree(pump, 'after the set')).toEqual(first);
    expect(await tree(motor, 'in repair')).toEqual(first);
    const exchanged = [motor, lowerUnit, powerhead, newPump];
    expect(await tree(powerhead, 'after the exchange')).toEqual(exchanged);
    expect(await tree(pump, 'after the exchange')).toEqual([pump]);
    expect(await tree(motor, 'before the teardown')).toEqual(exchanged);
    expect(await tree(powerhead, 'after the teardown')).toEqual([powerhead, newPump]);
    expect(await tree(motor, 'after the teardown')).toEqual([motor]);
    const now = await tree(powerhead);
    expect(now[0]).toBe(secondMotor);
    expect(now.slice(2)).toEqual([powerhead, newPump]);
    expect(await tree(lowerUnit)).toEqual([lowerUnit]);
  });

  it('shows at the very instant of the set the motor and its set', async () => {
    const { sets } = await ask(motor);
    const instant = encodeURIComponent(sets[0].at);
    const answer = await plant.get('read', `/v1/history?serial=${powerhead}&asOf=${instant}`);
    expect(answer.body).toMatchObject({ motor, sets: [{ motor }] });
  });

  it('shows a run under way as open, without the verdict that came later', async () => {
    const { runs } = await ask(motor, 'in the run');
    expect(runs).toMatchObject([
      { state: 'open', verdict: null, attempt: null, endedAt: null, judgements: [] },
    ]);
    expect((await ask(motor, 'in repair')).runs).toMatchObject([
      { state: 'completed', verdict: 'fail', attempt: 1 },
    ]);
    expect((await ask(motor, 'after the set')).runs).toEqual([]);
  });

  it('shows a repair as far as it had come', async () => {
    expect((await ask(motor, 'in repair')).repairs).toMatchObject([
      { outcome: null, closedAt: null, cause: null, exchanges: [] },
    ]);
    expect((await ask(motor, 'after the exchange')).repairs).toMatchObject([
      { outcome: null, exchanges: [{ removed: pump, fitted: newPump }] },
    ]);
    expect((await ask(motor, 'on hold')).repairs).toMatchObject([
      { outcome: 'repaired', cause: 'impeller' },
    ]);
  });

  it('shows a hold as open until it was lifted', async () => {
    expect((await ask(powerhead, 'after the exchange')).holds).toEqual([]);
    expect((await ask(powerhead, 'on hold')).holds).toMatchObject([
      { serial: powerhead, liftedAt: null, liftedBy: null },
    ]);
    expect((await ask(powerhead)).holds).toMatchObject([{ liftReason: 'Sound' }]);
  });

  it('shows a lot from its use on', async () => {
    const lotsOf = async (when: string) => {
      const { tree: nodes } = await ask(powerhead, when);
      const own = nodes.find((one: { asked: boolean }) => one.asked);
      return own.lots.map((one: { lot: string }) => one.lot);
    };
    expect(await lotsOf('on hold')).toEqual([]);
    expect(await lotsOf('before the teardown')).toEqual(['L-9']);
  });

  it('shows a teardown and a release from then on only', async () => {
    expect((await ask(motor, 'before the teardown')).sets).toMatchObject([
      { motor, tornDownAt: null, teardownReason: null },
    ]);
    expect((await ask(powerhead, 'after the teardown')).sets).toMatchObject([
      { motor, teardownReason: 'Wrong paint' },
    ]);
    expect((await ask(powerhead, 'before the release')).release).toBeNull();
    expect((await ask(powerhead, 'after the release')).release).toMatchObject({
      motor: secondMotor,
    });
  });

  it('keeps the runs of both motors apart: the powerhead had both, each lower unit its own', async () => {
    const verdicts = async (serial: string) =>
      (await ask(serial)).runs.map((one: { motor: string; verdict: string }) => [
        one.motor,
        one.verdict,
      ]);
    expect(await verdicts(powerhead)).toEqual([
      [motor, 'fail'],
      [secondMotor, 'pass'],
    ]);
    expect(await verdicts(lowerUnit)).toEqual([[motor, 'fail']]);
    expect(await verdicts(pump)).toEqual([[motor, 'fail']]);
    expect(await verdicts(newPump)).toEqual([[secondMotor, 'pass']]);
    expect((await ask(lowerUnit)).release).toBeNull();
    expect((await ask(pump)).motor).toBeNull();
  });

  it('is the present one where the time lies ahead or is left out', async () => {
    const later = new Date(plant.now + 86_400_000).toISOString();
    const ahead = await plant.get('read', `/v1/history?serial=${powerhead}&asOf=${later}`);
    const { asOf: _asOf, ...present } = await ask(powerhead);
    expect(ahead.body).toMatchObject(present);
  });
});
