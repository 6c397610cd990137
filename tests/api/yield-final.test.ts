import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  configure,
  enter,
  failing,
  furnish,
  openRun,
  order,
  passing,
  refused,
  runMotor,
  setMotor,
} from '../support/scenario.js';

const DAY = 86_400_000;

interface Line {
  slice: string;
  firstRuns: number;
  firstPasses: number;
  finallyPassed: number;
  finalYield: number | null;
  finalLower: number | null;
  finalUpper: number | null;
  reworked: number;
  reworkRatio: number | null;
  firstDefects: number;
  defectsPerUnit: number | null;
  defects: number;
  completedRuns: number;
  link: string;
}

interface Motor {
  serial: string;
  run: number;
  day: string;
  cell: string;
  verdict: string;
  firstPass: boolean;
  finallyPassed: boolean;
  attempts: number;
}

const linesOf = async (plant: TestPlant, query: string) =>
  (await plant.get('read', `/v1/yield/first-pass?${query}`)).body.items as Line[];
const behind = async (plant: TestPlant, address: string) =>
  (await plant.get('read', address)).body.items as Motor[];

describe('final yield', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const plantLine = async (query = '') => (await linesOf(plant, `by=plant&${query}`))[0] as Line;
  const short = ({ firstRuns, firstPasses, finallyPassed, reworked }: Line) => [
    firstRuns,
    firstPasses,
    finallyPassed,
    reworked,
  ];
  const retest = async (motor: string, readings: readonly object[]) => {
    await plant.make('quality', '/v1/retests', { motor, reason: 'Doubted' });
    return runMotor(plant, motor, readings);
  };

  it('is of nothing at first, in one line', async () => {
    expect(await plantLine()).toMatchObject({
      slice: 'plant',
      firstRuns: 0,
      finalYield: null,
      finalLower: null,
      reworkRatio: null,
      defectsPerUnit: null,
      link: '/v1/yield/motors',
    });
  });

  it('goes up and down with the latest completed run, where the first one counts', async () => {
    const { motor } = await setMotor(plant);
    const { repair } = await runMotor(plant, motor, failing);
    expect(short(await plantLine())).toEqual([1, 0, 0, 0]);
    await closeRepair(plant, repair ?? 0);
    plant.wait(2 * DAY);
    await runMotor(plant, motor);
    // 2 March, the day of the first run.
    expect(short(await plantLine('fromDay=2026-03-02&untilDay=2026-03-02'))).toEqual([1, 0, 1, 1]);
    expect(short(await plantLine('fromDay=2026-03-03'))).toEqual([0, 0, 0, 0]);
    const again = await retest(motor, failing);
    expect(short(await plantLine())).toEqual([1, 0, 0, 0]);
    await closeRepair(plant, again.repair ?? 0);
    await runMotor(plant, motor);
    expect(short(await plantLine())).toEqual([1, 0, 1, 1]);
    await retest(motor, passing);
    expect(short(await plantLine())).toEqual([1, 0, 1, 1]);
  });

  it('loses a first pass that fails when it is tested again, which stays a first pass', async () => {
    const { motor } = await setMotor(plant);
    await runMotor(plant, motor);
    expect(short(await plantLine())).toEqual([2, 1, 2, 1]);
    await retest(motor, failing);
    expect(short(await plantLine())).toEqual([2, 1, 1, 1]);
  });

  it('is untouched by a run that is aborted', async () => {
    const { motor } = await setMotor(plant);
    await runMotor(plant, motor);
    await plant.make('quality', '/v1/retests', { motor, reason: 'Doubted' });
    const run = await openRun(plant, motor);
    await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
    expect(short(await plantLine())).toEqual([3, 2, 2, 1]);
  });

  it('comes with its Wilson interval, and rework and defects beside it', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    const twoWrong = [...failing.slice(0, 2), { code: 'telltale', value: false }];
    for (let n = 0; n < 29; n += 1) {
      const { motor } = await setMotor(own);
      const { repair } = await runMotor(own, motor, twoWrong);
      if (n > 0) continue;
      await closeRepair(own, repair ?? 0);
      await runMotor(own, motor);
    }
    const [line] = await linesOf(own, 'by=plant');
    // Newcombe, Statist. Med. 17 (1998) 857, table I: 1 of 29 is 0.0061 to 0.1718.
    expect(line?.finalLower?.toFixed(4)).toBe('0.0061');
    expect(line?.finalUpper?.toFixed(4)).toBe('0.1718');
    // Each of 29 motors failed in two characteristics, one passed in its second run.
    expect(line).toMatchObject({
      finalYield: 1 / 29,
      reworked: 1,
      reworkRatio: 1 / 29,
      firstDefects: 58,
      defectsPerUnit: 2,
      defects: 58,
      completedRuns: 30,
    });
    await own.stop();
  }, 60_000);
});

