import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEPTH_LIMIT } from '../../src/genealogy/records.js';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import {
  enter,
  furnish,
  hold,
  openRun,
  order,
  refused,
  setMotor,
  stateOf,
  unitDraft,
} from '../support/scenario.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
  await order(plant, 20);
});
afterAll(() => plant.stop());

const install = (parent: [string, string], position: string, child: [string, string]) =>
  plant.post('set', '/v1/installations', {
    parentClass: parent[0],
    parent: parent[1],
    position,
    childClass: child[0],
    child: child[1],
    station: 'BUILD-1',
  });

const remove = (unitClass: string, unit: string, as: 'accepted' | 'rejected' = 'accepted') =>
  plant.post('set', '/v1/removals', { class: unitClass, unit, as, reason: 'Leaks' });

const enterWith = (components: object[]) =>
  plant.post('set', '/v1/units', unitDraft('powerhead', { components }));

async function treeOf(unitClass: string, serial: string) {
  const history = await plant.get('read', `/v1/history?serial=${serial}&class=${unitClass}`);
  return history.body.tree as { serial: string; position: string | null; parent: string | null }[];
}

describe('components entered with their unit', () => {
  it('are in it from the start, in their class’s position or the one named', async () => {
    const [first, second] = [await enter(plant, 'fuel-pump'), await enter(plant, 'fuel-pump')];
    const powerhead = await enter(plant, 'powerhead', {
      components: [
        { class: 'fuel-pump', serial: first },
        { class: 'fuel-pump', serial: second, position: 'lift-pump' },
      ],
    });
    expect(await treeOf('powerhead', powerhead)).toMatchObject([
      { serial: powerhead, position: null, parent: null },
      { serial: first, position: 'fuel-pump', parent: powerhead },
      { serial: second, position: 'lift-pump', parent: powerhead },
    ]);
    expect(await stateOf(plant, 'fuel-pump', first)).toBe('installed');
  });

  it('are refused twice in one position, and one in two positions', async () => {
    const [first, second] = [await enter(plant, 'fuel-pump'), await enter(plant, 'fuel-pump')];
    await refused(plant, 'position-occupied', () =>
      enterWith([
        { class: 'fuel-pump', serial: first },
        { class: 'fuel-pump', serial: second },
      ]),
    );
    await refused(plant, 'position-occupied', () =>
      enterWith([
        { class: 'fuel-pump', serial: first, position: 'a' },
        { class: 'fuel-pump', serial: first, position: 'b' },
      ]),
    );
    expect(await stateOf(plant, 'fuel-pump', first)).toBe('accepted');
  });

  it('are refused unless each is known, accepted, free and not on hold', async () => {
    const pump = (serial: string) => [{ class: 'fuel-pump', serial }];
    await refused(plant, 'serial-unknown', () => enterWith(pump('F-GHOST')));
    const rejected = await enter(plant, 'fuel-pump', { inspection: { result: 'rejected' } });
    const problem = await refused(plant, 'not-accepted', () => enterWith(pump(rejected)));
    expect(problem.detail).toBe(
      `Fuel pump ${rejected} is rejected: its receiving inspection has to accept it first.`,
    );
    const used = await enter(plant, 'fuel-pump');
    const owner = await enter(plant, 'powerhead', { components: pump(used) });
    const installed = await refused(plant, 'already-installed', () => enterWith(pump(used)));
    expect(installed).toMatchObject({ parentClass: 'powerhead', parentSerial: owner });
    const held = await enter(plant, 'fuel-pump');
    await hold(plant, 'fuel-pump', held);
    await refused(plant, 'on-hold', () => enterWith(pump(held)));
  });

  it('are not halves or motors: those come together by a set alone', async () => {
    const { motor } = await setMotor(plant);
    const lowerUnit = await enter(plant, 'lower-unit');
    const problem = await refused(plant, 'wrong-class', () =>
      enterWith([{ class: 'lower-unit', serial: lowerUnit }]),
    );
    expect(problem.detail).toBe(
      `${lowerUnit} is a lower unit, which is no component: scan the component.`,
    );
    await refused(plant, 'wrong-class', () => enterWith([{ class: 'motor', serial: motor }]));
    const powerhead = await enter(plant, 'powerhead');
    await refused(plant, 'wrong-class', () =>
      install(['powerhead', powerhead], 'gear', ['lower-unit', lowerUnit]),
    );
    expect(await stateOf(plant, 'lower-unit', lowerUnit)).toBe('accepted');
  });
});

