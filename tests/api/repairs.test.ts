import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
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

const closure = { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' };

describe('a repair', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const close = (repair: number, body: object = closure, as = 'repair') =>
    plant.post(as, `/v1/repairs/${repair}/closure`, body);
  const open = (motor: string, as = 'repair') =>
    plant.post(as, '/v1/repairs', { motor, complaint: 'Paint scratched in transit' });

  it('is opened by a failed run and names what failed', async () => {
    const { motor, repair } = await failedMotor(plant);
    expect(await stateOf(plant, 'motor', motor)).toBe('in-repair');
    const read = await plant.get('read', `/v1/repairs/${repair}`);
    expect(read.body).toMatchObject({
      motor,
      complaint: 'Failed the hot test: water-pressure',
      closedAt: null,
      closedBy: null,
      outcome: null,
      exchanges: [],
    });
    expect(read.body.run).toBeGreaterThan(0);
  });

  it('is closed with symptom, cause, action and a note, and the motor waits for its test', async () => {
    const { motor, repair } = await failedMotor(plant);
    plant.wait(60_000);
    const body = { ...closure, note: 'Vane bent, housing sound', station: 'REP-1' };
    const done = await close(repair, body);
    expect(done.status).toBe(200);
    const kept = {
      ...closure,
      note: 'Vane bent, housing sound',
      outcome: 'repaired',
      closedBy: 'repair key',
      closedAt: new Date(plant.now).toISOString(),
    };
    expect((await plant.get('read', `/v1/repairs/${repair}`)).body).toMatchObject(kept);
    expect(await stateOf(plant, 'motor', motor)).toBe('awaiting-test');
    expect(await runMotor(plant, motor)).toMatchObject({ verdict: 'pass', attempt: 2 });
  });

  it.each([
    ['symptom', { ...closure, symptom: 'noisy' }],
    ['cause', { ...closure, cause: 'low-pressure' }],
    ['action', { ...closure, action: 'impeller' }],
  ])('is not closed with a %s that the catalogue does not have', async (kind, body) => {
    const { motor, repair } = await failedMotor(plant);
    const problem = await refused(plant, 'repair-code-unknown', () => close(repair, body));
    expect(problem.kind).toBe(kind);
    expect(await stateOf(plant, 'motor', motor)).toBe('in-repair');
  });

  it('is not closed without its codes, nor with an unknown member', async () => {
    const { repair } = await failedMotor(plant);
    const { cause: _cause, ...withoutCause } = closure;
    await refused(plant, 'request-invalid', () => close(repair, withoutCause));
    await refused(plant, 'request-invalid', () => close(repair, { ...closure, hours: 2 }));
  });

  it('is closed once', async () => {
    const { repair } = await failedMotor(plant);
    await close(repair);
    const problem = await refused(plant, 'repair-closed', () => close(repair));
    expect(problem.outcome).toBe('repaired');
    await refused(plant, 'repair-unknown', () => close(9999));
  });

  it('is closed by the role of repair only', async () => {
    const { repair } = await failedMotor(plant);
    for (const role of ['set', 'cell', 'quality', 'read']) {
      await refused(plant, 'forbidden', () => close(repair, closure, role));
    }
  });

  it('opens again with the next failure, as a repair of its own', async () => {
    const { motor, repair } = await failedMotor(plant);
    await closeRepair(plant, repair);
    const second = await runMotor(plant, motor, failing);
    expect(second.repair).not.toBe(repair);
    const history = await plant.get('read', `/v1/history?serial=${motor}`);
    expect(history.body.repairs).toMatchObject([
      { id: repair, outcome: 'repaired' },
      { id: second.repair, outcome: null },
    ]);
  });

  it('is opened for a nonconformance on a motor that waits or has passed', async () => {
    const waiting = (await setMotor(plant)).motor;
    const opened = await open(waiting);
    expect(opened.status).toBe(201);
    expect(opened.headers.location).toBe(`/v1/repairs/${opened.body.id}`);
    expect(opened.body).toMatchObject({ run: null, complaint: 'Paint scratched in transit' });
    const passed = (await setMotor(plant)).motor;
    await runMotor(plant, passed);
    expect((await open(passed, 'quality')).status).toBe(201);
    for (const motor of [waiting, passed]) {
      expect(await stateOf(plant, 'motor', motor)).toBe('in-repair');
    }
  });

  it('takes the first pass from a motor that was repaired before its first run', async () => {
    const { motor } = await setMotor(plant);
    await closeRepair(plant, (await open(motor)).body.id);
    expect(await runMotor(plant, motor)).toMatchObject({
      verdict: 'pass',
      attempt: 1,
      firstPass: false,
    });
  });

  it('leaves the first pass to a motor in which no fault was found before its first run', async () => {
    const { motor } = await setMotor(plant);
    await open(motor);
    await plant.make('quality', '/v1/retests', { motor, reason: 'It was a reflection' });
    expect(await runMotor(plant, motor)).toMatchObject({ attempt: 1, firstPass: true });
  });

  it('is not opened for a motor in test, in repair, released, torn down or scrapped', async () => {
    const inTest = (await setMotor(plant)).motor;
    await openRun(plant, inTest);
    const inRepair = (await failedMotor(plant)).motor;
    const released = (await setMotor(plant)).motor;
    await runMotor(plant, released);
    await plant.make('quality', '/v1/releases', { motors: [released] });
    const tornDown = (await setMotor(plant)).motor;
    await plant.make('quality', '/v1/teardowns', { motor: tornDown, reason: 'Wrong order' });
    const scrapped = (await failedMotor(plant)).motor;
    const scrap = { class: 'motor', unit: scrapped, kind: 'scrap', reason: 'Cracked block' };
    await plant.make('quality', '/v1/dispositions', scrap);
    const states = [
      [inTest, 'in-test'],
      [inRepair, 'in-repair'],
      [released, 'released'],
      [tornDown, 'torn-down'],
      [scrapped, 'scrapped'],
    ] as const;
    for (const [motor, state] of states) {
      expect((await refused(plant, 'motor-state', () => open(motor))).state).toBe(state);
    }
  });

  it('is not opened for a half or an unknown motor, nor by a cell', async () => {
    const powerhead = await enter(plant, 'powerhead');
    await refused(plant, 'wrong-class', () => open(powerhead));
    await refused(plant, 'serial-unknown', () => open('NOBODY1'));
    const { motor } = await setMotor(plant);
    await refused(plant, 'forbidden', () => open(motor, 'cell'));
  });

  it('ends as torn down with its motor', async () => {
    const { motor, repair, powerhead } = await failedMotor(plant);
    await plant.make('repair', '/v1/teardowns', { motor, reason: 'Not worth it' });
    expect((await plant.get('read', `/v1/repairs/${repair}`)).body.outcome).toBe('torn-down');
    await refused(plant, 'repair-closed', () => close(repair));
    expect(await stateOf(plant, 'powerhead', powerhead)).toBe('accepted');
  });

  it('stands in the list of open repairs until it is closed', async () => {
    const { repair } = await failedMotor(plant);
    const ids = async (query: string) => {
      const answer = await plant.get('read', `/v1/repairs?${query}&limit=1000`);
      return answer.body.items.map((one: { id: number }) => one.id) as number[];
    };
    expect(await ids('open=true')).toContain(repair);
    expect(await ids('open=false')).not.toContain(repair);
    await close(repair);
    expect(await ids('open=true')).not.toContain(repair);
    expect(await ids('open=false')).toContain(repair);
  });
});
