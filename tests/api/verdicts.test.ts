import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  failing,
  furnish,
  openRun,
  passing,
  refused,
  runMotor,
  setMotor,
  specify,
} from '../support/scenario.js';

const speed = { kind: 'measured', unit: '/min', lower: 600, upper: 700 };
const prompts = [
  {
    text: 'Measure at idle',
    characteristics: [
      { ...speed, code: 'idle-speed', name: 'Idle speed' },
      {
        kind: 'measured',
        code: 'water-pressure',
        name: 'Water pressure',
        unit: 'kPa',
        lower: 50,
        upper: 150,
        guardBand: 5,
      },
      // 10 lbf/in² is 68.9475729316836... kPa: 4.4482216152605 N over 0.00064516 m² (NIST SP 811).
      {
        kind: 'measured',
        code: 'fuel-pressure',
        name: 'Fuel pressure',
        unit: 'kPa',
        lower: 68.94757293168361,
        nominal: 300,
      },
      {
        kind: 'measured',
        code: 'play',
        name: 'Play',
        unit: 'mm',
        lower: 0.1,
        upper: 5,
        guardBand: 0.2,
      },
      { kind: 'attribute', code: 'leak', name: 'Fuel leaks', expected: false },
      {
        kind: 'measured',
        code: 'coolant',
        name: 'Coolant temperature',
        unit: 'Cel',
        upper: 90,
        nominal: 70,
        required: false,
      },
    ],
  },
];
const good = [
  { code: 'idle-speed', value: 650 },
  { code: 'water-pressure', value: 100 },
  { code: 'fuel-pressure', value: 300 },
  { code: 'play', value: 2 },
  { code: 'leak', value: false },
];
const withReading = (reading: { code: string; value: number | boolean; unit?: string }) => [
  ...good.filter((one) => one.code !== reading.code),
  reading,
];

interface Judged {
  code: string;
  value: number | boolean | null;
  conforms: boolean | null;
  margin: number | null;
}

