import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  order,
  passing,
  runMotor,
} from '../support/scenario.js';

interface Picked {
  serial: string;
  state: string;
  inside: boolean;
  reasons: string[];
}

describe('where-used questions', () => {
  let plant: TestPlant;
  const motors: string[] = [];
  let loose: string;

  /** A motor whose lower unit was primed from a lot, set at a station. */
  async function motorWith(lot: string, station: string): Promise<string> {
    const lots = [{ part: 'PRIMER', revision: '1', lot }];
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit', { lots });
    const number = await order(plant);
    plant.wait(60_000);
    const set = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead,
      lowerUnit,
      order: number,
      station,
    });
    return set.motor;
  }

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    motors.push(
      await motorWith('L-1', 'SET-1'),
      await motorWith('L-1', 'SET-2'),
      await motorWith('L-2', 'SET-1'),
    );
    loose = await enter(plant, 'lower-unit', {
      lots: [{ part: 'PRIMER', revision: '1', lot: 'L-1' }],
    });
    const [first = '', second = '', third = ''] = motors;
    await runMotor(plant, first, passing);
    await plant.make('quality', '/v1/releases', { motors: [first] });
    const failed = await runMotor(plant, second, failing);
    await closeRepair(plant, failed.repair ?? 0);
    await runMotor(plant, third, [
      { code: 'idle-speed', value: 690 },
      { code: 'water-pressure', value: 56 },
      { code: 'telltale', value: true },
    ]);
  });
  afterAll(() => plant.stop());

  async function ask(where: object): Promise<Picked[]> {
    const answer = await plant.post('read', '/v1/where-used', { where });
    expect(answer.status).toBe(200);
    return answer.body.items;
  }
  const serials = (picked: Picked[]) => picked.map((one) => one.serial);

  it('finds a lot in motors and in loose units, and says through which unit', async () => {
    const picked = await ask({ lot: { part: 'PRIMER', lot: 'L-1' } });
    expect(serials(picked)).toEqual([motors[0], motors[1], loose]);
    expect(picked.map((one) => [one.state, one.inside])).toEqual([
      ['released', false],
      ['awaiting-test', true],
      ['accepted', true],
    ]);
    expect(picked[0]?.reasons[0]).toMatch(/^lot part PRIMER, lot L-1: lower-unit L\d+$/);
    expect(picked[2]?.reasons).toEqual(['lot part PRIMER, lot L-1']);
  });

  it('counts by state', async () => {
    const answer = await plant.post('read', '/v1/where-used', {
      where: { lot: { part: 'PRIMER', lot: 'L-1' } },
    });
    expect(answer.body.counts).toEqual({ released: 1, 'awaiting-test': 1, accepted: 1 });
  });

  it.each([
    ['model', () => ({ model: 'F100L' }), [0, 1, 2]],
    ['configuration', () => ({ configuration: { code: 'F100L-A', revision: 1 } }), [0, 1, 2]],
    [
      'configuration of another revision',
      () => ({ configuration: { code: 'F100L-A', revision: 2 } }),
      [],
    ],
    ['station', () => ({ station: { name: 'SET-1' } }), [0, 2]],
    ['key', () => ({ handledBy: { key: 'repair key' } }), [1]],
    ['tool', () => ({ tool: { name: 'DC-1' } }), [0, 1, 2]],
    ['specification', () => ({ specification: { model: 'F100L', revision: 1 } }), [0, 1, 2]],
    ['repair cause', () => ({ repairCause: 'impeller' }), [1]],
    ['reading', () => ({ reading: { model: 'F100L', code: 'water-pressure', to: 56 } }), [1, 2]],
    ['margin', () => ({ margin: { model: 'F100L', code: 'water-pressure', below: 0.1 } }), [1, 2]],
    ['serials', () => ({ serials: { class: 'motor', serials: [motors[1] ?? ''] } }), [1]],
    [
      'serial range',
      () => ({ serialRange: { class: 'motor', first: motors[1] ?? '', last: motors[2] ?? '' } }),
      [1, 2],
    ],
    [
      'all',
      () => ({ all: [{ lot: { part: 'PRIMER', lot: 'L-1' } }, { station: { name: 'SET-1' } }] }),
      [0],
    ],
    [
      'any',
      () => ({ any: [{ repairCause: 'impeller' }, { lot: { part: 'PRIMER', lot: 'L-2' } }] }),
      [1, 2],
    ],
    [
      'all with not',
      () => ({ all: [{ model: 'F100L' }, { not: { station: { name: 'SET-1' } } }] }),
      [1],
    ],
    [
      'a double not',
      () => ({ all: [{ model: 'F100L' }, { not: { not: { station: { name: 'SET-1' } } } }] }),
      [0, 2],
    ],
    ['part', () => ({ all: [{ part: { number: 'PH-100' } }, { model: 'F100L' }] }), [0, 1, 2]],
  ])('picks by %s', async (_name, where, expected) => {
    expect(serials(await ask(where()))).toEqual(expected.map((i) => motors[i]));
  });

  it('narrows by time windows, their end not counted', async () => {
    const [at] = (await plant.get('read', '/v1/set-attempts')).body.items.map(
      (one: { at: string }) => one.at,
    );
    expect(
      serials(
        await ask({ setIn: { from: at, until: new Date(Date.parse(at) + 1).toISOString() } }),
      ),
    ).toEqual([motors[0]]);
    expect(serials(await ask({ setIn: { until: at } }))).toEqual([]);
  });

  it('answers as CSV', async () => {
    const answer = await plant.post(
      'read',
      '/v1/where-used',
      { where: { repairCause: 'impeller' } },
      { headers: { Accept: 'text/csv' } },
    );
    expect(answer.headers['content-type']).toContain('text/csv');
    expect(answer.text.split('\r\n')[1]).toContain(motors[1] ?? '');
  });

  it('no longer picks a motor once the part has left it', async () => {
    const fitted = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: fitted }],
    });
    const where = { serials: { class: 'fuel-pump', serials: [fitted] } };
    expect(serials(await ask(where))).toEqual([powerhead]);
    await plant.make('set', '/v1/removals', {
      class: 'fuel-pump',
      unit: fitted,
      reason: 'Wrong one',
      as: 'accepted',
    });
    expect(serials(await ask(where))).toEqual([fitted]);
  });

  it.each([
    ['an unknown condition', { colour: 'red' }],
    ['two conditions in one', { model: 'F100L', repairCause: 'impeller' }],
    ['an empty all', { all: [] }],
    [
      'too deep a nesting',
      { not: { not: { not: { not: { not: { not: { not: { model: 'X' } } } } } } } },
    ],
    ['too many conditions', { any: Array.from({ length: 51 }, () => ({ model: 'X' })) }],
  ])('refuses %s', async (_name, where) => {
    const answer = await plant.post('read', '/v1/where-used', { where });
    expect(answer.status).toBe(400);
    expect(answer.body.type).toBe('/problems/request-invalid');
  });
});
