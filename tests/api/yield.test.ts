import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  openRun,
  order,
  passing,
  refused,
  runMotor,
  setMotor,
} from '../support/scenario.js';

interface Line {
  slice: string;
  firstRuns: number;
  firstPasses: number;
  firstPassYield: number | null;
  lower: number | null;
  upper: number | null;
  completedRuns: number;
  passedRuns: number;
  abortedRuns: number;
}

const linesOf = async (plant: TestPlant, query = '') => {
  const answer = await plant.get('read', `/v1/yield/first-pass?${query}`);
  return answer.body.items as Line[];
};
const loopsOf = async (plant: TestPlant, query = '') => {
  const answer = await plant.get('read', `/v1/yield/rework-loops?${query}`);
  return answer.body.items as object[];
};

describe('first-pass yield', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  /** What the roll-up says after some happening, less what it said before. */
  const counted = async (happening: () => Promise<unknown>) => {
    const sum = async () => {
      const [line] = await linesOf(plant);
      const { firstRuns = 0, firstPasses = 0, completedRuns = 0 } = line ?? {};
      const { passedRuns = 0, abortedRuns = 0 } = line ?? {};
      return [firstRuns, firstPasses, completedRuns, passedRuns, abortedRuns];
    };
    const before = await sum();
    await happening();
    return (await sum()).map((n, i) => n - (before[i] ?? 0));
  };

  it.each<[string, number[], (plant: TestPlant) => Promise<unknown>]>([
    [
      'counts a motor that passes its first completed run',
      [1, 1, 1, 1, 0],
      async (p) => runMotor(p, (await setMotor(p)).motor),
    ],
    ['counts one that fails it', [1, 0, 1, 0, 0], (p) => failedMotor(p)],
    [
      'takes an aborted run for no attempt: the pass after it is a first pass',
      [1, 1, 1, 1, 2],
      async (p) => {
        const { motor } = await setMotor(p);
        for (const reason of ['No water', 'No fuel']) {
          const run = await openRun(p, motor);
          await p.make('cell', `/v1/runs/${run}/abort`, { reason });
        }
        await runMotor(p, motor);
      },
    ],
    [
      'does not count the pass after a repair as a first pass',
      [1, 0, 2, 1, 0],
      async (p) => {
        const { motor, repair } = await failedMotor(p);
        await closeRepair(p, repair);
        await runMotor(p, motor);
      },
    ],
    [
      'does not take a motor repaired before its first run for first-pass',
      [1, 0, 1, 1, 0],
      async (p) => {
        const { motor } = await setMotor(p);
        const body = { motor, complaint: 'Hose on the wrong side' };
        const { id } = await p.make<{ id: number }>('repair', '/v1/repairs', body);
        await closeRepair(p, id);
        await runMotor(p, motor);
      },
    ],
    ['counts no motor that was only set', [0, 0, 0, 0, 0], (p) => setMotor(p)],
    [
      'keeps a first pass that was released and one that was scrapped later',
      [1, 1, 1, 1, 0],
      async (p) => {
        const { motor } = await setMotor(p);
        await runMotor(p, motor);
        const scrap = { class: 'motor', unit: motor, kind: 'scrap', reason: 'Dropped' };
        await p.make('quality', '/v1/dispositions', scrap);
      },
    ],
  ])('%s', async (_what, expected, happening) => {
    expect(await counted(() => happening(plant))).toEqual(expected);
  });

  it('comes with its Wilson interval: 1 of 29 is 0.0061 to 0.1718', async () => {
    // Newcombe, Statist. Med. 17 (1998) 857, table I, as in tests/published/intervals.test.ts.
    const own = await TestPlant.start();
    await furnish(own);
    for (let n = 0; n < 29; n += 1) {
      const { motor } = await setMotor(own);
      await runMotor(own, motor, n === 13 ? passing : failing);
    }
    const [line] = await linesOf(own);
    expect(line).toMatchObject({ firstRuns: 29, firstPasses: 1, firstPassYield: 1 / 29 });
    expect(line?.lower?.toFixed(4)).toBe('0.0061');
    expect(line?.upper?.toFixed(4)).toBe('0.1718');
    await own.stop();
  });

  it('has no value and no interval where runs were aborted only', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    const run = await openRun(own, (await setMotor(own)).motor);
    await own.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
    const none = { firstPassYield: null, lower: null, upper: null };
    expect(await linesOf(own)).toMatchObject([{ firstRuns: 0, abortedRuns: 1, ...none }]);
    await own.stop();
  });

  it('is to be had as CSV', async () => {
    const answer = await plant.get('read', '/v1/yield/first-pass', {
      headers: { Accept: 'text/csv' },
    });
    const [header, ...lines] = answer.text.trimEnd().split('\r\n');
    expect(header).toBe(
      'slice,firstRuns,firstPasses,firstPassYield,lower,upper,finallyPassed,finalYield,finalLower,finalUpper,reworked,reworkRatio,firstDefects,defectsPerUnit,completedRuns,passedRuns,defects,abortedRuns,link,runsLink',
    );
    expect(lines[0]).toMatch(/^F100L,/);
  });

  it('refuses a slice and a day that do not exist', async () => {
    const get = (query: string) => () => plant.get('read', `/v1/yield/first-pass?${query}`);
    await refused(plant, 'request-invalid', get('by=colour'));
    await refused(plant, 'request-invalid', get('fromDay=2026-02-30'));
    await refused(plant, 'request-invalid', get('untilDay=tomorrow'));
  });
});

