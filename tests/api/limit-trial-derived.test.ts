import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, runMotor, setMotor, specify } from '../support/scenario.js';

const power = { kind: 'measured', code: 'power', name: 'Power', unit: 'kW' };
const pressure = { kind: 'measured', code: 'air-pressure', name: 'Dry air pressure', unit: 'kPa' };
const temperature = { kind: 'measured', code: 'air', name: 'Air temperature', unit: 'Cel' };
const corrected = {
  kind: 'derived',
  code: 'corrected-power',
  name: 'Corrected power',
  unit: 'kW',
  lower: 70,
  nominal: 75,
  derivation: { function: 'power-corrected-iso-1585', inputs: ['power', 'air-pressure', 'air'] },
};
const specification = (...characteristics: object[]) => ({
  model: 'F100L',
  note: 'Corrected power',
  prompts: [{ text: 'Run at full load', characteristics }],
});

/**
 * Revision 2 in kPa judges two motors, revision 3 in hPa a third one. By both formulas air
 * of 25 °C and 99 kPa corrects nothing. Air of 95 kPa and 35 °C corrects by
 * (99/95)^1.2 × (308/298)^0.6 = 1.0717, which ISO 1585 does not allow, of 95 kPa and 25 °C
 * by (99/95)^1.2 = 1.0507 (both worked by hand).
 */
describe('a limit trial of derived characteristics', () => {
  let plant: TestPlant;
  let draft: number;
  const runs: number[] = [];
  const test = async (...values: number[]) => {
    const { motor } = await setMotor(plant);
    const readings = [power, pressure, temperature].map(({ code }, i) => ({
      code,
      value: values[i] ?? 0,
      unit: ['kW', 'kPa', 'Cel'][i],
    }));
    runs.push((await runMotor(plant, motor, readings)).run);
  };
  const revise = async (...characteristics: object[]) => {
    const { headers } = await plant.get('quality', `/v1/specifications/${draft}`);
    const answer = await plant.put(
      'quality',
      `/v1/specifications/${draft}`,
      specification(...characteristics),
      { headers: { 'If-Match': String(headers.etag) } },
    );
    expect(answer.status, answer.text).toBe(200);
  };
  const trial = async () => (await plant.get('read', `/v1/specifications/${draft}/trial`)).body;
  const motors = async (link: string) => (await plant.get('read', link)).body.items;
  const line = (body: { characteristics: { code: string }[] }, code: string) =>
    body.characteristics.find((one) => one.code === code);

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, specification(power, pressure, temperature, corrected));
    await test(70, 99, 25);
    await test(67, 95, 25);
    const inHpa = { ...pressure, unit: 'hPa' };
    await specify(plant, specification(power, inHpa, temperature, corrected));
    await test(69, 99, 25);
    const drafted = await plant.post('quality', '/v1/specifications', specification(power));
    draft = drafted.body.id;
  });
  afterAll(() => plant.stop());

  it('takes the value as judged where nothing about it changed, else computes it again', async () => {
    await revise(power, pressure, temperature, { ...corrected, lower: 70 });
    const body = await trial();
    expect(
      body.revisions.map((one: { revision: number; runs: number }) => [one.revision, one.runs]),
    ).toEqual([
      [3, 1],
      [2, 2],
    ]);
    expect(line(body, 'corrected-power')).toMatchObject({
      change: 'same',
      past: [
        { revision: 3, basis: 'computed-again' },
        { revision: 2, basis: 'as-judged' },
      ],
    });
    expect(line(body, 'air-pressure')).toMatchObject({
      change: 'changed',
      past: [{ basis: 'converted' }, { basis: 'as-judged' }],
    });
    // 70, 67 × 1.0507 = 70.40 and 69 kW, each as it was: exactly 70 is on the limit.
    expect(body.verdicts).toMatchObject({ passToPass: { runs: 2 }, failToFail: { runs: 1 } });
    const changed = (await motors(`/v1/specifications/${draft}/trial/motors`)) as object[];
    expect(changed).toEqual([]);
  });

  it('computes by the formula of the draft', async () => {
    // SAE J1349 at 95 kPa and 25 °C: 1.18 × 99/95 - 0.18 = 1.0497, so 70.33 kW (by hand).
    await revise(power, pressure, temperature, {
      ...corrected,
      lower: 70.35,
      derivation: { ...corrected.derivation, function: 'power-corrected-j1349' },
    });
    const body = await trial();
    expect(line(body, 'corrected-power')).toMatchObject({
      change: 'changed',
      past: [{ basis: 'computed-again' }, { basis: 'computed-again' }],
      passToFail: { runs: 2, below: 2, above: 0 },
    });
    const [, second] = await motors(body.verdicts.passToFail.link);
    const [{ recorded, trial: tried }] = second.decidedBy;
    expect(second.run).toBe(runs[1]);
    expect(recorded.value).toBeCloseTo(70.4, 1);
    expect(recorded.conforms).toBe(true);
    expect(tried.value).toBeCloseTo(67 * ((1.18 * 99) / 95 - 0.18), 10);
    expect(tried.conforms).toBe(false);
  });

  it('cannot judge what the formula does not hold for, and says so', async () => {
    await test(70, 99, 25);
    await revise(
      power,
      pressure,
      temperature,
      {
        ...corrected,
        derivation: { function: 'ratio', inputs: ['power', 'spare'] },
        unit: '1',
      },
      { ...power, code: 'spare', required: false },
    );
    const body = await trial();
    expect(body.notJudgeable).toMatchObject({
      runs: 4,
      characteristics: [{ code: 'corrected-power', runs: 4 }],
    });
    expect(line(body, 'corrected-power')).toMatchObject({
      past: [
        {
          basis: 'not-measured',
          reason: 'its input spare is missing: no characteristic has this code',
        },
        {},
      ],
    });
    const [first] = await motors(body.notJudgeable.link);
    expect(first.missing).toEqual([
      {
        code: 'corrected-power',
        reason: 'its input spare is missing: no reading was posted',
      },
    ]);
  });

  it('cannot judge a run whose air the formula does not hold for', async () => {
    // Judged without correction first; by the draft its factor would be 1.0717.
    await revise(power, pressure, temperature);
    await plant.make('quality 2', `/v1/specifications/${draft}/approval`, {});
    plant.wait(1000);
    await test(70, 95, 35);
    const { body } = await plant.post(
      'quality',
      '/v1/specifications',
      specification(power, pressure, temperature, corrected),
    );
    draft = body.id;
    const answer = await trial();
    expect(answer.notJudgeable).toMatchObject({ runs: 1 });
    const [one] = await motors(answer.notJudgeable.link);
    expect(one).toMatchObject({
      run: runs.at(-1),
      missing: [
        { code: 'corrected-power', reason: expect.stringContaining('outside 0.93 to 1.07') },
      ],
    });
  });
});
