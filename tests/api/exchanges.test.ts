import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  hold,
  order,
  refused,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';

interface Failed {
  motor: string;
  powerhead: string;
  lowerUnit: string;
  pump: string;
  repair: number;
}

describe('an exchange in a repair', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('configuration', '/v1/part-classes', { code: 'starter', name: 'Starter' });
    const serial = { revision: 'A', tracking: 'serial' };
    const starter = { ...serial, number: 'ST-1', name: 'Starter', class: 'starter' };
    await plant.make('configuration', '/v1/parts', starter);
    const other = { ...serial, number: 'PH-150', name: 'Powerhead 150', class: 'powerhead' };
    await plant.make('configuration', '/v1/parts', other);
  });
  afterAll(() => plant.stop());

  /** A motor with a fuel pump in its powerhead that failed its first run. */
  const failed = async (): Promise<Failed> => {
    const pump = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
    });
    const lowerUnit = await enter(plant, 'lower-unit');
    plant.wait(1000);
    const set = { powerhead, lowerUnit, order: await order(plant), station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', set);
    plant.wait(1000);
    const { repair } = await runMotor(plant, motor, failing);
    plant.wait(1000);
    return { motor, powerhead, lowerUnit, pump, repair: repair ?? 0 };
  };
  const exchange = (repair: number, body: object, as = 'repair') =>
    plant.post(as, `/v1/repairs/${repair}/exchanges`, body);
  const ofPump = (at: Failed, fitted?: string) => ({
    parentClass: 'powerhead',
    parent: at.powerhead,
    position: 'fuel-pump',
    removed: at.pump,
    ...(fitted === undefined ? {} : { fitted: { class: 'fuel-pump', serial: fitted } }),
  });
  const ofHalf = (at: Failed, half: 'powerhead' | 'lower-unit', fitted?: string) => ({
    parentClass: 'motor',
    parent: at.motor,
    position: half,
    removed: half === 'powerhead' ? at.powerhead : at.lowerUnit,
    ...(fitted === undefined ? {} : { fitted: { class: half, serial: fitted } }),
  });
  const treeOf = async (serial: string) => {
    const answer = await plant.get('read', `/v1/history?serial=${serial}`);
    return answer.body.tree.map((one: { serial: string }) => one.serial) as string[];
  };

  it('replaces a component: the old one is out and rejected, the new one is in', async () => {
    const at = await failed();
    const fitted = await enter(plant, 'fuel-pump');
    const done = await exchange(at.repair, ofPump(at, fitted));
    expect(done.status).toBe(201);
    expect(done.body.exchanges).toMatchObject([
      { position: 'fuel-pump', parent: at.powerhead, removed: at.pump, fitted },
    ]);
    expect(await treeOf(at.motor)).toEqual([at.motor, at.lowerUnit, at.powerhead, fitted]);
    expect(await treeOf(at.pump)).toEqual([at.pump]);
    expect(await stateOf(plant, 'fuel-pump', at.pump)).toBe('rejected');
    expect(await stateOf(plant, 'fuel-pump', fitted)).toBe('installed');
    await closeRepair(plant, at.repair);
    expect(await runMotor(plant, at.motor)).toMatchObject({ verdict: 'pass', attempt: 2 });
  });

  it('leaves the removed part accepted where the technician says so', async () => {
    const at = await failed();
    await exchange(at.repair, { ...ofPump(at), removedAs: 'accepted' });
    expect(await stateOf(plant, 'fuel-pump', at.pump)).toBe('accepted');
    const empty = { parentClass: 'powerhead', parent: at.powerhead, position: 'fuel-pump' };
    const back = { ...empty, fitted: { class: 'fuel-pump', serial: at.pump } };
    expect((await exchange(at.repair, back)).status).toBe(201);
    expect(await treeOf(at.pump)).toContain(at.motor);
  });

  it('replaces a half by another that the configuration takes', async () => {
    const at = await failed();
    const part = { number: 'PH-100', revision: 'B' };
    const fitted = await enter(plant, 'powerhead', { part });
    expect((await exchange(at.repair, ofHalf(at, 'powerhead', fitted))).status).toBe(201);
    expect(await treeOf(at.motor)).toEqual([at.motor, at.lowerUnit, fitted]);
    expect(await treeOf(at.pump)).toEqual([at.powerhead, at.pump]);
    expect(await stateOf(plant, 'powerhead', at.powerhead)).toBe('rejected');
  });

  it('keeps a motor with an empty half in repair until the half is filled', async () => {
    const at = await failed();
    await exchange(at.repair, ofHalf(at, 'lower-unit'));
    const closure = { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' };
    const close = () => plant.post('repair', `/v1/repairs/${at.repair}/closure`, closure);
    const problem = await refused(plant, 'motor-state', close);
    expect(problem.detail).toContain('no lower unit');
    const teardown = { motor: at.motor, reason: 'Give it up' };
    await refused(plant, 'motor-state', () => plant.post('quality', '/v1/teardowns', teardown));
    const { removed: _removed, ...body } = ofHalf(
      at,
      'lower-unit',
      await enter(plant, 'lower-unit'),
    );
    expect((await exchange(at.repair, body)).status).toBe(201);
    expect((await close()).status).toBe(200);
  });

  it('takes no half of a part that the motor’s configuration does not name', async () => {
    const at = await failed();
    const part = { number: 'PH-150', revision: 'A' };
    const fitted = await enter(plant, 'powerhead', { part });
    const problem = await refused(plant, 'no-configuration', () =>
      exchange(at.repair, ofHalf(at, 'powerhead', fitted)),
    );
    expect(problem.detail).toContain('takes PH-100, not PH-150 revision A');
    expect(await treeOf(at.motor)).toContain(at.powerhead);
  });

  it('takes no half whose attribute differs from the motor’s', async () => {
    const at = await failed();
    // The part LU-20 says 508 mm; a colour that the motor does not have decides nothing.
    const blue = await enter(plant, 'lower-unit', { attributes: { colour: 'blue' } });
    expect((await exchange(at.repair, ofHalf(at, 'lower-unit', blue))).status).toBe(201);
    const short = await enter(plant, 'powerhead', { attributes: { shaftLength: '381 mm' } });
    const problem = await refused(plant, 'attribute-conflict', () =>
      exchange(at.repair, ofHalf(at, 'powerhead', short)),
    );
    expect(problem).toMatchObject({
      attribute: 'shaftLength',
      wanted: '508 mm',
      found: '381 mm',
    });
  });

  it('takes no half whose attribute differs from the other half’s', async () => {
    const powerhead = await enter(plant, 'powerhead', { attributes: { rotation: 'right' } });
    const lowerUnit = await enter(plant, 'lower-unit', { attributes: { rotation: 'right' } });
    const set = { powerhead, lowerUnit, order: await order(plant), station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', set);
    const { repair } = await runMotor(plant, motor, failing);
    const left = await enter(plant, 'lower-unit', { attributes: { rotation: 'left' } });
    const body = { parentClass: 'motor', parent: motor, position: 'lower-unit' };
    const fitted = { class: 'lower-unit', serial: left };
    const problem = await refused(plant, 'attribute-conflict', () =>
      exchange(repair ?? 0, { ...body, removed: lowerUnit, fitted }),
    );
    expect(problem).toMatchObject({ attribute: 'rotation', wanted: 'right', found: 'left' });
  });

  it('takes nothing of another class: not for a half, not for a component', async () => {
    const at = await failed();
    const lowerUnit = { class: 'lower-unit', serial: await enter(plant, 'lower-unit') };
    const powerhead = { class: 'powerhead', serial: await enter(plant, 'powerhead') };
    const starter = await plant.make<{ serial: string }>('set', '/v1/units', {
      class: 'starter',
      serial: 'S00001',
      part: { number: 'ST-1', revision: 'A' },
      inspection: { result: 'accepted' },
    });
    const other = await setMotor(plant);
    const motor = { class: 'motor', serial: other.motor };
    const tries: [object, string][] = [
      [{ ...ofHalf(at, 'powerhead'), fitted: lowerUnit }, 'powerhead'],
      [{ ...ofHalf(at, 'lower-unit'), fitted: motor }, 'lower-unit'],
      [{ ...ofPump(at), fitted: { class: 'starter', serial: starter.serial } }, 'fuel-pump'],
      [{ ...ofPump(at), fitted: powerhead }, 'fuel-pump'],
    ];
    for (const [body, expectedClass] of tries) {
      const problem = await refused(plant, 'wrong-class', () => exchange(at.repair, body));
      expect(problem.expectedClass).toBe(expectedClass);
    }
    const spare = { parentClass: 'motor', parent: at.motor, position: 'spare' };
    await refused(plant, 'wrong-class', () => exchange(at.repair, { ...spare, fitted: powerhead }));
    expect(await treeOf(at.motor)).toEqual([at.motor, at.lowerUnit, at.powerhead, at.pump]);
  });

  it('takes nothing installed, rejected, scrapped, on hold or unknown', async () => {
    const at = await failed();
    const elsewhere = await failed();
    const installed = await refused(plant, 'already-installed', () =>
      exchange(at.repair, ofPump(at, elsewhere.pump)),
    );
    expect(installed).toMatchObject({ parentSerial: elsewhere.powerhead });
    const bad = await enter(plant, 'fuel-pump', { inspection: { result: 'rejected' } });
    await refused(plant, 'not-accepted', () => exchange(at.repair, ofPump(at, bad)));
    const scrap = { class: 'fuel-pump', unit: bad, kind: 'scrap', reason: 'Leaks' };
    await plant.make('quality', '/v1/dispositions', scrap);
    await refused(plant, 'scrapped', () => exchange(at.repair, ofPump(at, bad)));
    const held = await enter(plant, 'fuel-pump');
    await hold(plant, 'fuel-pump', held);
    await refused(plant, 'on-hold', () => exchange(at.repair, ofPump(at, held)));
    await refused(plant, 'serial-unknown', () => exchange(at.repair, ofPump(at, 'NOBODY1')));
    expect(await stateOf(plant, 'fuel-pump', at.pump)).toBe('installed');
  });

  it('names the place truly: the occupant, a filled or empty position, the motor’s own parts', async () => {
    const at = await failed();
    const elsewhere = await failed();
    const fresh = await enter(plant, 'fuel-pump');
    const wrong = await refused(plant, 'unit-invalid', () =>
      exchange(at.repair, { ...ofPump(at, fresh), removed: elsewhere.pump }),
    );
    expect(wrong.occupant).toBe(at.pump);
    const { removed: _removed, ...fitOnly } = ofPump(at, fresh);
    const full = await refused(plant, 'position-occupied', () => exchange(at.repair, fitOnly));
    expect(full.occupant).toBe(at.pump);
    await refused(plant, 'unit-invalid', () =>
      exchange(at.repair, { ...ofPump(at), position: 'fuel-pump-2' }),
    );
    await refused(plant, 'unit-invalid', () => exchange(at.repair, ofPump(elsewhere, fresh)));
    await refused(plant, 'unit-invalid', () => exchange(at.repair, ofHalf(elsewhere, 'powerhead')));
  });

  it('nests no deeper than eight levels, also where a part comes out for it', async () => {
    const at = await failed();
    // Seven pumps in one another: with the powerhead and the motor above, one too many.
    let outermost = await enter(plant, 'fuel-pump');
    for (let level = 2; level <= 7; level += 1) {
      outermost = await enter(plant, 'fuel-pump', {
        components: [{ class: 'fuel-pump', serial: outermost, position: 'inner' }],
      });
    }
    await refused(plant, 'installation-depth', () => exchange(at.repair, ofPump(at, outermost)));
    expect(await treeOf(at.pump)).toContain(at.motor);
  });

  it('asks for something to come out or go in, in an open repair, from the technician', async () => {
    const at = await failed();
    const { removed: _removed, ...nothing } = ofPump(at);
    await refused(plant, 'request-invalid', () => exchange(at.repair, nothing));
    await refused(plant, 'forbidden', () => exchange(at.repair, ofPump(at), 'quality'));
    await refused(plant, 'repair-unknown', () => exchange(9999, ofPump(at)));
    await closeRepair(plant, at.repair);
    await refused(plant, 'repair-closed', () => exchange(at.repair, ofPump(at)));
  });

  it('may give back a removed part after rework and inspection', async () => {
    const { repair, motor, lowerUnit } = await failedMotor(plant);
    const body = { parentClass: 'motor', parent: motor, position: 'lower-unit' };
    const out = { ...body, removed: lowerUnit };
    expect((await exchange(repair, out)).status).toBe(201);
    const back = { ...body, fitted: { class: 'lower-unit', serial: lowerUnit } };
    await refused(plant, 'not-accepted', () => exchange(repair, back));
    const rework = { class: 'lower-unit', unit: lowerUnit, kind: 'rework', reason: 'Repaint' };
    await plant.make('quality', '/v1/dispositions', rework);
    await refused(plant, 'not-accepted', () => exchange(repair, back));
    const inspection = { class: 'lower-unit', unit: lowerUnit, result: 'accepted' };
    await plant.make('quality', '/v1/inspections', inspection);
    expect((await exchange(repair, back)).status).toBe(201);
    await closeRepair(plant, repair);
  });
});
