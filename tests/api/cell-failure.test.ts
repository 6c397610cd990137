import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, passing, refused, setMotor, stateOf } from '../support/scenario.js';

describe('a cell that dies in the middle of a run', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const post = (run: number, what: string, body: object, as = 'cell') =>
    plant.post(as, `/v1/runs/${run}/${what}`, body);

  it('is followed by another cell, which finds the batches kept and completes', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-1');
    await post(run, 'batches', { sequence: 1, readings: passing.slice(0, 1) });
    await post(run, 'batches', { sequence: 3, readings: passing.slice(1, 2) });
    plant.wait(3_600_000);
    const taken = await post(run, 'resumption', { cell: 'CELL-2' });
    expect(taken.body).toMatchObject({
      id: run,
      cell: 'CELL-2',
      state: 'open',
      batches: [1, 3],
      outstanding: ['telltale'],
    });
    expect(taken.body.prompts).toHaveLength(2);
    const done = await post(run, 'completion', { readings: passing.slice(2) });
    expect(done.body).toMatchObject({ verdict: 'pass', attempt: 1, firstPass: true });
    const yields = await plant.get('read', '/v1/yield/first-pass?by=cell&cell=CELL-2');
    expect(yields.body.items).toMatchObject([{ slice: 'CELL-2', firstRuns: 1 }]);
    const history = await plant.get('read', `/v1/history?serial=${motor}`);
    const kinds = history.body.timeline.map((one: { kind: string }) => one.kind);
    expect(kinds).toContain('run.resumed');
    expect(history.body.runs).toMatchObject([{ id: run, cell: 'CELL-2' }]);
  });

  it('frees the cell for the next motor when another took its run over', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor, 'CELL-3');
    await post(run, 'resumption', { cell: 'CELL-4' });
    const next = await openRun(plant, (await setMotor(plant)).motor, 'CELL-3');
    const problem = await refused(plant, 'cell-busy', () =>
      post(next, 'resumption', { cell: 'CELL-4' }),
    );
    expect(problem.run).toBe(run);
    for (const one of [run, next]) await post(one, 'abort', { reason: 'End of the check' });
  });

  it('resumes its own run after a restart without a trace in the record', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor, 'CELL-5');
    await post(run, 'batches', { sequence: 1, readings: passing });
    const before = plant.eventCount();
    const resumed = await post(run, 'resumption', { cell: 'CELL-5' });
    expect(resumed.body).toMatchObject({ cell: 'CELL-5', batches: [1], outstanding: [] });
    expect(plant.eventCount()).toBe(before);
  });

  it('repeats a completion whose answer was lost and gets that answer', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-6');
    const headers = { 'Idempotency-Key': randomUUID() };
    const send = () =>
      plant.post('cell', `/v1/runs/${run}/completion`, { readings: passing }, { headers });
    const first = await send();
    const before = plant.eventCount();
    const second = await send();
    expect(second.body).toEqual(first.body);
    expect(second.headers['idempotency-replayed']).toBe('true');
    expect(plant.eventCount()).toBe(before);
    await refused(plant, 'run-not-open', () => post(run, 'completion', { readings: passing }));
  });

  it('is followed by an abort, which is no attempt and lets the motor wait again', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-7');
    await post(run, 'batches', { sequence: 1, readings: passing });
    const aborted = await post(run, 'abort', { reason: 'The cell lost power' }, 'quality');
    expect(aborted.body).toMatchObject({
      state: 'aborted',
      abortReason: 'The cell lost power',
      attempt: null,
      verdict: null,
      firstPass: null,
    });
    expect(await stateOf(plant, 'motor', motor)).toBe('awaiting-test');
    const again = await openRun(plant, motor, 'CELL-7');
    const done = await post(again, 'completion', { readings: passing });
    expect(done.body).toMatchObject({ verdict: 'pass', attempt: 1, firstPass: true });
  });

  it('cannot end a run twice, nor take over one that has ended', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor, 'CELL-8');
    await post(run, 'abort', { reason: 'Fuel leak' });
    await refused(plant, 'run-not-open', () => post(run, 'abort', { reason: 'Again' }));
    await refused(plant, 'run-not-open', () => post(run, 'completion', { readings: passing }));
    await refused(plant, 'run-not-open', () => post(run, 'resumption', { cell: 'CELL-9' }));
    await refused(plant, 'run-unknown', () => post(999, 'abort', { reason: 'Nothing' }));
    await refused(plant, 'run-unknown', () => post(999, 'resumption', { cell: 'CELL-9' }));
  });

  it('must say why it aborts', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor, 'CELL-10');
    await refused(plant, 'request-invalid', () => post(run, 'abort', {}));
    await refused(plant, 'request-invalid', () => post(run, 'abort', { reason: '' }));
    await refused(plant, 'forbidden', () => post(run, 'abort', { reason: 'No' }, 'repair'));
  });

  it('never states an end before the start, though its clock runs behind', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, 'CELL-11');
    const started = new Date(plant.now).toISOString();
    plant.wait(60_000);
    const occurredAt = new Date(plant.now - 86_400_000).toISOString();
    await post(run, 'completion', { readings: passing, occurredAt });
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body).toMatchObject({ startedAt: started, endedAt: started });
    const day = started.slice(0, 10);
    const counted = await plant.get('read', '/v1/yield/first-pass?by=day&cell=CELL-11');
    expect(counted.body.items).toMatchObject([{ slice: day, firstRuns: 1 }]);
  });
});
