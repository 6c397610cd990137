import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  enter,
  failedMotor,
  failing,
  furnish,
  hold,
  openRun,
  order,
  passing,
  refused,
  runMotor,
  setMotor,
  specificationDraft,
  specify,
  stateOf,
} from '../support/scenario.js';

describe('starting a run', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const start = (motor: string, cell = 'CELL-A', more: object = {}) =>
    plant.post('cell', '/v1/runs', { motor, cell, ...more });

  it('hands out the prompts in the order of the specification and marks the motor in test', async () => {
    const { motor } = await setMotor(plant);
    const run = await start(motor, 'CELL-P');
    expect(run.status).toBe(201);
    expect(run.headers.location).toBe(`/v1/runs/${run.body.id}`);
    expect(run.body.prompts.map((one: { text: string }) => one.text)).toEqual([
      'Run at idle',
      'Look at the telltale',
    ]);
    expect(run.body.prompts[0].caution).toContain('stay outside the guard');
    expect(run.body).toMatchObject({
      state: 'open',
      batches: [],
      outstanding: ['idle-speed', 'water-pressure', 'telltale'],
    });
    expect(await stateOf(plant, 'motor', motor)).toBe('in-test');
  });

  it('refuses a cell that has an open run, and says which motor stands there', async () => {
    const first = await setMotor(plant);
    const second = await setMotor(plant);
    const run = await openRun(plant, first.motor, 'CELL-B');
    const problem = await refused(plant, 'cell-busy', () => start(second.motor, 'CELL-B'));
    expect(problem).toMatchObject({ run, motor: first.motor });
    expect(await stateOf(plant, 'motor', second.motor)).toBe('awaiting-test');
  });

  it('refuses a motor that is in test already, and says in which cell', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-C');
    const problem = await refused(plant, 'motor-state', () => start(motor, 'CELL-D'));
    expect(problem).toMatchObject({ state: 'in-test', run, cell: 'CELL-C' });
  });

  it('lets one of two cells that start the same motor at once have it', async () => {
    const { motor } = await setMotor(plant);
    const answers = await Promise.all([start(motor, 'CELL-E'), start(motor, 'CELL-F')]);
    expect(answers.map((one) => one.status).sort()).toEqual([201, 409]);
    expect(answers.find((one) => one.status === 409)?.body.type).toBe('/problems/motor-state');
  });

  it('refuses a motor that passed, failed, was torn down or scrapped', async () => {
    const passed = (await setMotor(plant)).motor;
    await runMotor(plant, passed);
    const failed = (await failedMotor(plant)).motor;
    const tornDown = (await setMotor(plant)).motor;
    await plant.make('quality', '/v1/teardowns', { motor: tornDown, reason: 'Wrong paint' });
    const scrapped = (await setMotor(plant)).motor;
    const scrap = { class: 'motor', unit: scrapped, kind: 'scrap', reason: 'Dropped' };
    expect((await plant.post('quality', '/v1/dispositions', scrap)).status).toBe(200);
    const states = { [passed]: 'passed', [failed]: 'in-repair', [tornDown]: 'torn-down' };
    for (const [motor, state] of Object.entries({ ...states, [scrapped]: 'scrapped' })) {
      const problem = await refused(plant, 'motor-state', () => start(motor, 'CELL-G'));
      expect(problem.state).toBe(state);
    }
  });

  it('refuses a powerhead where the motor belongs, and a serial nobody knows', async () => {
    const { powerhead } = await setMotor(plant);
    await refused(plant, 'wrong-class', () => start(powerhead));
    await refused(plant, 'serial-unknown', () => start('NOBODY1'));
  });

  it.each([
    ['motor', 'the motor'],
    ['powerhead', 'one of its halves'],
    ['lower-unit', 'the other half'],
  ])('refuses while a %s is on hold, that is %s, until the hold is lifted', async (unitClass) => {
    const made = await setMotor(plant);
    const serial =
      unitClass === 'motor'
        ? made.motor
        : unitClass === 'powerhead'
          ? made.powerhead
          : made.lowerUnit;
    const id = await hold(plant, unitClass, serial);
    const problem = await refused(plant, 'on-hold', () => start(made.motor, 'CELL-H'));
    expect(problem).toMatchObject({ serial, hold: id });
    await plant.make('quality', `/v1/holds/${id}/lift`, { reason: 'Looked at' });
    const run = await start(made.motor, 'CELL-H');
    expect(run.status).toBe(201);
    await plant.make('cell', `/v1/runs/${run.body.id}/abort`, { reason: 'Enough' });
  });

  it('refuses while a component in a half is on hold', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    const pair = { powerhead, lowerUnit: await enter(plant, 'lower-unit'), station: 'SET-1' };
    const set = { ...pair, order: await order(plant) };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', set);
    await hold(plant, 'fuel-pump', pump);
    const problem = await refused(plant, 'on-hold', () => start(motor, 'CELL-I'));
    expect(problem.serial).toBe(pump);
    expect(problem.detail).toContain('Fuel pump');
  });

  it('refuses a start ahead of the clock or over 31 days back', async () => {
    const { motor } = await setMotor(plant);
    const at = (ms: number) => ({ occurredAt: new Date(plant.now + ms).toISOString() });
    await refused(plant, 'time-in-future', () => start(motor, 'CELL-J', at(10 * 60_000)));
    await refused(plant, 'time-too-old', () => start(motor, 'CELL-J', at(-32 * 86_400_000)));
  });

  it('takes only the role of a cell', async () => {
    const { motor } = await setMotor(plant);
    const body = { motor, cell: 'CELL-K' };
    for (const role of ['set', 'repair', 'quality', 'read']) {
      await refused(plant, 'forbidden', () => plant.post(role, '/v1/runs', body));
    }
  });

  it('judges a run by the revision in force at its start, the next one by the new revision', async () => {
    const { motor } = await setMotor(plant);
    const other = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-L');
    const [idle, telltale] = specificationDraft().prompts;
    const narrow = { ...idle, characteristics: idle?.characteristics.slice(0, 1) };
    const speed = { ...narrow.characteristics?.[0], lower: 690 };
    await specify(plant, {
      ...specificationDraft(),
      note: 'Faster idle',
      prompts: [{ ...narrow, characteristics: [speed] }, telltale],
    });
    const done = await plant.post('cell', `/v1/runs/${run}/completion`, { readings: passing });
    expect(done.body).toMatchObject({ verdict: 'pass', failed: [] });
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body.specificationRevision).toBe(1);

    const next = await openRun(plant, other.motor, 'CELL-L');
    const readings = passing.filter((one) => one.code !== 'water-pressure');
    const judged = await plant.post('cell', `/v1/runs/${next}/completion`, { readings });
    expect(judged.body.verdict).toBe('fail');
    expect(judged.body.failed).toMatchObject([{ code: 'idle-speed', value: 650, lower: 690 }]);
    expect((await plant.get('read', `/v1/runs/${next}`)).body.specificationRevision).toBe(2);
  });
});

