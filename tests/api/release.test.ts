import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  furnish,
  hold,
  openRun,
  order,
  refused,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';

interface Reason {
  code: string;
  detail: string;
}

describe('the release gate', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const gate = async (motor: string) => {
    const answer = await plant.get('read', `/v1/release-gate?motor=${motor}`);
    return answer.body as { releasable: boolean; reasons: Reason[] };
  };
  const release = (motors: readonly string[], as = 'quality') =>
    plant.post(as, '/v1/releases', { motors });
  const passedMotor = async () => {
    const made = await setMotor(plant);
    await runMotor(plant, made.motor);
    return made;
  };

  /** Each way a motor may be stopped: how it comes to that, and every reason then given. */
  const stopped: Record<string, { make: () => Promise<string>; reasons: string[] }> = {
    'was released already': {
      make: async () => {
        const { motor } = await passedMotor();
        await plant.make('quality', '/v1/releases', { motors: [motor] });
        return motor;
      },
      reasons: ['already-released'],
    },
    'was torn down': {
      make: async () => {
        const { motor } = await passedMotor();
        await plant.make('quality', '/v1/teardowns', { motor, reason: 'Wrong order' });
        return motor;
      },
      reasons: ['torn-down'],
    },
    'is scrapped': {
      make: async () => {
        const { motor } = await passedMotor();
        const scrap = { class: 'motor', unit: motor, kind: 'scrap', reason: 'Dropped' };
        await plant.make('quality', '/v1/dispositions', scrap);
        return motor;
      },
      reasons: ['scrapped'],
    },
    'was never tested': {
      make: async () => (await setMotor(plant)).motor,
      reasons: ['never-tested'],
    },
    'was tested, but never to the end': {
      make: async () => {
        const { motor } = await setMotor(plant);
        const run = await openRun(plant, motor);
        await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
        return motor;
      },
      reasons: ['never-tested'],
    },
    'is in its first run': {
      make: async () => {
        const { motor } = await setMotor(plant);
        await openRun(plant, motor);
        return motor;
      },
      reasons: ['never-tested', 'run-open'],
    },
    failed: {
      make: async () => (await failedMotor(plant)).motor,
      reasons: ['last-run-failed', 'repair-open'],
    },
    'was repaired after its failure': {
      make: async () => {
        const { motor, repair } = await failedMotor(plant);
        await closeRepair(plant, repair);
        return motor;
      },
      reasons: ['last-run-failed'],
    },
    'was repaired after it passed': {
      make: async () => {
        const { motor } = await passedMotor();
        const complaint = 'Cowl cracked';
        const body = { motor, complaint };
        const { id } = await plant.make<{ id: number }>('repair', '/v1/repairs', body);
        await closeRepair(plant, id);
        return motor;
      },
      reasons: ['changed-since-run'],
    },
    'is in repair since it passed': {
      make: async () => {
        const { motor } = await passedMotor();
        await plant.make('repair', '/v1/repairs', { motor, complaint: 'Cowl cracked' });
        return motor;
      },
      reasons: ['repair-open'],
    },
    'passed, but has to be tested again': {
      make: async () => {
        const { motor } = await passedMotor();
        await plant.make('quality', '/v1/retests', { motor, reason: 'Gauge out of date' });
        return motor;
      },
      reasons: ['retest-due'],
    },
    'is on hold, twice, and so is a half in it': {
      make: async () => {
        const { motor, lowerUnit } = await passedMotor();
        await hold(plant, 'motor', motor);
        await hold(plant, 'motor', motor);
        await hold(plant, 'lower-unit', lowerUnit);
        return motor;
      },
      reasons: ['on-hold', 'on-hold', 'on-hold'],
    },
    'failed and is on hold': {
      make: async () => {
        const { motor } = await failedMotor(plant);
        await hold(plant, 'motor', motor);
        return motor;
      },
      reasons: ['last-run-failed', 'repair-open', 'on-hold'],
    },
  };

  it.each(Object.entries(stopped))(
    'stops a motor that %s, with every reason',
    async (_how, { make, reasons }) => {
      const motor = await make();
      const answer = await gate(motor);
      expect(answer.reasons.map((one) => one.code)).toEqual(reasons);
      expect(answer.releasable).toBe(false);
      const before = await stateOf(plant, 'motor', motor);
      const problem = await refused(plant, 'not-releasable', () => release([motor]));
      expect(problem.motors).toEqual([{ motor, reasons: answer.reasons }]);
      expect(problem.detail).toContain(answer.reasons[0]?.detail);
      expect(await stateOf(plant, 'motor', motor)).toBe(before);
    },
  );

  it('lets a motor through that passed its latest run, and knows who released it on which run', async () => {
    const made = await passedMotor();
    expect(await gate(made.motor)).toEqual({ motor: made.motor, releasable: true, reasons: [] });
    const { body, status } = await release([made.motor]);
    expect(status).toBe(201);
    const { body: history } = await plant.get('read', `/v1/history?serial=${made.motor}`);
    const kept = {
      motor: made.motor,
      model: 'F100L',
      order: made.order,
      run: history.runs[0].id,
      releasedAt: new Date(plant.now).toISOString(),
      releasedBy: 'quality key',
    };
    expect(body.released).toEqual([kept]);
    expect(history.release).toEqual(kept);
    const list = await plant.get('read', '/v1/releases?limit=1000');
    expect(list.body.items).toContainEqual(kept);
    expect(await stateOf(plant, 'motor', made.motor)).toBe('released');
  });

  it('lets a motor through again after the repair when it has passed once more', async () => {
    const { motor, repair } = await failedMotor(plant);
    await closeRepair(plant, repair);
    await runMotor(plant, motor);
    expect((await release([motor])).status).toBe(201);
  });

  it('releases all of a batch, each motor once though scanned twice', async () => {
    const motors = [(await passedMotor()).motor, (await passedMotor()).motor];
    const done = await release([...motors, motors[0] ?? '']);
    expect(done.body.released.map((one: { motor: string }) => one.motor)).toEqual(motors);
  });

  it('releases none of a batch while one may not go, and lists every reason of every one', async () => {
    const good = (await passedMotor()).motor;
    const failed = (await failedMotor(plant)).motor;
    const untested = (await setMotor(plant)).motor;
    const problem = await refused(plant, 'not-releasable', () => release([good, failed, untested]));
    const motors = problem.motors as { motor: string; reasons: Reason[] }[];
    expect(motors.map(({ motor, reasons }) => [motor, reasons.map((one) => one.code)])).toEqual([
      [failed, ['last-run-failed', 'repair-open']],
      [untested, ['never-tested']],
    ]);
    expect(problem.detail).toContain('1 more may not go either');
    expect(await stateOf(plant, 'motor', good)).toBe('passed');
    await refused(plant, 'serial-unknown', () => release([good, 'NOBODY1']));
    expect(await stateOf(plant, 'motor', good)).toBe('passed');
  });

  it('is shut by a hold on a component inside, and opens when that is lifted', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    const set = { powerhead, lowerUnit: await enter(plant, 'lower-unit'), station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', {
      ...set,
      order: await order(plant),
    });
    await runMotor(plant, motor);
    const id = await hold(plant, 'fuel-pump', pump);
    const { reasons } = await gate(motor);
    expect(reasons).toEqual([
      { code: 'on-hold', detail: `${pump} is on hold (quality): To be looked at` },
    ]);
    await refused(plant, 'not-releasable', () => release([motor]));
    await plant.make('quality', `/v1/holds/${id}/lift`, { reason: 'Lot is sound' });
    expect((await release([motor])).status).toBe(201);
  });

  it('does not mind a hold on a part that was taken out of the motor', async () => {
    const { motor, repair, lowerUnit } = await failedMotor(plant);
    await hold(plant, 'lower-unit', lowerUnit);
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
      parentClass: 'motor',
      parent: motor,
      position: 'lower-unit',
      removed: lowerUnit,
      fitted: { class: 'lower-unit', serial: await enter(plant, 'lower-unit') },
    });
    await closeRepair(plant, repair);
    await runMotor(plant, motor);
    expect(await gate(motor)).toMatchObject({ releasable: true });
  });

  it('is asked with a motor’s serial, and opened by quality only', async () => {
    const { motor, powerhead } = await passedMotor();
    await refused(plant, 'wrong-class', () =>
      plant.get('read', `/v1/release-gate?motor=${powerhead}`),
    );
    await refused(plant, 'serial-unknown', () => plant.get('read', '/v1/release-gate?motor=T9'));
    for (const role of ['set', 'cell', 'repair', 'configuration', 'read']) {
      await refused(plant, 'forbidden', () => release([motor], role));
    }
    await refused(plant, 'request-invalid', () => release([]));
    await refused(plant, 'wrong-class', () => release([powerhead]));
  });
});
