import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { closeRepair, failing, furnish, runMotor, setMotor } from '../support/scenario.js';

describe('the main job, end to end', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('sets, fails, repairs, passes, releases and remembers one motor', async () => {
    const { motor, powerhead, lowerUnit } = await setMotor(plant);
    const first = await runMotor(plant, motor, failing);
    expect(first).toMatchObject({ verdict: 'fail', attempt: 1, firstPass: false });
    await closeRepair(plant, first.repair ?? 0);
    const second = await runMotor(plant, motor);
    expect(second).toMatchObject({ verdict: 'pass', attempt: 2, firstPass: null, repair: null });

    const gate = await plant.get('read', `/v1/release-gate?motor=${motor}`);
    expect(gate.body).toEqual({ motor, releasable: true, reasons: [] });
    const released = await plant.post('quality', '/v1/releases', { motors: [motor] });
    expect(released.status).toBe(201);

    const history = await plant.get('read', `/v1/history?serial=${powerhead}`);
    expect(history.body.motor).toBe(motor);
    expect(history.body.tree.map((node: { serial: string }) => node.serial)).toEqual([
      motor,
      lowerUnit,
      powerhead,
    ]);
    expect(history.body.timeline.map((one: { kind: string }) => one.kind)).toEqual([
      'unit.entered',
      'pair.set',
      'run.started',
      'run.completed',
      'repair.closed',
      'run.started',
      'run.completed',
      'motor.released',
    ]);
    expect(history.body.runs).toHaveLength(2);
    expect(history.body.release.motor).toBe(motor);
  });

  it('counts first-pass yield and rework loops', async () => {
    const yields = await plant.get('read', '/v1/yield/first-pass?by=model');
    expect(yields.body.items).toMatchObject([{ slice: 'F100L', firstRuns: 1, firstPasses: 0 }]);
    const loops = await plant.get('read', '/v1/yield/rework-loops');
    expect(loops.body.items).toEqual([{ loops: 1, motors: 1, passed: 1 }]);
  });
});
