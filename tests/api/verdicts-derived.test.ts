import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, refused, setMotor, specify } from '../support/scenario.js';

describe('a derived power', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const measured = (code: string, unit: string) => ({ kind: 'measured', code, name: code, unit });
    await specify(plant, {
      model: 'F100L',
      note: 'Corrected power',
      prompts: [
        {
          text: 'Run at full throttle',
          characteristics: [
            measured('power', 'kW'),
            measured('dry-air', 'kPa'),
            measured('air', 'Cel'),
            {
              kind: 'derived',
              code: 'corrected-power',
              name: 'Corrected power',
              unit: 'kW',
              lower: 70,
              nominal: 75,
              derivation: {
                function: 'power-corrected-iso-1585',
                inputs: ['power', 'dry-air', 'air'],
              },
            },
          ],
        },
      ],
    });
  });
  afterAll(() => plant.stop());

  const readings = (power: number, pressure: number, temperature: number) => [
    { code: 'power', value: power },
    { code: 'dry-air', value: pressure },
    { code: 'air', value: temperature },
  ];
  const complete = async (run: number, body: object) =>
    plant.post('cell', `/v1/runs/${run}/completion`, body);
  const begin = async () => openRun(plant, (await setMotor(plant)).motor);

  it('is judged from the corrected value: unchanged at 99 kPa and 25 °C, the reference', async () => {
    const done = await complete(await begin(), { readings: readings(70, 99, 25) });
    expect(done.body.verdict).toBe('pass');
    const cold = await complete(await begin(), { readings: readings(72, 101.325, 15) });
    expect(cold.body.verdict).toBe('fail');
    // 72 kW × 0.95281379, the factor of tests/published/power-correction.test.ts.
    expect(cold.body.failed[0].value).toBeCloseTo(72 * 0.95281379, 5);
  });

  it('leaves the run incomplete, with the reason, where the correction does not hold', async () => {
    const run = await begin();
    const problem = await refused(plant, 'run-incomplete', () =>
      complete(run, { readings: readings(72, 85, 25) }),
    );
    // (99/85)^1.2 = 1.2008.
    expect(problem.missing).toEqual([
      {
        code: 'corrected-power',
        reason: 'the correction factor 1.2008 is outside 0.93 to 1.07, where the method holds',
      },
    ]);
    await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'Air pressure too low' });
  });

  it('misses what its inputs miss, and cannot be posted', async () => {
    const run = await begin();
    const problem = await refused(plant, 'run-incomplete', () =>
      complete(run, { readings: readings(72, 99, 25).slice(0, 2) }),
    );
    expect(problem.missing).toMatchObject([
      { code: 'air' },
      { code: 'corrected-power', reason: 'its input air is missing: no reading was posted' },
    ]);
    const posted = [...readings(72, 99, 25), { code: 'corrected-power', value: 80 }];
    await refused(plant, 'reading-invalid', () => complete(run, { readings: posted }));
  });
});
