import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  furnish,
  openRun,
  refused,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';

describe('a disposition', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const dispose = (kind: string, unit: string, unitClass = 'motor', as = 'quality') =>
    plant.post(as, '/v1/dispositions', {
      class: unitClass,
      unit,
      kind,
      reason: 'As the board says',
    });
  const gate = async (motor: string) =>
    (await plant.get('read', `/v1/release-gate?motor=${motor}`)).body;
  const orderOf = async (number: string) => (await plant.get('read', `/v1/orders/${number}`)).body;

  describe('to scrap', () => {
    it('ends the motor and gives its place in the order back', async () => {
      const made = await failedMotor(plant);
      expect((await orderOf(made.order)).set).toBe(1);
      expect((await dispose('scrap', made.motor)).body).toMatchObject({ state: 'scrapped' });
      expect((await orderOf(made.order)).set).toBe(0);
      expect((await plant.get('read', `/v1/repairs/${made.repair}`)).body).toMatchObject({
        outcome: 'scrapped',
        note: 'As the board says',
        closedBy: 'quality key',
      });
      expect((await gate(made.motor)).reasons.map((one: { code: string }) => one.code)).toEqual([
        'scrapped',
      ]);
      const again = await plant.post('set', '/v1/sets', {
        powerhead: await enter(plant, 'powerhead'),
        lowerUnit: await enter(plant, 'lower-unit'),
        order: made.order,
        station: 'SET-1',
      });
      expect(again.status).toBe(201);
    });

    it('keeps the halves of a scrapped motor where they are: neither is set or exchanged again', async () => {
      const made = await failedMotor(plant);
      await dispose('scrap', made.motor);
      const next = await failedMotor(plant);
      const exchange = {
        parentClass: 'motor',
        parent: next.motor,
        position: 'powerhead',
        removed: next.powerhead,
        fitted: { class: 'powerhead', serial: made.powerhead },
      };
      await refused(plant, 'already-installed', () =>
        plant.post('repair', `/v1/repairs/${next.repair}/exchanges`, exchange),
      );
    });

    it.each(['awaiting-test', 'passed'])('ends a motor that is %s', async (state) => {
      const { motor } = await setMotor(plant);
      if (state === 'passed') await runMotor(plant, motor);
      expect((await dispose('scrap', motor)).body.state).toBe('scrapped');
    });

    it('is refused in test, after release, after teardown, and a second time', async () => {
      const inTest = (await setMotor(plant)).motor;
      await openRun(plant, inTest);
      const released = (await setMotor(plant)).motor;
      await runMotor(plant, released);
      await plant.make('quality', '/v1/releases', { motors: [released] });
      const tornDown = (await setMotor(plant)).motor;
      await plant.make('quality', '/v1/teardowns', { motor: tornDown, reason: 'Wrong order' });
      const scrapped = (await setMotor(plant)).motor;
      await dispose('scrap', scrapped);
      const states = [
        [inTest, 'in-test'],
        [released, 'released'],
        [tornDown, 'torn-down'],
        [scrapped, 'scrapped'],
      ] as const;
      for (const [motor, state] of states) {
        const problem = await refused(plant, 'disposition-not-possible', () =>
          dispose('scrap', motor),
        );
        expect(problem.state).toBe(state);
      }
    });

    it('ends a loose part, and is refused for one that is installed', async () => {
      const { powerhead } = await setMotor(plant);
      const problem = await refused(plant, 'disposition-not-possible', () =>
        dispose('scrap', powerhead, 'powerhead'),
      );
      expect(problem.state).toBe('installed');
      const loose = await enter(plant, 'powerhead');
      expect((await dispose('scrap', loose, 'powerhead')).body.state).toBe('scrapped');
    });
  });

  describe('of concession', () => {
    it('makes a failed motor releasable and leaves first-pass yield as it was', async () => {
      const made = await failedMotor(plant);
      const before = await plant.get('read', '/v1/yield/first-pass');
      const done = await dispose('concession', made.motor);
      expect(done.body.state).toBe('passed');
      expect((await plant.get('read', `/v1/repairs/${made.repair}`)).body).toMatchObject({
        outcome: 'concession',
        note: 'As the board says',
      });
      expect((await plant.get('read', '/v1/yield/first-pass')).body).toEqual(before.body);
      expect(await gate(made.motor)).toEqual({
        motor: made.motor,
        releasable: true,
        reasons: [],
      });
      const released = await plant.post('quality', '/v1/releases', { motors: [made.motor] });
      expect(released.status).toBe(201);
      const history = await plant.get('read', `/v1/history?serial=${made.motor}`);
      expect(history.body.runs).toMatchObject([{ verdict: 'fail', firstPass: false }]);
    });

    it('accepts that one run: a later failure is not accepted with it', async () => {
      const made = await failedMotor(plant);
      await dispose('concession', made.motor);
      await plant.make('quality', '/v1/retests', { motor: made.motor, reason: 'Customer asks' });
      const codes = async () =>
        (await gate(made.motor)).reasons.map((one: { code: string }) => one.code);
      expect(await codes()).toEqual(['retest-due']);
      await runMotor(plant, made.motor, [
        { code: 'idle-speed', value: 900 },
        { code: 'water-pressure', value: 100 },
        { code: 'telltale', value: true },
      ]);
      expect(await codes()).toEqual(['last-run-failed', 'repair-open']);
    });

    it('is refused without a failed test behind it', async () => {
      const passed = (await setMotor(plant)).motor;
      await runMotor(plant, passed);
      await refused(plant, 'disposition-not-possible', () => dispose('concession', passed));
      const nonconforming = (await setMotor(plant)).motor;
      await plant.make('repair', '/v1/repairs', { motor: nonconforming, complaint: 'Scratch' });
      const problem = await refused(plant, 'disposition-not-possible', () =>
        dispose('concession', nonconforming),
      );
      expect(problem.detail).toContain('not opened by a failed test');
      const part = await enter(plant, 'powerhead');
      await refused(plant, 'disposition-not-possible', () =>
        dispose('concession', part, 'powerhead'),
      );
    });

    it('is refused once parts were exchanged, or the repair was closed', async () => {
      const exchanged = await failedMotor(plant);
      await plant.make('repair', `/v1/repairs/${exchanged.repair}/exchanges`, {
        parentClass: 'motor',
        parent: exchanged.motor,
        position: 'lower-unit',
        removed: exchanged.lowerUnit,
        fitted: { class: 'lower-unit', serial: await enter(plant, 'lower-unit') },
      });
      const problem = await refused(plant, 'disposition-not-possible', () =>
        dispose('concession', exchanged.motor),
      );
      expect(problem.detail).toContain('parts were exchanged');
      const repaired = await failedMotor(plant);
      await closeRepair(plant, repaired.repair);
      await refused(plant, 'disposition-not-possible', () => dispose('concession', repaired.motor));
    });
  });

  describe('to rework', () => {
    it('is for a rejected part, which its inspection then accepts', async () => {
      const part = await enter(plant, 'lower-unit', { inspection: { result: 'rejected' } });
      expect((await dispose('rework', part, 'lower-unit')).body.state).toBe('rejected');
      const body = { class: 'lower-unit', unit: part, result: 'accepted' };
      await plant.make('quality', '/v1/inspections', body);
      expect(await stateOf(plant, 'lower-unit', part)).toBe('accepted');
    });

    it('is refused for an accepted part and for a motor', async () => {
      const part = await enter(plant, 'lower-unit');
      await refused(plant, 'disposition-not-possible', () => dispose('rework', part, 'lower-unit'));
      const { motor } = await failedMotor(plant);
      await refused(plant, 'disposition-not-possible', () => dispose('rework', motor));
    });
  });

  it('is for quality to decide, with a reason', async () => {
    const { motor } = await failedMotor(plant);
    for (const role of ['repair', 'cell', 'set', 'configuration', 'read']) {
      await refused(plant, 'forbidden', () => dispose('scrap', motor, 'motor', role));
    }
    const body = { class: 'motor', unit: motor, kind: 'scrap' };
    await refused(plant, 'request-invalid', () => plant.post('quality', '/v1/dispositions', body));
    await refused(plant, 'request-invalid', () => dispose('ship', motor));
    expect(await stateOf(plant, 'motor', motor)).toBe('in-repair');
  });
});
