import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, passing, refused, setMotor } from '../support/scenario.js';

describe('batches of readings', () => {
  let plant: TestPlant;
  let run: number;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const begin = async () => {
    run = await openRun(plant, (await setMotor(plant)).motor);
    return run;
  };
  const batch = (sequence: number, readings: readonly object[], more: object = {}) =>
    plant.post('cell', `/v1/runs/${run}/batches`, { sequence, readings, ...more });
  const complete = (body: object = {}) => plant.post('cell', `/v1/runs/${run}/completion`, body);
  const speed = (value: number) => ({ code: 'idle-speed', value });
  const pressure = (value: number) => ({ code: 'water-pressure', value });
  const telltale = { code: 'telltale', value: true };

  it('count up and shorten the list of what is outstanding', async () => {
    await begin();
    expect((await batch(1, [speed(640)])).body).toEqual({
      run,
      sequence: 1,
      readings: 1,
      outstanding: ['water-pressure', 'telltale'],
    });
    expect((await batch(2, [pressure(90), telltale])).body).toMatchObject({
      readings: 3,
      outstanding: [],
    });
    expect((await complete()).body.verdict).toBe('pass');
  });

  it('are kept as posted, every one, with batch, time and unit', async () => {
    await begin();
    const measuredAt = new Date(plant.now - 5000).toISOString();
    await batch(1, [speed(601), { ...pressure(0.9), unit: 'bar' }, telltale], { measuredAt });
    await batch(2, [speed(640)]);
    const detail = await plant.get('read', `/v1/runs/${run}`);
    const now = new Date(plant.now).toISOString();
    expect(detail.body.readings).toEqual([
      { batch: 1, measuredAt, code: 'idle-speed', value: 601, unit: null },
      { batch: 1, measuredAt, code: 'water-pressure', value: 0.9, unit: 'bar' },
      { batch: 1, measuredAt, code: 'telltale', value: true, unit: null },
      { batch: 2, measuredAt: now, code: 'idle-speed', value: 640, unit: null },
    ]);
  });

  it('sent again with the same content change nothing, under a new key and in any state', async () => {
    await begin();
    const first = await batch(1, passing);
    const before = plant.eventCount();
    const again = await batch(1, passing);
    expect(again.status).toBe(200);
    expect(again.body).toEqual(first.body);
    await complete();
    const ended = plant.eventCount();
    expect(ended).toBe(before + 1);
    const late = await batch(1, passing);
    expect(late.status).toBe(200);
    expect(late.body).toMatchObject({ readings: 3, outstanding: [] });
    expect(plant.eventCount()).toBe(ended);
  });

  it('sent again with another value, unit or order are a conflict, before and after the end', async () => {
    await begin();
    await batch(1, passing);
    const others = [
      [speed(651), ...passing.slice(1)],
      [passing[0] as object, { ...pressure(100), unit: 'kPa' }, telltale],
      [...passing].reverse(),
      passing.slice(0, 2),
    ];
    for (const other of others) await refused(plant, 'batch-conflict', () => batch(1, other));
    await complete();
    for (const other of others) await refused(plant, 'batch-conflict', () => batch(1, other));
    expect((await plant.get('read', `/v1/runs/${run}`)).body.readings).toHaveLength(3);
  });

  it.each([[[1, 2, 3]], [[3, 2, 1]], [[2, 3, 1]]])(
    'that arrive in the order %j let the highest number count',
    async (order) => {
      await begin();
      const content: Record<number, readonly object[]> = {
        1: [speed(500), pressure(100), telltale],
        2: [speed(900)],
        3: [speed(650)],
      };
      for (const sequence of order) await batch(sequence, content[sequence] ?? []);
      const done = await complete({ batches: 3 });
      expect(done.body.verdict).toBe('pass');
      const detail = await plant.get('read', `/v1/runs/${run}`);
      expect(detail.body.judgements[0]).toMatchObject({ code: 'idle-speed', value: 650 });
      expect(detail.body.readings.map((one: { batch: number }) => one.batch)).toEqual([
        1, 1, 1, 2, 3,
      ]);
    },
  );

  it('count the last of one characteristic inside one batch', async () => {
    await begin();
    const done = await complete({ readings: [speed(500), ...passing.slice(1), speed(650)] });
    expect(done.body.verdict).toBe('pass');
  });

  it('come after those posted before when they stand in the completion itself', async () => {
    await begin();
    await batch(7, [speed(500), pressure(100), telltale]);
    expect((await complete({ readings: [speed(650)] })).body.verdict).toBe('pass');
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body.readings.at(-1)).toMatchObject({ batch: 8, value: 650 });
  });

  it('that are new are refused once the run has ended', async () => {
    await begin();
    await batch(1, passing);
    await complete();
    await refused(plant, 'run-not-open', () => batch(2, [speed(500)]));
    await begin();
    await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'Leak' });
    const problem = await refused(plant, 'run-not-open', () => batch(1, [speed(500)]));
    expect(problem.state).toBe('aborted');
  });

  it('declared but not arrived keep the run open, and are named', async () => {
    await begin();
    await batch(1, passing);
    await batch(4, [speed(640)]);
    const problem = await refused(plant, 'run-incomplete', () => complete({ batches: 5 }));
    expect(problem.missing).toEqual([
      { code: 'batch 2', reason: 'has not arrived' },
      { code: 'batch 3', reason: 'has not arrived' },
      { code: 'batch 5', reason: 'has not arrived' },
    ]);
    for (const sequence of [5, 3, 2]) await batch(sequence, [speed(645)]);
    expect((await complete({ batches: 5 })).body.verdict).toBe('pass');
  });

  it('with anything that cannot be taken are refused whole, each fault with its place', async () => {
    await begin();
    const problem = await refused(plant, 'reading-invalid', () =>
      batch(1, [
        speed(650),
        { code: 'oil-pressure', value: 1 },
        { code: 'idle-speed', value: true },
        { ...telltale, value: 1 },
        { ...telltale, unit: 'kPa' },
        { ...pressure(1), unit: 'N.m' },
        { ...pressure(1), unit: 'furlong' },
        { ...pressure(1.7e308), unit: 'MPa' },
      ]),
    );
    const errors = problem.errors as { pointer: string; detail: string }[];
    expect(errors.map((one) => one.pointer)).toEqual(
      [1, 2, 3, 4, 5, 6, 7].map((n) => `/readings/${n}`),
    );
    expect(errors.map((one) => one.detail)).toEqual([
      'the specification has no characteristic oil-pressure',
      'idle-speed is measured and takes a number',
      'telltale is answered with true or false',
      'telltale is answered with true or false, without a unit',
      'N.m does not convert to kPa',
      'the unit "furlong" is not a UCUM code of the plant\'s table',
      '1.7e+308 MPa is too large',
    ]);
    expect((await plant.get('read', `/v1/runs/${run}`)).body.readings).toEqual([]);
  });

  it.each([
    ['text for a number', { sequence: 1, readings: [{ code: 'idle-speed', value: '650' }] }],
    ['null for a value', { sequence: 1, readings: [{ code: 'idle-speed', value: null }] }],
    ['no readings', { sequence: 1, readings: [] }],
    ['batch 0', { sequence: 0, readings: passing }],
    ['batch 1.5', { sequence: 1.5, readings: passing }],
    ['an unknown member', { sequence: 1, readings: [{ ...speed(1), limit: 3 }] }],
  ])('with %s do not have the required form', async (_what, body) => {
    await begin();
    await refused(plant, 'request-invalid', () =>
      plant.post('cell', `/v1/runs/${run}/batches`, body),
    );
  });

  it('hold ten thousand readings of a run at most, all batches and the completion together', async () => {
    await begin();
    const many = (n: number) => Array.from({ length: n }, (_, i) => speed(600 + (i % 100)));
    // 10,000 readings a run: the limit of issue and API document.
    const full = await batch(1, [...passing, ...many(9_997)]);
    expect(full.body).toMatchObject({ readings: 10_000, outstanding: [] });
    await refused(plant, 'too-many-readings', () => batch(2, [speed(650)]));
    await refused(plant, 'too-many-readings', () => complete({ readings: [speed(650)] }));
    await refused(plant, 'request-invalid', () => batch(2, many(10_001)));
    // The last of 9,997 is the 9,996th from 0: 600 + 9,996 % 100.
    const done = await complete();
    expect(done.body.verdict).toBe('pass');
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body.readings).toHaveLength(10_000);
    expect(detail.body.judgements[0].value).toBe(696);
  });

  it('may all come with the completion, ten thousand of them', async () => {
    await begin();
    const readings = [
      ...Array.from({ length: 9_997 }, () => speed(650)),
      ...passing.slice(0, 2),
      telltale,
    ];
    expect((await complete({ readings, cellVerdict: 'pass' })).body.verdict).toBe('pass');
  });
});
