import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  failedMotor,
  failing,
  furnish,
  openRun,
  passing,
  refused,
  runMotor,
  setMotor,
  specificationDraft,
  specify,
  stateOf,
} from '../support/scenario.js';
import { ship } from '../support/shipped.js';

const HOUR = 60 * 60 * 1000;

interface Reference {
  id: number;
  motor: string;
  hold: number;
}

/** Makes a fresh motor a reference that C-1 and C-2 run daily, unless said otherwise. */
async function designate(plant: TestPlant, more: object = {}): Promise<Reference> {
  const { motor } = await setMotor(plant);
  return plant.make<Reference>('quality', '/v1/reference-motors', {
    motor,
    intervalHours: 24,
    cells: ['C-1', 'C-2'],
    reason: 'Compare the cells',
    ...more,
  });
}

const reading = (speed: number, pressure: number) => [
  { code: 'idle-speed', value: speed },
  { code: 'water-pressure', value: pressure },
  { code: 'telltale', value: true },
];

function referenceRun(
  plant: TestPlant,
  motor: string,
  cell: string,
  readings: readonly object[] = passing,
  more: object = {},
) {
  plant.wait(1000);
  return plant.make<{ id: number; compared: number; shifts: { code: string }[] }>(
    'cell',
    '/v1/reference-runs',
    { motor, cell, readings, ...more },
  );
}

/** Ten runs, in turns in C-1 and C-2, that spread about 650 /min and 100 kPa. */
async function gatherHistory(plant: TestPlant, motor: string): Promise<void> {
  for (let i = 0; i < 10; i += 1) {
    const step = (i % 5) - 2;
    await referenceRun(plant, motor, i % 2 === 0 ? 'C-1' : 'C-2', reading(650 + step, 100 + step));
  }
}

