import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hasValidMod37_36CheckCharacter } from '../../src/scan/check-character.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, order, setMotor } from '../support/scenario.js';

const DAY = 86_400_000;

describe('motor serials', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  // The test plant's format: T, two digits of the year, six of the running number.
  const numberOf = (motor: string) => Number(motor.slice(3, 9));

  it('count up one by one, each with its ISO/IEC 7064 MOD 37,36 check character', async () => {
    const motors: string[] = [];
    for (let i = 0; i < 5; i += 1) motors.push((await setMotor(plant)).motor);
    expect(motors.map(numberOf)).toEqual([1, 2, 3, 4, 5]);
    for (const motor of motors) {
      expect(motor).toMatch(/^T26\d{6}[0-9A-Z]$/);
      expect(hasValidMod37_36CheckCharacter(motor)).toBe(true);
    }
  });

  it('are not used up by refused sets, nor by dry checks', async () => {
    const { motor } = await setMotor(plant);
    const lowerUnit = await enter(plant, 'lower-unit');
    for (let i = 0; i < 3; i += 1) {
      await plant.post('set', '/v1/sets', { powerhead: 'P-GHOST', lowerUnit, station: 'SET-1' });
      await plant.get('read', `/v1/sets/check?powerhead=P-GHOST&lowerUnit=${lowerUnit}`);
    }
    expect(numberOf((await setMotor(plant)).motor)).toBe(numberOf(motor) + 1);
  });

  it('are never issued again after a teardown, though the same halves are set again', async () => {
    const first = await setMotor(plant);
    await plant.make('repair', '/v1/teardowns', { motor: first.motor, reason: 'Wrong order' });
    const again = await plant.post('set', '/v1/sets', {
      powerhead: first.powerhead,
      lowerUnit: first.lowerUnit,
      order: first.order,
      station: 'SET-1',
    });
    expect(again.status).toBe(201);
    expect(numberOf(again.body.motor)).toBe(numberOf(first.motor) + 1);
    const known = await plant.get('read', `/v1/history?serial=${first.motor}`);
    expect(known.body.unit).toMatchObject({ serial: first.motor, state: 'torn-down' });
  });

  it('carry the new year from its first moment on and count on across it', async () => {
    const newYear = Date.UTC(2027, 0, 1);
    const number = await order(plant, 2);
    const upper = [await enter(plant, 'powerhead'), await enter(plant, 'powerhead')];
    const lower = [await enter(plant, 'lower-unit'), await enter(plant, 'lower-unit')];
    const set = async (i: number) => {
      const body = { powerhead: upper[i], lowerUnit: lower[i], order: number, station: 'SET-1' };
      return (await plant.make<{ motor: string }>('set', '/v1/sets', body)).motor;
    };
    plant.wait(newYear - plant.now - 1);
    const last = await set(0);
    plant.wait(1);
    const first = await set(1);
    expect([last.slice(0, 3), first.slice(0, 3)]).toEqual(['T26', 'T27']);
    expect(numberOf(first)).toBe(numberOf(last) + 1);
    plant.wait(DAY);
  });

  it('mistyped in one character are told from unknown ones', async () => {
    const { motor } = await setMotor(plant);
    const mistyped = `${motor.slice(0, -2)}${motor.at(-2) === '0' ? '1' : '0'}${motor.at(-1)}`;
    const body = { motor: mistyped, reason: 'Wrong order' };
    const answer = await plant.post('repair', '/v1/teardowns', body);
    expect(answer.body).toMatchObject({
      type: '/problems/serial-unknown',
      detail: `No motor has the serial ${mistyped}. Its check character is wrong, so it was probably mistyped.`,
    });
  });
});