describe('a verdict', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, { model: 'F100L', note: 'For verdicts', prompts });
  });
  afterAll(() => plant.stop());

  /** Runs a fresh motor and returns the run's verdict and the judgement of one characteristic. */
  const judge = async (readings: readonly object[], code: string) => {
    const { motor } = await setMotor(plant);
    const { run, verdict } = await runMotor(plant, motor, readings);
    const detail = await plant.get('read', `/v1/runs/${run}`);
    const judgement = detail.body.judgements.find((one: Judged) => one.code === code) as Judged;
    return { verdict, judgement };
  };

  it.each([
    ['idle-speed', 600, undefined, true],
    ['idle-speed', 700, undefined, true],
    ['idle-speed', 599.9999999, undefined, false],
    ['idle-speed', 700.0000001, undefined, false],
    // 650 r/min is 10.8333... revolutions a second; 10 are 600 r/min.
    ['idle-speed', 10, '/s', true],
    ['idle-speed', 9.99, '/s', false],
    ['fuel-pressure', 10, '[psi]', true],
    ['fuel-pressure', 9.999999, '[psi]', false],
    ['fuel-pressure', 68.94757293168361, 'kPa', true],
    ['fuel-pressure', 0.6894757293168361, 'bar', true],
    // Acceptance limits 55 and 145 kPa: 50 and 150 narrowed by 5.
    ['water-pressure', 55, undefined, true],
    ['water-pressure', 145, undefined, true],
    ['water-pressure', 54.999999, undefined, false],
    ['water-pressure', 145.000001, undefined, false],
    ['water-pressure', 0.55, 'bar', true],
    ['water-pressure', 0.145, 'MPa', true],
    // 0.1 + 0.2 is 0.3, whatever binary floating point makes of it.
    ['play', 0.3, undefined, true],
    ['play', 0.29999999, undefined, false],
    ['leak', false, undefined, true],
    ['leak', true, undefined, false],
  ] as const)('on %s = %s %s conforms: %s', async (code, value, unit, conforms) => {
    const reading = { code, value, ...(unit === undefined ? {} : { unit }) };
    const { verdict, judgement } = await judge(withReading(reading), code);
    expect(judgement.conforms).toBe(conforms);
    expect(verdict).toBe(conforms ? 'pass' : 'fail');
  });

  it('keeps the value in the specification’s unit, with the limits beside it', async () => {
    const reading = { code: 'water-pressure', value: 1, unit: 'bar' };
    const { judgement } = await judge(withReading(reading), 'water-pressure');
    expect(judgement).toMatchObject({
      value: 100,
      unit: 'kPa',
      lower: 50,
      upper: 150,
      acceptLower: 55,
      acceptUpper: 145,
    });
  });

  it.each([
    // The distance to the nearest acceptance limit over the half width of 45 kPa.
    [100, 1],
    [55, 0],
    [145, 0],
    [77.5, 0.5],
    [10, -1],
  ])('at %d kPa has the margin %d', async (value, margin) => {
    const { judgement } = await judge(
      withReading({ code: 'water-pressure', value }),
      'water-pressure',
    );
    expect(judgement.margin).toBeCloseTo(margin, 12);
  });

  it('passes over an optional characteristic without a reading, and judges one with', async () => {
    const without = await judge(good, 'coolant');
    expect(without).toMatchObject({ verdict: 'pass', judgement: { value: null, conforms: null } });
    // 200 °F are 93.3 °C.
    const hot = await judge([...good, { code: 'coolant', value: 200, unit: '[degF]' }], 'coolant');
    expect(hot).toMatchObject({ verdict: 'fail', judgement: { conforms: false } });
    expect(hot.judgement.value).toBeCloseTo(93.3333, 4);
  });

  it('names everything that is missing, and completes when it has come', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor);
    const complete = (readings: readonly object[]) =>
      plant.post('cell', `/v1/runs/${run}/completion`, { readings });
    const problem = await refused(plant, 'run-incomplete', () => complete(good.slice(0, 1)));
    const reason = 'no reading was posted';
    expect(problem.missing).toEqual(
      ['water-pressure', 'fuel-pressure', 'play', 'leak'].map((code) => ({ code, reason })),
    );
    expect((await plant.get('read', `/v1/runs/${run}`)).body).toMatchObject({
      state: 'open',
      readings: [],
    });
    expect((await complete(good)).body.verdict).toBe('pass');
  });

  it('of fail names what failed, opens a repair that says so, and says what is next', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor);
    const readings = good.map((one) =>
      one.code === 'idle-speed' ? { ...one, value: 800 } : { ...one, value: one.value },
    );
    const bad = [...readings, { code: 'leak', value: true }];
    const done = await plant.post('cell', `/v1/runs/${run}/completion`, { readings: bad });
    expect(done.body.failed.map((one: Judged) => one.code)).toEqual(['idle-speed', 'leak']);
    expect(done.body.next).toContain(`repair ${done.body.repair}`);
    const repair = await plant.get('read', `/v1/repairs/${done.body.repair}`);
    expect(repair.body).toMatchObject({
      motor,
      run,
      complaint: 'Failed the hot test: idle-speed, leak',
      outcome: null,
    });
  });

  it.each([
    ['pass', good, 'pass', false],
    ['fail', good, 'pass', true],
    ['pass', withReading({ code: 'leak', value: true }), 'fail', true],
    ['fail', withReading({ code: 'leak', value: true }), 'fail', false],
    [undefined, good, 'pass', false],
  ] as const)('where the cell says %s', async (cellVerdict, readings, verdict, disagreement) => {
    const run = await openRun(plant, (await setMotor(plant)).motor);
    const body = { readings, ...(cellVerdict ? { cellVerdict } : {}) };
    const done = await plant.post('cell', `/v1/runs/${run}/completion`, body);
    const kept = { verdict, cellVerdict: cellVerdict ?? null, disagreement };
    expect(done.body).toMatchObject(kept);
    expect((await plant.get('read', `/v1/runs/${run}`)).body).toMatchObject(kept);
  });
});

describe('the attempts of one motor', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('count completed runs only, and only the first can be a first pass', async () => {
    const { motor } = await setMotor(plant);
    const aborted = await openRun(plant, motor);
    await plant.make('cell', `/v1/runs/${aborted}/abort`, { reason: 'No water' });
    const first = await runMotor(plant, motor, failing);
    expect(first).toMatchObject({ attempt: 1, firstPass: false });
    const retest = { motor, reason: 'Gauge was loose' };
    await plant.make('quality', '/v1/retests', retest);
    const second = await runMotor(plant, motor, passing);
    expect(second).toMatchObject({ attempt: 2, firstPass: null, verdict: 'pass' });
  });
});