describe('a model without a specification in force', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('cannot be tested until one takes effect, which a draft or a later date does not', async () => {
    await plant.make('configuration', '/v1/models', {
      code: 'F100X',
      name: 'Hundred, extra long shaft',
      ratedPowerKw: 73.5,
      attributes: { shaftLength: '635 mm' },
    });
    const { id } = await plant.make<{ id: number }>('configuration', '/v1/configurations', {
      code: 'F100X-A',
      model: 'F100X',
      powerheadNumber: 'PH-100',
      lowerUnitNumber: 'LU-25',
    });
    await plant.make('configuration 2', `/v1/configurations/${id}/approval`, {});
    plant.wait(1000);
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead: await enter(plant, 'powerhead'),
      lowerUnit: await enter(plant, 'lower-unit', { part: { number: 'LU-25', revision: 'A' } }),
      order: await order(plant, 1, { model: 'F100X' }),
      station: 'SET-1',
    });
    const start = () => plant.post('cell', '/v1/runs', { motor, cell: 'CELL-1' });
    await refused(plant, 'no-specification', start);
    const draft = { ...specificationDraft(), model: 'F100X' };
    const specification = await plant.make<{ id: number }>('quality', '/v1/specifications', draft);
    await refused(plant, 'no-specification', start);
    await plant.make('quality 2', `/v1/specifications/${specification.id}/approval`, {
      effectiveFrom: new Date(plant.now + 3_600_000).toISOString(),
    });
    await refused(plant, 'no-specification', start);
    plant.wait(3_600_000);
    expect((await start()).status).toBe(201);
  });
});

describe('the list of runs', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('is filtered by cell, state, verdict and time', async () => {
    const { motor } = await setMotor(plant);
    const aborted = await openRun(plant, motor, 'CELL-1');
    await plant.make('cell', `/v1/runs/${aborted}/abort`, { reason: 'No water' });
    plant.wait(3_600_000);
    const from = new Date(plant.now).toISOString();
    const failed = await openRun(plant, motor, 'CELL-2');
    await plant.make('cell', `/v1/runs/${failed}/completion`, { readings: failing });
    const open = await openRun(plant, (await setMotor(plant)).motor, 'CELL-1');
    const ids = async (query: string) => {
      const answer = await plant.get('read', `/v1/runs?${query}`);
      return answer.body.items.map((one: { id: number }) => one.id);
    };
    expect(await ids('cell=CELL-1')).toEqual([aborted, open]);
    expect(await ids('state=aborted')).toEqual([aborted]);
    expect(await ids('state=open')).toEqual([open]);
    expect(await ids('verdict=fail')).toEqual([failed]);
    expect(await ids('verdict=pass')).toEqual([]);
    expect(await ids(`from=${from}`)).toEqual([failed, open]);
    expect(await ids(`until=${from}`)).toEqual([aborted]);
  });

  it('knows no run of another number', async () => {
    await refused(plant, 'run-unknown', () => plant.get('read', '/v1/runs/99'));
    await refused(plant, 'run-unknown', () =>
      plant.post('cell', '/v1/runs/99/completion', { readings: passing }),
    );
  });
});
