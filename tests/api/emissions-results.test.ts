import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { draw, engineFamily, setMotors } from '../support/emissions.js';
import { TestPlant } from '../support/plant.js';
import { furnish, refused } from '../support/scenario.js';
import { waitUntil } from '../support/shipped.js';

const family = '/v1/engine-families/TBM26-F100';
const results = `${family}/results`;

/** 56.8 g/h over 15.259 kW, computed apart from this project's code. */
const modes = [200, 120, 80, 40, 15].map((gramsPerHour, at) => ({
  mode: at + 1,
  gramsPerHour,
  kilowatts: [73.6, 42.15, 20.53, 7.45, 0][at],
}));
const values = (hcNox: number, co: number) => [
  { pollutant: 'HC+NOx', value: hcNox },
  { pollutant: 'CO', value: co },
];

describe('emission tests of drawn engines', () => {
  let plant: TestPlant;
  let drawn: string[];
  let others: string[];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('quality', '/v1/engine-families', engineFamily());
    const motors = await setMotors(plant, 6);
    drawn = await draw(plant, 'TBM26-F100', 4);
    others = motors.filter((motor) => !drawn.includes(motor));
    waitUntil(plant, '2026-03-10T08:00:00Z');
  });
  afterAll(() => plant.stop());

  const record = (motor: string | undefined, more: object = {}) =>
    plant.post('quality', results, {
      motor,
      testedOn: '2026-03-05',
      results: values(12, 200),
      ...more,
    });
  const engineOf = async (result: number) =>
    (await plant.get('read', `${results}/${result}`)).body.engine as Record<string, unknown>[];
  const standing = async (query = '') =>
    (await plant.get('read', `${family}/standing${query}`)).body;

  it('are weighted from the five modes, deteriorated and rounded', async () => {
    const [first] = drawn;
    const answer = await record(first, {
      hoursRun: 2.5,
      results: [
        { pollutant: 'CO', value: 120.04 },
        { pollutant: 'HC+NOx', modes: modes.toReversed() },
      ],
      note: 'Cell 2',
    });
    expect(answer.status).toBe(201);
    expect(answer.headers.location).toBe(`${results}/1`);
    expect(answer.body).toMatchObject({
      id: 1,
      family: 'TBM26-F100',
      motor: first,
      link: `/v1/history?serial=${first}&class=motor`,
      draw: 1,
      testedOn: '2026-03-05',
      hoursRun: 2.5,
      afterCorrection: false,
      counted: true,
      invalidated: null,
      note: 'Cell 2',
      aid: expect.stringContaining('aid'),
    });
    const [co, hcNox] = answer.body.results;
    expect(co).toEqual({ pollutant: 'CO', value: 120.04, modes: null });
    expect(hcNox.modes).toEqual(modes);
    expect(hcNox.value).toBeCloseTo(3.722393, 6);
    // By hand: 3.72 · 1.05 = 3.906 -> 3.91; 120.0 + 2 = 122.0.
    expect(answer.body.engine).toEqual([
      {
        pollutant: 'HC+NOx',
        tests: [1],
        deteriorated: 3.91,
        standard: 16.7,
        unit: 'g/(kW.h)',
        exceeds: false,
      },
      {
        pollutant: 'CO',
        tests: [1],
        deteriorated: 122,
        standard: 300,
        unit: 'g/(kW.h)',
        exceeds: false,
      },
    ]);
    expect((await plant.get('read', `${results}/1`)).body).toEqual(answer.body);
  });

  it('of one engine are averaged', async () => {
    const { body } = await record(drawn[0], { testedOn: '2026-03-06', results: values(4.1, 130) });
    // By hand: (3.722393 + 4.1) / 2 = 3.911197 -> 3.91, · 1.05 = 4.1055 -> 4.11;
    // (120.04 + 130) / 2 = 125.02 -> 125.0, + 2 = 127.0.
    expect(body.engine).toMatchObject([
      { tests: [1, 2], deteriorated: 4.11 },
      { tests: [1, 2], deteriorated: 127 },
    ]);
  });

  it('above a standard are told, and the original counts after a correction', async () => {
    const [, second] = drawn;
    await refused(plant, 'emission-test-misplaced', () =>
      record(second, { afterCorrection: true }),
    );
    const { body: original } = await record(second, { results: values(16, 280) });
    // By hand: 16.00 · 1.05 = 16.80.
    expect(original.engine).toMatchObject([
      { deteriorated: 16.8, exceeds: true },
      { deteriorated: 282, exceeds: false },
    ]);
    const corrected = await record(second, {
      testedOn: '2026-03-07',
      afterCorrection: true,
      results: values(9, 150),
    });
    expect(corrected.body).toMatchObject({ afterCorrection: true, counted: false });
    expect(corrected.body.engine).toEqual(original.engine);
    const problem = await refused(plant, 'emission-test-misplaced', () =>
      record(second, { testedOn: '2026-03-08' }),
    );
    expect(problem.detail).toContain('was tested after a correction on 2026-03-07');
    // A repeat of before the correction may still be recorded.
    expect(
      (await record(second, { testedOn: '2026-03-06', results: values(16, 280) })).status,
    ).toBe(201);
    expect((await standing()).exceeding).toEqual([
      { motor: second, link: `/v1/history?serial=${second}&class=motor`, pollutants: ['HC+NOx'] },
    ]);
  });

  it('stand in the CumSum of each pollutant with the sample size asked for', async () => {
    const body = await standing();
    expect(body).toMatchObject({
      family: 'TBM26-F100',
      revision: 1,
      modelYear: 2026,
      period: 1,
      decision: 'continue',
      engines: 2,
      testPeriods: [{ period: 1, engines: 2, tested: 2 }],
      awaiting: drawn.slice(2).map((motor) => ({ motor, draw: 1 })),
      // Sixteen are one percent of 1600.
      ends: { engines: 2, ofEngines: 30, conforming: 1, ofConforming: 16, reached: false },
      sources: expect.stringContaining('From memory'),
      aid: expect.stringContaining('authority'),
    });
    const [hcNox, co] = body.pollutants;
    // By hand: results 4.11 and 16.80, mean 10.455, sigma 12.69 / √2, t95 6.31 as printed.
    const sigma = 12.69 / Math.SQRT2;
    const required = ((6.31 * sigma) / (10.455 - 16.7)) ** 2 + 1;
    expect(hcNox).toMatchObject({ tests: 2, mean: 10.455, t95: 6.31, decision: 'continue' });
    expect(hcNox.sigma).toBeCloseTo(sigma, 12);
    expect(hcNox.requiredFormula).toBeCloseTo(required, 9);
    expect(hcNox.requiredTests).toBe(84);
    expect(hcNox.rule).toBe('2 tests done and 84 asked for: testing goes on.');
    expect(hcNox.cumSum).toMatchObject([
      { test: 1, motor: drawn[0], result: 4.11, cumSum: 0, actionLimit: null, exceeds: false },
      { test: 2, motor: drawn[1], result: 16.8, cumSum: 0, overLimit: false, exceeds: true },
    ]);
    expect(hcNox.cumSum[1].actionLimit).toBeCloseTo(5 * sigma, 12);
    // 127 and 282: N = (6.31 · 155/√2 / (204.5 - 300))² + 1 = 53.4.
    expect(co.requiredTests).toBe(54);
    expect(body.requiredTests).toBe(84);
    expect(body.rule).toBe(`HC+NOx: ${hcNox.rule} CO: ${co.rule}`);
  });

  it('that were no valid ones are taken out, with the reason, once', async () => {
    const answer = await plant.post('quality', `${results}/2/invalidation`, { reason: 'Leak' });
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({
      id: 2,
      counted: false,
      invalidated: { reason: 'Leak', by: 'quality key' },
    });
    expect(await engineOf(1)).toMatchObject([{ tests: [1], deteriorated: 3.91 }, { tests: [1] }]);
    await refused(plant, 'emission-test-invalidated', () =>
      plant.post('quality', `${results}/2/invalidation`, { reason: 'Again' }),
    );
    await refused(plant, 'emission-test-unknown', () =>
      plant.post('quality', `${results}/99/invalidation`, { reason: 'None' }),
    );
    expect((await plant.get('read', `${results}/99`)).body.type).toBe(
      '/problems/emission-test-unknown',
    );
  });

  it('are listed in pages and as CSV, and stand in the engine’s timeline', async () => {
    const page = await plant.get('read', `${results}?limit=2`);
    expect(page.body.items.map((one: { id: number }) => one.id)).toEqual([1, 2]);
    const rest = await plant.get('read', page.body.next);
    expect(rest.body.items.map((one: { id: number }) => one.id)).toEqual([3, 4]);
    const csv = await plant.get('read', results, { headers: { Accept: 'text/csv' } });
    expect(csv.text.split('\r\n')[1]).toContain(`1,TBM26-F100,${drawn[0]},`);
    const { body } = await plant.get('read', `/v1/history?serial=${drawn[0]}`);
    const texts = body.timeline.map((one: { text: string }) => one.text);
    expect(texts).toContain('Emission test 1 for engine family TBM26-F100 on 2026-03-05');
    expect(texts).toContain('Emission test 2 invalidated: Leak');
  });

  it('of engines drawn for a later period count from that period on', async () => {
    waitUntil(plant, '2026-06-10T08:00:00Z');
    await setMotors(plant, 1);
    const [late] = await draw(plant, 'TBM26-F100', 1);
    const now = await standing();
    expect(now).toMatchObject({ period: 2, engines: 2 });
    expect(now.awaiting).toContainEqual(expect.objectContaining({ motor: late, draw: 2 }));
    expect((await record(late, { testedOn: '2026-06-10' })).status).toBe(201);
    expect(await standing()).toMatchObject({
      period: 2,
      engines: 3,
      testPeriods: [{ tested: 2 }, { tested: 1 }],
    });
    expect(await standing('?period=1')).toMatchObject({ period: 1, engines: 2 });
    const unknown = await plant.get('read', `${family}/standing?period=3`);
    expect(unknown.body.type).toBe('/problems/test-period-unknown');
  });

  it.each([
    ['a motor that nobody set', { motor: 'T26000099X' }, 'serial-unknown'],
    ['half a label', { motor: '[)>' }, 'scan-unreadable'],
    ['a day that has not come', { testedOn: '2026-06-11' }, 'time-in-future'],
    ['a day before the draw', { testedOn: '2026-03-01' }, 'emission-test-misplaced'],
    ['a pollutant missing', { results: values(1, 2).slice(1) }, 'pollutants-mismatch'],
    [
      'a pollutant of another family',
      { results: [...values(1, 2), { pollutant: 'PM', value: 1 }] },
      'pollutants-mismatch',
    ],
    [
      'a pollutant twice',
      { results: [...values(1, 2), { pollutant: 'CO', value: 1 }] },
      'pollutants-mismatch',
    ],
    ['a negative result', { results: values(-1, 2) }, 'request-invalid'],
    ['no result', { results: [] }, 'request-invalid'],
    [
      'a result and modes',
      { results: [{ pollutant: 'CO', value: 1, modes }, values(1, 2)[0]] },
      'request-invalid',
    ],
    [
      'a mode missing',
      { results: [{ pollutant: 'CO', modes: modes.slice(1) }, values(1, 2)[0]] },
      'request-invalid',
    ],
    [
      'a mode twice',
      { results: [{ pollutant: 'CO', modes: modes.with(0, modes[1] as never) }, values(1, 2)[0]] },
      'request-invalid',
    ],
    [
      'modes without power',
      {
        results: [
          { pollutant: 'CO', modes: modes.map((one) => ({ ...one, kilowatts: 0 })) },
          values(1, 2)[0],
        ],
      },
      'request-invalid',
    ],
    ['hours below zero', { hoursRun: -1 }, 'request-invalid'],
  ])('with %s are refused, and nothing is recorded', async (_what, change, slug) => {
    await refused(plant, slug, () => record(drawn[2], change));
  });

  it('want an engine that was drawn, and the role', async () => {
    const problem = await refused(plant, 'engine-not-drawn', () => record(others[0]));
    expect(problem.detail).toContain(`Motor ${others[0]} was not drawn`);
    const body = { motor: drawn[2], testedOn: '2026-03-05', results: values(1, 2) };
    expect((await plant.post('cell', results, body)).status).toBe(403);
  });

  it('leave a journal from which every one is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