describe('slices of first-pass yield', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    /** Sets at a station and runs in a cell. */
    const motor = async (station: string, cell: string, readings: readonly object[]) => {
      const set = await plant.make<{ motor: string }>('set', '/v1/sets', {
        powerhead: await enter(plant, 'powerhead'),
        lowerUnit: await enter(plant, 'lower-unit'),
        order: await order(plant),
        station,
      });
      const run = await openRun(plant, set.motor, cell);
      await plant.make('cell', `/v1/runs/${run}/completion`, { readings });
    };
    await motor('SET-1', 'CELL-A', passing);
    await motor('SET-1', 'CELL-B', failing);
    await motor('SET-2', 'CELL-B', passing);
    plant.wait(86_400_000);
    await motor('SET-2', 'CELL-B', passing);
  });
  afterAll(() => plant.stop());

  const short = async (query: string) =>
    (await linesOf(plant, query)).map((one) => [one.slice, one.firstPasses, one.firstRuns]);

  it('are by model, cell, set station, configuration and day', async () => {
    expect(await short('')).toEqual([['F100L', 3, 4]]);
    expect(await short('by=cell')).toEqual([
      ['CELL-A', 1, 1],
      ['CELL-B', 2, 3],
    ]);
    expect(await short('by=station')).toEqual([
      ['SET-1', 1, 2],
      ['SET-2', 2, 2],
    ]);
    expect(await short('by=configuration')).toEqual([['F100L-A 1', 3, 4]]);
    expect(await short('by=day')).toEqual([
      ['2026-03-02', 2, 3],
      ['2026-03-03', 1, 1],
    ]);
  });

  it('are filtered by model, cell, station and days, the last counted too', async () => {
    expect(await short('by=day&cell=CELL-B')).toEqual([
      ['2026-03-02', 1, 2],
      ['2026-03-03', 1, 1],
    ]);
    expect(await short('by=cell&station=SET-1&fromDay=2026-03-01')).toEqual([
      ['CELL-A', 1, 1],
      ['CELL-B', 0, 1],
    ]);
    expect(await short('fromDay=2026-03-03')).toEqual([['F100L', 1, 1]]);
    expect(await short('untilDay=2026-03-02')).toEqual([['F100L', 2, 3]]);
    expect(await short('fromDay=2026-03-02&untilDay=2026-03-03')).toEqual([['F100L', 3, 4]]);
    expect(await short('fromDay=2026-03-04')).toEqual([]);
    expect(await short('model=F200')).toEqual([]);
  });
});

describe('rework loops', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('are completed runs beyond the first, in the period of the first', async () => {
    await runMotor(plant, (await setMotor(plant)).motor);
    const twice = await failedMotor(plant);
    await closeRepair(plant, twice.repair);
    plant.wait(86_400_000);
    const again = await runMotor(plant, twice.motor, failing);
    await closeRepair(plant, again.repair ?? 0);
    await runMotor(plant, twice.motor);
    await failedMotor(plant);
    expect(await loopsOf(plant)).toEqual([
      { loops: 0, motors: 2, passed: 1 },
      { loops: 2, motors: 1, passed: 1 },
    ]);
    expect(await loopsOf(plant, 'untilDay=2026-03-02')).toEqual([
      { loops: 0, motors: 1, passed: 1 },
      { loops: 2, motors: 1, passed: 1 },
    ]);
    expect(await loopsOf(plant, 'fromDay=2026-03-03')).toEqual([
      { loops: 0, motors: 1, passed: 0 },
    ]);
  });

  it('keep the period of the first run where a later one is said to have been earlier', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    own.wait(5 * 86_400_000);
    const { motor } = await failedMotor(own);
    await own.make('quality', '/v1/retests', { motor, reason: 'Hose was kinked' });
    const occurredAt = new Date(own.now - 2 * 86_400_000).toISOString();
    const start = { motor, cell: 'CELL-A', occurredAt };
    const { id } = await own.make<{ id: number }>('cell', '/v1/runs', start);
    await own.make('cell', `/v1/runs/${id}/completion`, { readings: passing, occurredAt });
    expect(await loopsOf(own, 'fromDay=2026-03-07')).toEqual([{ loops: 1, motors: 1, passed: 1 }]);
    expect(await loopsOf(own, 'untilDay=2026-03-06')).toEqual([]);
    await own.stop();
  });
});
