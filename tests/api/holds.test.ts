import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { checkAddress } from '../support/refused-set.js';
import { enter, furnish, hold, order, refused, setMotor } from '../support/scenario.js';

describe('a hold', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 9);
  });
  afterAll(() => plant.stop());

  const lift = (id: number, reason = 'Looked at, fine') =>
    plant.post('quality', `/v1/holds/${id}/lift`, { reason });
  const onHold = async (serial: string) => {
    const items = (await plant.get('read', '/v1/units?onHold=true&limit=1000')).body.items;
    return items.some((unit: { serial: string }) => unit.serial === serial);
  };

  it('says what, why, when and by whom, and so does its lifting', async () => {
    const unit = await enter(plant, 'lower-unit');
    const placed = await plant.post('set', '/v1/holds', {
      class: 'lower-unit',
      unit,
      cause: 'paint',
      reason: 'Orange peel',
      station: 'SET-1',
    });
    expect(placed.status).toBe(201);
    const expected = {
      class: 'lower-unit',
      serial: unit,
      cause: 'paint',
      reason: 'Orange peel',
      placedAt: iso(plant.now),
      placedBy: 'set key',
    };
    expect(placed.body).toMatchObject({ ...expected, liftedAt: null, liftedBy: null });
    expect(await onHold(unit)).toBe(true);
    plant.wait(1000);
    const lifted = await lift(placed.body.id);
    expect(lifted.body).toMatchObject({
      ...expected,
      liftedAt: iso(plant.now),
      liftedBy: 'quality key',
      liftReason: 'Looked at, fine',
    });
    expect(await onHold(unit)).toBe(false);
    const history = await plant.get('read', `/v1/history?serial=${unit}`);
    expect(history.body.holds).toEqual([lifted.body]);
    expect(history.body.timeline.map((one: { kind: string }) => one.kind)).toEqual([
      'unit.entered',
      'unit.held',
      'unit.hold-lifted',
    ]);
  });

  it('is one of several: the unit is free when none is left', async () => {
    const lowerUnit = await enter(plant, 'lower-unit');
    const scans = { powerhead: await enter(plant, 'powerhead'), lowerUnit };
    const first = await hold(plant, 'lower-unit', lowerUnit);
    const second = await hold(plant, 'lower-unit', lowerUnit);
    await lift(first);
    const between = await plant.get('read', checkAddress(scans));
    expect(between.body).toMatchObject({ type: '/problems/on-hold', hold: second });
    await lift(second);
    expect((await plant.get('read', checkAddress(scans))).body).toMatchObject({ wouldSet: true });
  });

  it('is lifted once, by quality, and only if it exists', async () => {
    const unit = await enter(plant, 'lower-unit');
    const id = await hold(plant, 'lower-unit', unit);
    await refused(plant, 'forbidden', () =>
      plant.post('set', `/v1/holds/${id}/lift`, { reason: 'I need it' }),
    );
    await lift(id);
    const again = await refused(plant, 'hold-lifted', () => lift(id));
    expect(again.detail).toBe(`Hold ${id} was lifted by quality key.`);
    await refused(plant, 'hold-unknown', () => lift(999_999));
  });

  it('stays on a unit through rejection and acceptance: inspecting lifts nothing', async () => {
    const unit = await enter(plant, 'lower-unit');
    await hold(plant, 'lower-unit', unit);
    for (const result of ['rejected', 'accepted']) {
      await plant.make('set', '/v1/inspections', { class: 'lower-unit', unit, result });
      expect(await onHold(unit)).toBe(true);
    }
  });

  it('on a component stops the release of its motor, which is not on hold itself', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const made = await setMotor(plant);
    await plant.make('set', '/v1/installations', {
      parentClass: 'powerhead',
      parent: made.powerhead,
      position: 'fuel-pump',
      childClass: 'fuel-pump',
      child: pump,
    });
    await hold(plant, 'fuel-pump', pump);
    const gate = await plant.get('read', `/v1/release-gate?motor=${made.motor}`);
    expect(gate.body.reasons.map((one: { code: string }) => one.code)).toContain('on-hold');
    expect(await onHold(made.motor)).toBe(false);
    expect(await onHold(pump)).toBe(true);
  });

  it('is not placed on a scrapped unit, and not on an unknown one', async () => {
    const unit = await enter(plant, 'lower-unit');
    await plant.make('quality', '/v1/dispositions', {
      class: 'lower-unit',
      unit,
      kind: 'scrap',
      reason: 'Dropped',
    });
    const body = { class: 'lower-unit', unit, cause: 'paint', reason: 'Orange peel' };
    await refused(plant, 'scrapped', () => plant.post('set', '/v1/holds', body));
    await refused(plant, 'serial-unknown', () =>
      plant.post('set', '/v1/holds', { ...body, unit: 'L-GHOST' }),
    );
    await refused(plant, 'forbidden', () => plant.post('read', '/v1/holds', body));
  });

  it('is listed while open, and after', async () => {
    const unit = await enter(plant, 'lower-unit');
    const id = await hold(plant, 'lower-unit', unit);
    const ids = async (query: string) =>
      (await plant.get('read', `/v1/holds?limit=1000${query}`)).body.items.map(
        (one: { id: number }) => one.id,
      );
    expect(await ids('&open=true')).toContain(id);
    await lift(id);
    expect(await ids('&open=true')).not.toContain(id);
    expect(await ids('&open=false')).toContain(id);
    expect(await ids('')).toContain(id);
  });
});