describe('a reference motor', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const designation = (motor: string, more: object = {}) =>
    plant.post('quality', '/v1/reference-motors', {
      motor,
      intervalHours: 24,
      cells: ['C-1'],
      reason: 'Compare the cells',
      ...more,
    });

  it('is designated, shown and listed, and held in the same transaction', async () => {
    const { motor } = await setMotor(plant);
    const before = plant.eventCount();
    const answer = await designation(motor, { cells: ['C-2', 'C-1'] });
    expect(answer.status).toBe(201);
    expect(plant.eventCount()).toBe(before + 1);
    expect(answer.body).toEqual({
      id: 1,
      motor,
      model: 'F100L',
      state: 'awaiting-test',
      intervalHours: 24,
      cells: ['C-1', 'C-2'],
      baselineRuns: 10,
      reason: 'Compare the cells',
      hold: 1,
      designatedAt: new Date(plant.now).toISOString(),
      designatedBy: 'quality key',
      retiredAt: null,
      retiredBy: null,
      retireReason: null,
    });
    expect(answer.headers.location).toBe('/v1/reference-motors/1');
    expect((await plant.get('read', '/v1/reference-motors/1')).body).toEqual(answer.body);
    expect((await plant.get('read', '/v1/reference-motors?inUse=true')).body.items).toEqual([
      answer.body,
    ]);
    expect((await plant.get('read', '/v1/reference-motors?inUse=false')).body.items).toEqual([]);
    expect((await plant.get('read', '/v1/reference-motors?model=OTHER')).body.items).toEqual([]);
    const holds = (await plant.get('read', '/v1/holds?open=true')).body.items;
    expect(holds).toMatchObject([
      { serial: motor, cause: 'reference', reason: 'Reference motor: Compare the cells' },
    ]);
    const { timeline } = (await plant.get('read', `/v1/history?serial=${motor}`)).body;
    expect(timeline.at(-1)).toMatchObject({
      kind: 'reference.designated',
      text: 'Kept as reference motor 1, on hold: Compare the cells',
    });
  });

  it('can neither be tested for release nor released, and its hold stays', async () => {
    const waiting = await designate(plant);
    const { motor: passed } = await setMotor(plant);
    await runMotor(plant, passed);
    expect((await designation(passed)).status).toBe(201);
    await refused(plant, 'on-hold', () =>
      plant.post('cell', '/v1/runs', { motor: waiting.motor, cell: 'C-1' }),
    );
    const problem = await refused(plant, 'not-releasable', () =>
      plant.post('quality', '/v1/releases', { motors: [passed] }),
    );
    expect(problem.detail).toContain('on hold (reference)');
    await refused(plant, 'hold-of-reference-motor', () =>
      plant.post('quality', `/v1/holds/${waiting.hold}/lift`, { reason: 'Why' }),
    );
    await refused(plant, 'on-hold', () =>
      plant.post('cell', '/v1/runs', { motor: waiting.motor, cell: 'C-1' }),
    );
  });

  it('is nothing that left, ended, is under test or in repair, nor one already', async () => {
    const released = await ship(plant);
    const { motor: scrapped } = await failedMotor(plant);
    await plant.make('quality', '/v1/dispositions', {
      class: 'motor',
      unit: scrapped,
      kind: 'scrap',
      reason: 'Cracked',
    });
    const { motor: inRepair } = await failedMotor(plant);
    const { motor: inTest } = await setMotor(plant);
    await openRun(plant, inTest);
    const { motor: tornDown } = await setMotor(plant);
    await plant.make('repair', '/v1/teardowns', { motor: tornDown, reason: 'Wrong order' });
    const known = await designate(plant);
    for (const [motor, slug] of [
      ['NOBODY-7', 'serial-unknown'],
      [released.lowerUnit, 'wrong-class'],
      ['\u0004', 'scan-unreadable'],
      [released.motor, 'motor-state'],
      [scrapped, 'scrapped'],
      [inRepair, 'motor-state'],
      [inTest, 'motor-state'],
      [tornDown, 'motor-state'],
      [known.motor, 'reference-motor-exists'],
    ] as const) {
      await refused(plant, slug, () => designation(motor));
    }
  });

  it.each([
    ['no cell', { cells: [] }],
    ['a cell twice', { cells: ['C-1', 'C-1'] }],
    ['no time between runs', { intervalHours: 0 }],
    ['more than a year between runs', { intervalHours: 8761 }],
    ['a history too short to compare with', { baselineRuns: 4 }],
    ['a member that nobody asked for', { colour: 'red' }],
  ])('refuses %s', async (_what, more) => {
    const { motor } = await setMotor(plant);
    await refused(plant, 'request-invalid', () => designation(motor, more));
  });

  it('takes the roles that the document lists, and no others', async () => {
    const body = { motor: 'X', intervalHours: 24, cells: ['C-1'], reason: 'Why' };
    expect((await plant.post('cell', '/v1/reference-motors', body)).status).toBe(403);
    const run = { motor: 'X', cell: 'C-1', readings: passing };
    expect((await plant.post('quality', '/v1/reference-runs', run)).status).toBe(403);
  });

  it('is retired with a reason, which lifts its hold, and may then be tested and released', async () => {
    const reference = await designate(plant);
    const answer = await plant.post('quality', `/v1/reference-motors/${reference.id}/retirement`, {
      reason: 'Worn',
    });
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({
      cells: [],
      retiredAt: new Date(plant.now).toISOString(),
      retiredBy: 'quality key',
      retireReason: 'Worn',
    });
    const { holds } = (await plant.get('read', `/v1/history?serial=${reference.motor}`)).body;
    expect(holds).toMatchObject([{ id: reference.hold, liftReason: 'Worn' }]);
    await refused(plant, 'reference-motor-retired', () =>
      plant.post('quality', `/v1/reference-motors/${reference.id}/retirement`, { reason: 'Worn' }),
    );
    await refused(plant, 'not-a-reference-motor', () =>
      plant.post('cell', '/v1/reference-runs', {
        motor: reference.motor,
        cell: 'C-1',
        readings: passing,
      }),
    );
    const { attempt } = await runMotor(plant, reference.motor);
    expect(attempt).toBe(1);
    await plant.make('quality', '/v1/releases', { motors: [reference.motor] });
  });

  it('may be designated again once retired, and is another reference then', async () => {
    const first = await designate(plant);
    const address = `/v1/reference-motors/${first.id}`;
    await plant.make('quality', `${address}/retirement`, { reason: 'Other cells' });
    const again = await designation(first.motor);
    expect(again.body.id).not.toBe(first.id);
    expect(again.body).toMatchObject({ motor: first.motor, retiredAt: null });
  });

  it('is retired also after it was scrapped in the meantime, but runs no more', async () => {
    const { motor, repair } = await failedMotor(plant);
    await closeRepair(plant, repair);
    const { id } = (await designation(motor)).body;
    await plant.make('quality', '/v1/dispositions', {
      class: 'motor',
      unit: motor,
      kind: 'scrap',
      reason: 'Dropped',
    });
    await refused(plant, 'scrapped', () =>
      plant.post('cell', '/v1/reference-runs', { motor, cell: 'C-1', readings: passing }),
    );
    await plant.make('quality', `/v1/reference-motors/${id}/retirement`, { reason: 'Scrapped' });
    expect(await stateOf(plant, 'motor', motor)).toBe('scrapped');
  });

  it('answers unknown ids as such', async () => {
    for (const address of ['/v1/reference-motors/999', '/v1/reference-runs/999']) {
      expect((await plant.get('read', address)).status).toBe(404);
    }
    const schedule = { intervalHours: 24, cells: ['C-1'], reason: 'Why' };
    for (const [step, body] of [
      ['retirement', { reason: 'Why' }],
      ['schedule', schedule],
    ] as const) {
      await refused(plant, 'reference-motor-unknown', () =>
        plant.post('quality', `/v1/reference-motors/999/${step}`, body),
      );
    }
  });

  it('leaves a journal from which all of it is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

describe('a reference run', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('keeps the values as judged, in the specification’s units, and has no verdict', async () => {
    const { id, motor } = await designate(plant);
    const answer = await plant.post('cell', '/v1/reference-runs', {
      motor,
      cell: 'C-1',
      readings: [
        { code: 'idle-speed', value: 600 },
        { code: 'idle-speed', value: 655 },
        { code: 'water-pressure', value: 14.5, unit: '[psi]' },
        // It would fail a test: here it is only what was read.
        { code: 'telltale', value: false },
      ],
    });
    expect(answer.status).toBe(201);
    expect(answer.headers.location).toBe('/v1/reference-runs/1');
    expect(answer.body).toEqual({
      id: 1,
      referenceMotor: id,
      motor,
      model: 'F100L',
      cell: 'C-1',
      at: new Date(plant.now).toISOString(),
      specification: 1,
      recordedBy: 'cell key',
      compared: 0,
      shifts: [],
      values: [
        { code: 'idle-speed', name: 'Idle speed', value: 655, unit: '/min' },
        {
          code: 'water-pressure',
          name: 'Water pressure at idle',
          // 14.5 times 6.894757293168361 (NIST SP 811 prints 6.894757).
          value: expect.closeTo(99.9739807509, 9),
          unit: 'kPa',
        },
        { code: 'telltale', name: 'Telltale runs', value: false, unit: null },
      ],
    });
    expect((await plant.get('read', '/v1/reference-runs/1')).body).toEqual(answer.body);
    const { values: _values, ...line } = answer.body;
    expect((await plant.get('read', '/v1/reference-runs?cell=C-1')).body.items).toEqual([line]);
    expect((await plant.get('read', '/v1/reference-runs?cell=C-2')).body.items).toEqual([]);
    expect((await plant.get('read', `/v1/reference-runs?referenceMotor=${id}`)).body.items).toEqual(
      [line],
    );
  });

  it('counts in no yield, is no run and leaves the motor as it was', async () => {
    const { motor: tested } = await setMotor(plant);
    await runMotor(plant, tested);
    const { motor: failed } = await setMotor(plant);
    await runMotor(plant, failed, failing);
    const { motor } = await designate(plant);
    const addresses = ['/v1/yield/first-pass', '/v1/yield/first-pass?by=cell', '/v1/runs'];
    const asked = async () =>
      Promise.all(addresses.map(async (one) => (await plant.get('read', one)).body));
    const before = await asked();
    await referenceRun(plant, motor, 'C-1');
    await referenceRun(plant, motor, 'C-2', failing);
    expect(await asked()).toEqual(before);
    const history = (await plant.get('read', `/v1/history?serial=${motor}`)).body;
    expect(history.runs).toEqual([]);
    expect(history.repairs).toEqual([]);
    expect(history.unit).toMatchObject({ state: 'awaiting-test', onHold: true });
    expect(history.timeline.at(-1).text).toMatch(/^Reference run \d+ in cell C-2$/);
  });

  it('refuses what is no reference motor, another cell, and readings that cannot be taken', async () => {
    const { motor } = await designate(plant);
    const { motor: usual } = await setMotor(plant);
    const post = (more: object) =>
      plant.post('cell', '/v1/reference-runs', { motor, cell: 'C-1', readings: passing, ...more });
    await refused(plant, 'serial-unknown', () => post({ motor: 'NOBODY-7' }));
    await refused(plant, 'not-a-reference-motor', () => post({ motor: usual }));
    expect(await refused(plant, 'cell-not-scheduled', () => post({ cell: 'C-3' }))).toMatchObject({
      cells: ['C-1', 'C-2'],
    });
    const faulty = [
      ...passing,
      { code: 'oil', value: 1 },
      { code: 'idle-speed', value: 650, unit: 'kPa' },
    ];
    const problem = await refused(plant, 'reading-invalid', () => post({ readings: faulty }));
    expect(problem.errors).toEqual([
      { pointer: '/readings/3', detail: 'the specification has no characteristic oil' },
      { pointer: '/readings/4', detail: 'kPa does not convert to /min' },
    ]);
    const few = await refused(plant, 'run-incomplete', () =>
      post({ readings: passing.slice(0, 2) }),
    );
    expect(few.missing).toEqual([{ code: 'telltale', reason: 'no reading was posted' }]);
    await refused(plant, 'request-invalid', () => post({ readings: [] }));
    const hence = (ms: number) => new Date(plant.now + ms).toISOString();
    await refused(plant, 'time-in-future', () => post({ occurredAt: hence(HOUR) }));
    await refused(plant, 'time-too-old', () => post({ occurredAt: hence(-32 * 24 * HOUR) }));
  });

  it('is recorded once under one key', async () => {
    const { id, motor } = await designate(plant);
    const headers = { 'Idempotency-Key': randomUUID() };
    const body = { motor, cell: 'C-1', readings: passing };
    const first = await plant.post('cell', '/v1/reference-runs', body, { headers });
    const again = await plant.post('cell', '/v1/reference-runs', body, { headers });
    expect(again.body).toEqual(first.body);
    const runs = await plant.get('read', `/v1/reference-runs?referenceMotor=${id}`);
    expect(runs.body.items).toHaveLength(1);
  });

  it('is compared with the first ten runs of its motor from the eleventh on', async () => {
    const { motor } = await designate(plant);
    await gatherHistory(plant, motor);
    const within = await referenceRun(plant, motor, 'C-1', reading(651, 101));
    expect(within).toMatchObject({ compared: 2, shifts: [] });
    const off = await referenceRun(plant, motor, 'C-1', reading(651, 110));
    // Twice each of -2, -1, 0, 1 and 2 about 100: s² = 20/9. Two characteristics share 0.01;
    // t(0.9975, 9 degrees of freedom) = 3.690 (printed table), so 100 ± 3.690 s √1.1 = ± 5.769.
    expect(off.shifts).toEqual([
      {
        code: 'water-pressure',
        unit: 'kPa',
        value: 110,
        centre: 100,
        sigma: expect.closeTo(Math.sqrt(20 / 9), 12),
        limits: { lower: expect.closeTo(94.231, 3), upper: expect.closeTo(105.769, 3) },
      },
    ]);
    const { timeline } = (await plant.get('read', `/v1/history?serial=${motor}`)).body;
    expect(timeline.at(-1).text).toMatch(/in cell C-1, off its history in water-pressure$/);
    // What was off does not become history: the same again is off again, the first ten stay.
    const again = await referenceRun(plant, motor, 'C-1', reading(651, 110));
    expect(again.shifts).toEqual(off.shifts);
  });

  it('gathers a longer history where one was asked for', async () => {
    const { motor } = await designate(plant, { baselineRuns: 12 });
    await gatherHistory(plant, motor);
    const far = reading(690, 140);
    expect(await referenceRun(plant, motor, 'C-1', far)).toMatchObject({ compared: 0 });
    expect(await referenceRun(plant, motor, 'C-1', far)).toMatchObject({ compared: 0 });
    // The two far ones are history themselves now, so that they are not off it.
    expect(await referenceRun(plant, motor, 'C-1', far)).toMatchObject({ compared: 2, shifts: [] });
  });

  it('cannot be compared with a history without variation', async () => {
    const { motor } = await designate(plant, { baselineRuns: 5 });
    for (let i = 0; i < 5; i += 1) await referenceRun(plant, motor, 'C-1', reading(650, 100 + i));
    const far = await referenceRun(plant, motor, 'C-1', reading(690, 102));
    expect(far).toMatchObject({ compared: 1, shifts: [] });
  });

  it('keeps its history through a revision in another unit, and computes what is derived', async () => {
    const { motor } = await designate(plant);
    await gatherHistory(plant, motor);
    const draft = specificationDraft();
    const inBar = draft.prompts.map((prompt) => ({
      ...prompt,
      characteristics: prompt.characteristics.map((one) =>
        one.code === 'water-pressure'
          ? { ...one, unit: 'bar', lower: 0.5, upper: 1.5, guardBand: 0.05 }
          : one,
      ),
    }));
    inBar[0]?.characteristics.push({
      kind: 'derived',
      code: 'speed-twice',
      name: 'Mean of the speed and itself',
      unit: '/min',
      decimals: 0,
      derivation: { function: 'mean', inputs: ['idle-speed', 'idle-speed-2'] },
    } as never);
    inBar[0]?.characteristics.push({
      kind: 'measured',
      code: 'idle-speed-2',
      name: 'Idle speed again',
      unit: '/min',
      decimals: 0,
    } as never);
    await specify(plant, { ...draft, prompts: inBar });
    const more = [{ code: 'idle-speed-2', value: 660 }];
    const bar = (value: number) => [
      { code: 'idle-speed', value: 650 },
      { code: 'water-pressure', value },
      { code: 'telltale', value: true },
      ...more,
    ];
    const run = await referenceRun(plant, motor, 'C-1', bar(1.01));
    // The new ones have no history yet.
    expect(run).toMatchObject({ compared: 2, shifts: [] });
    const { values } = (await plant.get('read', `/v1/reference-runs/${run.id}`)).body;
    expect(values).toContainEqual({
      code: 'speed-twice',
      name: 'Mean of the speed and itself',
      value: 655,
      unit: '/min',
    });
    const off = await referenceRun(plant, motor, 'C-1', bar(1.1));
    expect(off.shifts).toMatchObject([{ code: 'water-pressure', unit: 'bar', value: 1.1 }]);
  });

  it('leaves a journal from which every run is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