describe('the lines of the yield and the motors behind them', () => {
  let plant: TestPlant;
  const serials: string[] = [];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const motor = async (station: string, cell: string, readings: readonly object[]) => {
      const set = await plant.make<{ motor: string }>('set', '/v1/sets', {
        powerhead: await enter(plant, 'powerhead'),
        lowerUnit: await enter(plant, 'lower-unit'),
        order: await order(plant),
        station,
      });
      const run = await openRun(plant, set.motor, cell);
      await plant.make('cell', `/v1/runs/${run}/completion`, { readings });
      serials.push(set.motor);
    };
    const waitUntil = (day: string) => plant.wait(Date.parse(`${day}T12:00:00Z`) - plant.now);
    await motor('SET-1', 'CELL-A', passing);
    waitUntil('2026-03-08');
    await motor('SET-1', 'CELL-B', failing);
    waitUntil('2026-03-09');
    await motor('SET-2', 'CELL-B', passing);
    await configure(plant, { code: 'F100L-A' });
    plant.wait(1000);
    waitUntil('2026-03-31');
    await motor('SET-2', 'CELL-A', failing);
    waitUntil('2026-04-01');
    await motor('SET-1', 'CELL-A', passing);
  });
  afterAll(() => plant.stop());

  const short = async (query: string) =>
    (await linesOf(plant, query)).map((one) => [one.slice, one.firstPasses, one.firstRuns]);
  const motorsOf = async (query: string) => {
    const lines = await linesOf(plant, query);
    const found = lines.map(async (line) => [
      line.slice,
      ...(await behind(plant, line.link)).map((one) => serials.indexOf(one.serial)),
    ]);
    return Promise.all(found);
  };

  it('are by revision of the configuration', async () => {
    expect(await short('by=configuration')).toEqual([
      ['F100L-A 1', 2, 3],
      ['F100L-A 2', 1, 2],
    ]);
    expect(await short('configuration=F100L-A')).toEqual([['F100L', 3, 5]]);
    expect(await short('configuration=F100L-A 2')).toEqual([['F100L', 1, 2]]);
    expect(await short('by=cell&configuration=F100L-A 2')).toEqual([['CELL-A', 1, 2]]);
    expect(await motorsOf('by=configuration')).toEqual([
      ['F100L-A 1', 0, 1, 2],
      ['F100L-A 2', 3, 4],
    ]);
  });

  it('are by week as ISO 8601 has them, by month and of the whole plant', async () => {
    // 8 March 2026 is a Sunday; 31 March and 1 April lie in one week.
    expect(await short('by=week')).toEqual([
      ['2026-W10', 1, 2],
      ['2026-W11', 1, 1],
      ['2026-W14', 1, 2],
    ]);
    expect(await short('by=month')).toEqual([
      ['2026-03', 2, 4],
      ['2026-04', 1, 1],
    ]);
    expect(await short('by=plant')).toEqual([['plant', 3, 5]]);
    expect(await short('by=plant&cell=CELL-A&station=SET-1')).toEqual([['plant', 2, 2]]);
  });

  it('are of days within months where the window says so', async () => {
    expect(await short('by=month&fromDay=2026-03-08&untilDay=2026-03-30')).toEqual([
      ['2026-03', 1, 2],
    ]);
    expect(await short('by=week&fromDay=2026-03-08&untilDay=2026-03-31')).toEqual([
      ['2026-W10', 0, 1],
      ['2026-W11', 1, 1],
      ['2026-W14', 0, 1],
    ]);
    expect(await short('by=plant&fromDay=2026-03-09&untilDay=2026-04-30')).toEqual([
      ['plant', 2, 3],
    ]);
    expect(await short('by=plant&fromDay=2026-04-01&untilDay=2026-03-01')).toEqual([
      ['plant', 0, 0],
    ]);
  });

  it('open the motors behind them, those of the window only', async () => {
    const window = 'fromDay=2026-03-08&untilDay=2026-03-31';
    expect(await motorsOf(`by=month&${window}`)).toEqual([['2026-03', 1, 2, 3]]);
    expect(await motorsOf(`by=week&${window}`)).toEqual([
      ['2026-W10', 1],
      ['2026-W11', 2],
      ['2026-W14', 3],
    ]);
    expect(await motorsOf(`by=day&cell=CELL-A`)).toEqual([
      ['2026-03-02', 0],
      ['2026-03-31', 3],
      ['2026-04-01', 4],
    ]);
    expect(await motorsOf(`by=station&${window}`)).toEqual([
      ['SET-1', 1],
      ['SET-2', 2, 3],
    ]);
    expect(await motorsOf('by=cell&model=F100L&shift=none')).toEqual([
      ['CELL-A', 0, 3, 4],
      ['CELL-B', 1, 2],
    ]);
    const [line] = await linesOf(plant, 'by=week&cell=CELL-B');
    expect(line?.link).toBe('/v1/yield/motors?cell=CELL-B&fromDay=2026-03-02&untilDay=2026-03-08');
  });

  it('tell of each motor what it came to', async () => {
    const [motor] = await behind(plant, '/v1/yield/motors?fromDay=2026-03-08&untilDay=2026-03-08');
    expect(motor).toEqual({
      serial: serials[1],
      model: 'F100L',
      configuration: 'F100L-A',
      configurationRevision: 1,
      station: 'SET-1',
      day: '2026-03-08',
      shift: 'none',
      run: 2,
      cell: 'CELL-B',
      endedAt: '2026-03-08T12:00:00.000Z',
      verdict: 'fail',
      firstPass: false,
      finallyPassed: false,
      attempts: 1,
      state: 'in-repair',
    });
  });

  it.each([
    ['first-pass', [0, 2, 4]],
    ['not-first-pass', [1, 3]],
    ['finally-passed', [0, 2, 4]],
    ['not-finally-passed', [1, 3]],
    ['reworked', []],
  ])('are to be had by outcome: %s', async (outcome, expected) => {
    const found = await behind(plant, `/v1/yield/motors?outcome=${outcome}`);
    expect(found.map((one) => serials.indexOf(one.serial))).toEqual(expected);
  });

  it('come page by page', async () => {
    let address: string | null = '/v1/yield/motors?cell=CELL-A&limit=2';
    const pages: number[][] = [];
    while (address !== null) {
      const { body } = await plant.get('read', address);
      pages.push(body.items.map((one: Motor) => serials.indexOf(one.serial)));
      address = body.next;
    }
    expect(pages).toEqual([[0, 3], [4]]);
    await refused(plant, 'request-invalid', () =>
      plant.get('read', '/v1/yield/motors?after=nonsense'),
    );
  });

  it('refuse what is no filter', async () => {
    const get = (query: string) => () => plant.get('read', `/v1/yield/motors?${query}`);
    await refused(plant, 'request-invalid', get('outcome=lost'));
    await refused(plant, 'request-invalid', get('configuration=F100L-A B'));
    await refused(plant, 'request-invalid', get('colour=red'));
  });
});