describe('a component fitted later', () => {
  it('is in the unit from then on, and in its motor’s tree once that is set', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const pump = await enter(plant, 'fuel-pump');
    plant.wait(1000);
    const fitted = await install(['powerhead', powerhead], 'fuel-pump', ['fuel-pump', pump]);
    expect([fitted.status, fitted.body.state]).toEqual([201, 'installed']);
    const lowerUnit = await enter(plant, 'lower-unit');
    const set = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead,
      lowerUnit,
      station: 'SET-1',
    });
    const serials = (await treeOf('fuel-pump', pump)).map((node) => node.serial);
    expect(serials).toEqual([set.motor, lowerUnit, powerhead, pump]);
  });

  it('is refused where its position holds another', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const spare = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    const problem = await refused(plant, 'position-occupied', () =>
      install(['powerhead', powerhead], 'fuel-pump', ['fuel-pump', spare]),
    );
    expect(problem).toMatchObject({
      detail: `Position fuel-pump of ${powerhead} holds ${pump}.`,
      position: 'fuel-pump',
      occupant: pump,
    });
  });

  it('may still be fitted to a motor that awaits its test, not to one in test', async () => {
    const { motor, powerhead } = await setMotor(plant);
    const pump = await enter(plant, 'fuel-pump');
    const spare = await enter(plant, 'fuel-pump');
    expect((await install(['powerhead', powerhead], 'p1', ['fuel-pump', pump])).status).toBe(201);
    await openRun(plant, motor);
    const problem = await refused(plant, 'motor-state', () =>
      install(['powerhead', powerhead], 'p2', ['fuel-pump', spare]),
    );
    expect(problem.detail).toBe(`Motor ${motor} is in-test: parts change in a repair only.`);
    await refused(plant, 'motor-state', () => remove('fuel-pump', pump));
  });

  it('may not be in itself, nor in what is in it', async () => {
    const [inner, outer] = [await enter(plant, 'fuel-pump'), await enter(plant, 'fuel-pump')];
    await install(['fuel-pump', outer], 'part', ['fuel-pump', inner]);
    await refused(plant, 'installation-depth', () =>
      install(['fuel-pump', outer], 'self', ['fuel-pump', outer]),
    );
    await refused(plant, 'installation-depth', () =>
      install(['fuel-pump', inner], 'part', ['fuel-pump', outer]),
    );
  });
});

describe('units nest', () => {
  /** A chain of components, each in the next; the outermost last. */
  async function chain(levels: number): Promise<string> {
    let outermost = await enter(plant, 'fuel-pump');
    for (let i = 1; i < levels; i += 1) {
      const next = await enter(plant, 'fuel-pump');
      const fitted = await install(['fuel-pump', next], 'part', ['fuel-pump', outermost]);
      expect(fitted.status).toBe(201);
      outermost = next;
    }
    return outermost;
  }

  it(`in ${DEPTH_LIMIT} levels and no deeper when fitted`, async () => {
    const outermost = await chain(DEPTH_LIMIT);
    expect(await treeOf('fuel-pump', outermost)).toHaveLength(DEPTH_LIMIT);
    const powerhead = await enter(plant, 'powerhead');
    const problem = await refused(plant, 'installation-depth', () =>
      install(['powerhead', powerhead], 'part', ['fuel-pump', outermost]),
    );
    expect(problem.detail).toBe(
      `${outermost} in position part would nest units deeper than 8 levels.`,
    );
  });

  it(`in ${DEPTH_LIMIT} levels and no deeper when entered`, async () => {
    const full = await chain(DEPTH_LIMIT);
    await refused(plant, 'installation-depth', () =>
      enterWith([{ class: 'fuel-pump', serial: full }]),
    );
    const almost = await chain(DEPTH_LIMIT - 1);
    const entered = await enterWith([{ class: 'fuel-pump', serial: almost }]);
    expect(entered.status).toBe(201);
    expect(await treeOf('powerhead', entered.body.serial)).toHaveLength(DEPTH_LIMIT);
  });
});

describe('a component removed', () => {
  it('is free again as what it is said to be, and the record keeps when and why', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    plant.wait(1000);
    const removed = await remove('fuel-pump', pump, 'rejected');
    expect([removed.status, removed.body.state]).toEqual([200, 'rejected']);
    expect(await treeOf('powerhead', powerhead)).toHaveLength(1);
    const before = await plant.get(
      'read',
      `/v1/history?serial=${powerhead}&asOf=${iso(plant.now - 1)}`,
    );
    expect(before.body.tree).toHaveLength(2);
    const history = await plant.get('read', `/v1/history?serial=${pump}`);
    expect(history.body.timeline.at(-1).text).toBe(
      'Removed from position fuel-pump as rejected: Leaks',
    );
    const again = await refused(plant, 'unit-invalid', () => remove('fuel-pump', pump));
    expect(again.detail).toBe(`${pump} is installed nowhere.`);
  });

  it('is not a half: that takes a repair or a teardown', async () => {
    const { motor, powerhead } = await setMotor(plant);
    const problem = await refused(plant, 'motor-state', () => remove('powerhead', powerhead));
    expect(problem.detail).toBe(
      `${powerhead} is the powerhead of motor ${motor}: exchange it in a repair, or tear the motor down.`,
    );
  });

  it('leaves a motor that it was fitted to directly, also after that was torn down', async () => {
    const { motor } = await setMotor(plant);
    const [pump, other] = [await enter(plant, 'fuel-pump'), await enter(plant, 'fuel-pump')];
    await install(['motor', motor], 'rigging-1', ['fuel-pump', pump]);
    await install(['motor', motor], 'rigging-2', ['fuel-pump', other]);
    expect((await remove('fuel-pump', pump)).body.state).toBe('accepted');
    await plant.make('repair', '/v1/teardowns', { motor, reason: 'Wrong order' });
    expect((await remove('fuel-pump', other)).body.state).toBe('accepted');
    expect(await treeOf('motor', motor)).toHaveLength(1);
    await refused(plant, 'motor-state', () =>
      install(['motor', motor], 'rigging-1', ['fuel-pump', pump]),
    );
  });
});
