import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { commandOf } from '../../src/http/mount.js';
import { openOrder } from '../../src/orders/actions.js';
import { setPair } from '../../src/pairing/actions.js';
import { Problem } from '../../src/problems.js';
import { RUNS_A_BLOCK } from '../../src/series/block.js';
import { percentileCapability } from '../../src/statistics/percentile-capability.js';
import { sortSample } from '../../src/statistics/sorted-sample.js';
import { completeRun, startRun } from '../../src/testing/actions.js';
import { enterUnit } from '../../src/units/entry-actions.js';
import { settings, TestPlant } from '../support/plant.js';
import { furnish, unitDraft } from '../support/scenario.js';

const MOTORS = 1203;
const AT_ONCE = 100;
/** A long tail upwards, in kPa with one decimal. */
const pressureOf = (i: number) =>
  60 + Math.round(-200 * Math.log1p(-((i * 379) % MOTORS) / MOTORS)) / 10;

/** Sets and tests so many motors through the plant's actions, many to a transaction. */
async function testMotors(plant: TestPlant): Promise<number[]> {
  const runs: number[] = [];
  for (let from = 0; from < MOTORS; from += AT_ONCE) {
    plant.wait(60_000);
    await plant.service.store.command((records) => {
      const actor = { keyId: 1, name: 'test', roles: [] };
      for (let i = from; i < Math.min(from + AT_ONCE, MOTORS); i += 1) {
        const command = commandOf(records, actor, plant.now + i, settings);
        const powerhead = enterUnit(command, unitDraft('powerhead') as never).serial;
        const lowerUnit = enterUnit(command, unitDraft('lower-unit') as never).serial;
        const set = setPair(command, { powerhead, lowerUnit, order: 'MANY', station: 'SET-1' });
        if (set instanceof Problem) throw set;
        const run = startRun(command, { motor: set.serial, cell: `CELL-${i % 2}` });
        completeRun(command, run.id, {
          readings: [
            { code: 'idle-speed', value: 650 },
            { code: 'water-pressure', value: pressureOf(i) },
            { code: 'telltale', value: true },
          ],
        });
        runs.push(run.id);
      }
    });
  }
  return runs;
}

describe('a series of blocks and of runs that no block holds yet', () => {
  let plant: TestPlant;
  let runs: number[];
  const values = Array.from({ length: MOTORS }, (_, i) => pressureOf(i));
  const ask = async (more = '') =>
    (await plant.get('read', `/v1/capability?model=F100L&characteristic=water-pressure${more}`))
      .body;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.service.store.command((records) => {
      const actor = { keyId: 1, name: 'test', roles: [] };
      openOrder(commandOf(records, actor, plant.now, settings), {
        ...{ number: 'MANY', model: 'F100L', quantity: MOTORS, dueOn: '2026-03-10' },
      });
    });
    runs = await testMotors(plant);
  });
  afterAll(() => plant.stop());

  it('is one: two blocks of five hundred and two hundred and three runs behind them', async () => {
    const { series } = plant.service.store.reading;
    const [specification = 0] = series.specificationsOf('F100L');
    const blocks = [...series.blocks(specification, 0, Number.MAX_SAFE_INTEGER)];
    expect(blocks).toHaveLength(2);
    expect(series.recent(specification)).toHaveLength(MOTORS - 2 * RUNS_A_BLOCK);
    const answer = await ask();
    expect(answer.count).toBe(MOTORS);
    const mean = values.reduce((sum, one) => sum + one, 0) / MOTORS;
    expect(answer.moments.mean).toBeCloseTo(mean, 10);
    expect(answer.moments.lowest).toBe(Math.min(...values));
    expect(answer.moments.highest).toBe(Math.max(...values));
    let ranges = 0;
    for (let i = 1; i < MOTORS; i += 1) ranges += Math.abs((values[i] ?? 0) - (values[i - 1] ?? 0));
    // NIST/SEMATECH e-Handbook 6.3.2.2, with d2 = 2/√π: the order runs on from block to block.
    const within = (ranges / (MOTORS - 1)) * (Math.sqrt(Math.PI) / 2);
    expect(answer.spread.within.standardDeviation).toBeCloseTo(within, 10);
  });

  it('is read by the percentile method, which has figures of so many values', async () => {
    const { method, points, specification, normality } = await ask();
    expect(normality.normal).toBe(false);
    expect(method).toMatchObject({ read: 'percentile' });
    const sample = sortSample(values);
    const expected = percentileCapability(sample, { lower: 50, upper: 150 });
    expect(points).toMatchObject({ lower: expected.lowerPoint, upper: expected.upperPoint });
    expect(specification.percentile).toEqual({
      pp: expected.pp,
      ppl: expected.ppl,
      ppu: expected.ppu,
      ppk: expected.ppk,
      reason: null,
    });
  });

  it('keeps its order and its runs over the border of a block, page by page', async () => {
    const seen: { run: number; value: number }[] = [];
    let address: string | null =
      '/v1/models/F100L/characteristics/water-pressure/readings?limit=400';
    while (address) {
      const { body } = await plant.get('read', address);
      seen.push(...body.items);
      address = body.next;
    }
    expect(seen.map((one) => one.run)).toEqual(runs);
    expect(seen.map((one) => one.value)).toEqual(values);
  });

  it('has a cell in blocks and behind them, as the comparison of cells has', async () => {
    const { body } = await plant.get(
      'read',
      '/v1/cells/comparison?model=F100L&characteristic=water-pressure',
    );
    const even = values.filter((_, i) => i % 2 === 0);
    expect(body.cells.map((one: { count: number }) => one.count)).toEqual([
      even.length,
      MOTORS - even.length,
    ]);
    expect(body.cells[0].mean).toBeCloseTo(
      even.reduce((sum, one) => sum + one, 0) / even.length,
      10,
    );
    expect((await ask('&cell=CELL-0')).moments.mean).toBe(body.cells[0].mean);
  });
});
