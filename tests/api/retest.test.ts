import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  enter,
  failedMotor,
  failing,
  furnish,
  openRun,
  refused,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';

describe('a test again without a repair', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const retest = (motor: string, as = 'quality') =>
    plant.post(as, '/v1/retests', { motor, reason: 'Hose was kinked' });
  const codes = async (motor: string) => {
    const gate = await plant.get('read', `/v1/release-gate?motor=${motor}`);
    return gate.body.reasons.map((one: { code: string }) => one.code);
  };

  it('ends the repair as no fault found and lets the motor wait for its test', async () => {
    const { motor, repair } = await failedMotor(plant);
    const allowed = await retest(motor);
    expect(allowed.status).toBe(200);
    expect(allowed.body).toMatchObject({ serial: motor, state: 'awaiting-test' });
    expect((await plant.get('read', `/v1/repairs/${repair}`)).body).toMatchObject({
      outcome: 'no-fault-found',
      note: 'Hose was kinked',
      closedBy: 'quality key',
      symptom: null,
    });
    expect(await codes(motor)).toEqual(['last-run-failed']);
    expect(await runMotor(plant, motor)).toMatchObject({ verdict: 'pass', attempt: 2 });
    expect(await codes(motor)).toEqual([]);
  });

  it('counts as a rework loop and leaves the failed first run in the yield', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    const { motor } = await failedMotor(own);
    await own.make('quality', '/v1/retests', { motor, reason: 'Hose was kinked' });
    await runMotor(own, motor);
    const yields = await own.get('read', '/v1/yield/first-pass');
    expect(yields.body.items).toMatchObject([
      { firstRuns: 1, firstPasses: 0, completedRuns: 2, passedRuns: 1 },
    ]);
    const loops = await own.get('read', '/v1/yield/rework-loops');
    expect(loops.body.items).toEqual([{ loops: 1, motors: 1, passed: 1 }]);
    await own.stop();
  });

  it('sends a passed motor back: it is released only after it has passed again', async () => {
    const { motor } = await setMotor(plant);
    await runMotor(plant, motor);
    await retest(motor);
    expect(await stateOf(plant, 'motor', motor)).toBe('awaiting-test');
    expect(await codes(motor)).toEqual(['retest-due']);
    const run = await openRun(plant, motor);
    expect(await codes(motor)).toEqual(['run-open']);
    await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
    expect(await codes(motor)).toEqual(['retest-due']);
    expect(await runMotor(plant, motor, failing)).toMatchObject({ attempt: 2, firstPass: null });
    expect(await codes(motor)).toEqual(['last-run-failed', 'repair-open']);
  });

  it('is refused while it waits, is in test, or has ended', async () => {
    const waiting = (await setMotor(plant)).motor;
    const inTest = (await setMotor(plant)).motor;
    await openRun(plant, inTest);
    const released = (await setMotor(plant)).motor;
    await runMotor(plant, released);
    await plant.make('quality', '/v1/releases', { motors: [released] });
    const tornDown = (await setMotor(plant)).motor;
    await plant.make('quality', '/v1/teardowns', { motor: tornDown, reason: 'Wrong order' });
    const states = [
      [waiting, 'awaiting-test'],
      [inTest, 'in-test'],
      [released, 'released'],
      [tornDown, 'torn-down'],
    ] as const;
    for (const [motor, state] of states) {
      expect((await refused(plant, 'motor-state', () => retest(motor))).state).toBe(state);
    }
  });

  it('is refused where parts were exchanged, since then something was repaired', async () => {
    const { motor, repair, lowerUnit } = await failedMotor(plant);
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
      parentClass: 'motor',
      parent: motor,
      position: 'lower-unit',
      removed: lowerUnit,
      fitted: { class: 'lower-unit', serial: await enter(plant, 'lower-unit') },
    });
    const problem = await refused(plant, 'motor-state', () => retest(motor));
    expect(problem.repair).toBe(repair);
  });

  it('is for quality to allow, with a reason', async () => {
    const { motor } = await failedMotor(plant);
    for (const role of ['repair', 'cell', 'set', 'read']) {
      await refused(plant, 'forbidden', () => retest(motor, role));
    }
    await refused(plant, 'request-invalid', () => plant.post('quality', '/v1/retests', { motor }));
  });
});
