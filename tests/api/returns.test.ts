import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, order, refused, setMotor } from '../support/scenario.js';
import { bringBack, ship, waitUntil } from '../support/shipped.js';

describe('recording a field return', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('quality', '/v1/repair-codes', {
      kind: 'symptom',
      code: 'stalls',
      name: 'Stalls at idle',
    });
  });
  afterAll(() => plant.stop());

  const timelineOf = async (serial: string) =>
    (await plant.get('read', `/v1/history?serial=${serial}`)).body.timeline as {
      kind: string;
      text: string;
    }[];

  it('takes a motor back by its serial, and shows it by its address and in the list', async () => {
    const { motor } = await ship(plant);
    waitUntil(plant, '2026-04-02T08:00:00Z');
    const answer = await plant.post('quality', '/v1/returns', {
      unit: motor,
      returnedOn: '2026-04-02',
      hoursRun: 14.5,
      symptom: 'low-pressure',
      finding: 'Impeller worn',
    });
    expect(answer.status).toBe(201);
    expect(answer.body).toEqual({
      id: 1,
      class: 'motor',
      serial: motor,
      motor,
      model: 'F100L',
      releasedOn: '2026-03-02',
      returnedOn: '2026-04-02',
      // 2 March to 2 April.
      monthsInService: 1,
      hoursRun: 14.5,
      symptom: 'low-pressure',
      finding: 'Impeller worn',
      recordedAt: '2026-04-02T08:00:00.000Z',
      recordedBy: 'quality key',
    });
    expect(answer.headers.location).toBe('/v1/returns/1');
    expect((await plant.get('read', '/v1/returns/1')).body).toEqual(answer.body);
    expect((await plant.get('read', '/v1/returns')).body.items).toEqual([answer.body]);
  });

  it('takes a powerhead back as of the motor that it was in, in the timeline of both', async () => {
    const { motor, powerhead, lowerUnit } = await ship(plant);
    waitUntil(plant, '2026-04-20T08:00:00Z');
    const made = await bringBack(plant, powerhead, '2026-04-19', { finding: 'Scored' });
    expect(made).toMatchObject({ class: 'powerhead', serial: powerhead, motor });
    expect(made).toMatchObject({ hoursRun: null, monthsInService: 0 });
    const said = `Field return ${made.id} on 2026-04-19: low-pressure (Scored)`;
    for (const serial of [motor, powerhead]) {
      expect((await timelineOf(serial)).at(-1)).toMatchObject({
        kind: 'return.recorded',
        text: said,
      });
    }
    // The lower unit's story has what happened to the motor that it is in.
    expect((await timelineOf(lowerUnit)).at(-1)).toMatchObject({ text: said });
  });

  it('goes by the motor of that day, where a half was in another before', async () => {
    const first = await setMotor(plant);
    await plant.make('repair', '/v1/teardowns', { motor: first.motor, reason: 'Wrong order' });
    const lastDay = new Date(plant.now).toISOString().slice(0, 10);
    plant.wait(2 * 86_400_000);
    const lowerUnit = await enter(plant, 'lower-unit');
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead: first.powerhead,
      lowerUnit,
      order: await order(plant),
      station: 'SET-1',
    });
    const run = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'AGAIN' });
    await plant.make('cell', `/v1/runs/${run.id}/completion`, {
      readings: [
        { code: 'idle-speed', value: 650 },
        { code: 'water-pressure', value: 100 },
        { code: 'telltale', value: true },
      ],
    });
    await plant.make('quality', '/v1/releases', { motors: [motor] });
    const today = new Date(plant.now).toISOString().slice(0, 10);
    const made = await bringBack(plant, first.powerhead, today);
    expect(made).toMatchObject({ motor, monthsInService: 0 });
    const problem = await refused(plant, 'not-released', () =>
      plant.post('quality', '/v1/returns', {
        unit: first.powerhead,
        returnedOn: lastDay,
        symptom: 'low-pressure',
      }),
    );
    expect(problem.detail).toContain(`was in no motor on ${lastDay}`);
  });

  it('lists by symptom, model and day, in pages, and as CSV', async () => {
    const { motor } = await ship(plant);
    waitUntil(plant, '2026-06-01T08:00:00Z');
    const late = await bringBack(plant, motor, '2026-06-01', { symptom: 'stalls' });
    const idsOf = async (query: string) =>
      (await plant.get('read', `/v1/returns?${query}`)).body.items.map(
        (one: { id: number }) => one.id,
      );
    expect(await idsOf('symptom=stalls')).toEqual([late.id]);
    expect(await idsOf('symptom=low-pressure')).toEqual([1, 2, 3]);
    expect(await idsOf('model=F100L')).toEqual([1, 2, 3, 4]);
    expect(await idsOf('model=OTHER')).toEqual([]);
    expect(await idsOf('fromDay=2026-04-19&untilDay=2026-06-01')).toEqual([2, 3, 4]);
    expect(await idsOf('untilDay=2026-04-19')).toEqual([1, 2]);
    const page = await plant.get('read', '/v1/returns?limit=3');
    const rest = await plant.get('read', page.body.next);
    expect(rest.body.items.map((one: { id: number }) => one.id)).toEqual([4]);
    const csv = await plant.get('read', '/v1/returns?symptom=stalls', {
      headers: { Accept: 'text/csv' },
    });
    expect(csv.text.split('\r\n')[1]).toContain(`,${motor},F100L,`);
  });

  it.each([
    ['a serial that nobody entered', { unit: 'NOBODY-7' }, 'serial-unknown'],
    ['another class than said', { class: 'lower-unit' }, 'wrong-class'],
    ['a symptom that is not in the catalogue', { symptom: 'smells' }, 'repair-code-unknown'],
    ['a cause in place of a symptom', { symptom: 'impeller' }, 'repair-code-unknown'],
    ['a day that has not come', { returnedOn: '2026-06-02' }, 'time-in-future'],
    ['a day before its release', { returnedOn: '2026-03-01' }, 'not-released'],
    ['hours below zero', { hoursRun: -1 }, 'request-invalid'],
    ['hours of centuries', { hoursRun: 50_001 }, 'request-invalid'],
    ['a day that no calendar has', { returnedOn: '2026-02-30' }, 'request-invalid'],
    ['a finding with control characters', { finding: 'a\u0007b' }, 'request-invalid'],
    ['a member that nobody asked for', { warranty: true }, 'request-invalid'],
  ])('refuses %s, and records nothing', async (_what, change, slug) => {
    const { items } = (await plant.get('read', '/v1/returns')).body;
    const usual = { unit: items[0].motor, returnedOn: '2026-05-01', symptom: 'low-pressure' };
    await refused(plant, slug, () => plant.post('quality', '/v1/returns', { ...usual, ...change }));
    expect((await plant.get('read', '/v1/returns')).body.items).toEqual(items);
  });

  it('refuses a motor and a powerhead that never left, and says so', async () => {
    const { motor, powerhead } = await setMotor(plant);
    const loose = await enter(plant, 'powerhead');
    const comeBack = (unit: string) =>
      refused(plant, 'not-released', () =>
        plant.post('quality', '/v1/returns', {
          unit,
          returnedOn: '2026-06-01',
          symptom: 'low-pressure',
        }),
      );
    expect(await comeBack(motor)).toMatchObject({
      status: 409,
      motor,
      detail: `Motor ${motor} is awaiting-test: it never left. What has not left cannot come back.`,
    });
    expect(await comeBack(powerhead)).toMatchObject({ motor });
    expect(await comeBack(loose)).toMatchObject({ motor: null });
  });

  it('refuses a key without the role, and unknown ids', async () => {
    const body = { unit: 'X', returnedOn: '2026-06-01', symptom: 'low-pressure' };
    expect((await plant.post('repair', '/v1/returns', body)).status).toBe(403);
    expect((await plant.get('read', '/v1/returns/999')).body.type).toBe('/problems/return-unknown');
  });

  it('leaves a journal from which every return is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
