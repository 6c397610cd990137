import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { riskRatio } from '../../src/statistics/rate-ratio.js';
import { TestPlant } from '../support/plant.js';
import { closeRepair, failing, furnish, runMotor } from '../support/scenario.js';
import { bringBack, ship, waitUntil } from '../support/shipped.js';

interface Compared {
  factor: string;
  value: string;
}

/**
 * Twelve released motors of one model. The first five have the lot BAD, the others GOOD;
 * even ones ran in cell X, odd ones in Y; the first two were repaired; the first six were
 * set in week 10, the others in week 11. The first six came back with low pressure.
 */
describe('the answers to a field return', () => {
  let plant: TestPlant;
  const motors: string[] = [];
  const returns: number[] = [];
  let powerhead: string;

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('quality', '/v1/repair-codes', {
      kind: 'symptom',
      code: 'stalls',
      name: 'Stalls at idle',
    });
    for (let i = 0; i < 12; i++) {
      // 2 March 2026 is a Monday, in ISO week 10; a week later is week 11.
      if (i === 6) waitUntil(plant, '2026-03-09T06:00:00Z');
      const made = await ship(plant, {
        lot: i < 5 ? 'BAD' : 'GOOD',
        cell: i % 2 === 0 ? 'X' : 'Y',
        pressure: [60, 70][i] ?? 100,
        ...(i < 2 ? { before: failAndRepair } : {}),
      });
      motors.push(made.motor);
      if (i === 0) powerhead = made.powerhead;
    }
    waitUntil(plant, '2026-05-04T06:00:00Z');
    for (const motor of [powerhead, ...motors.slice(1, 6)]) {
      returns.push((await bringBack(plant, motor, '2026-05-01')).id);
    }
  });
  afterAll(() => plant.stop());

  async function failAndRepair(motor: string): Promise<void> {
    const { repair } = await runMotor(plant, motor, failing);
    await closeRepair(plant, repair ?? 0);
  }
  const answersOf = async (id: number | undefined, query = '') =>
    (await plant.get('read', `/v1/returns/${id}/answers${query}`)).body;
  const sharedOf = async (factor: string, value: string) =>
    (await answersOf(returns[0])).shared.items.find(
      (one: Compared) => one.factor === factor && one.value === value,
    );
  const serialsOf = (rows: { motor: string }[]) => rows.map((one) => one.motor);

  it('give the tree as released, with the returned unit marked, the set, runs and repairs', async () => {
    const answers = await answersOf(returns[0]);
    expect(answers.return).toMatchObject({ serial: powerhead, motor: motors[0] });
    expect(answers.tree).toHaveLength(3);
    expect(answers.tree.filter((one: { asked: boolean }) => one.asked)).toMatchObject([
      { serial: powerhead, parent: motors[0] },
    ]);
    expect(answers.tree[1].lots).toMatchObject([{ part: 'PRIMER', lot: 'BAD' }]);
    expect(answers.sets).toMatchObject([{ configuration: 'F100L-A', station: 'SET-1' }]);
    expect(answers.runs).toMatchObject([
      { verdict: 'fail', attempt: 1 },
      { verdict: 'pass', attempt: 2, cell: 'X' },
    ]);
    expect(answers.runs[1].judgements).toHaveLength(3);
    expect(answers.repairs).toMatchObject([{ outcome: 'repaired', cause: 'impeller' }]);
  });

  it('place each margin among those of all motors tested within the window', async () => {
    const { margins, runs } = await answersOf(returns[0]);
    expect(margins).toMatchObject({ run: runs[1].id, motors: 12 });
    expect(margins.items.map((one: { code: string }) => one.code)).toEqual([
      'idle-speed',
      'water-pressure',
    ]);
    const [idle, pressure] = margins.items;
    // All twelve idle at 650, in the middle: none below, twelve equal, half of them counted.
    expect(idle).toMatchObject({ margin: 1, percentile: 50, n: 12 });
    // Accepted from 55 to 145 kPa: 60 is 5 of 45 inside. The lowest of twelve: 0.5 / 12.
    expect(pressure).toMatchObject({ value: 60, unit: 'kPa', n: 12 });
    expect(pressure.margin).toBeCloseTo(5 / 45, 12);
    expect(pressure.percentile).toBeCloseTo(100 / 24, 12);
    const second = (await answersOf(returns[1])).margins.items[1];
    // One below it, itself equal: 1.5 / 12.
    expect(second.percentile).toBeCloseTo(12.5, 12);
  });

  it('leave out motors that were tested outside the window', async () => {
    const { margins } = await answersOf(returns[0], '?windowDays=6');
    expect(margins.motors).toBe(6);
    expect(margins.items[1].percentile).toBeCloseTo(100 / 12, 12);
  });

  it('name the motors tested before and after in the cell, the nearest first', async () => {
    const { cell } = (await answersOf(returns[4], '?neighbours=2')).neighbours;
    expect(cell.cell).toBe('X');
    expect(serialsOf(cell.before)).toEqual([motors[2], motors[0]]);
    expect(serialsOf(cell.after)).toEqual([motors[6], motors[8]]);
    expect(cell.before[0]).toMatchObject({ state: 'released', returns: 1, verdict: 'pass' });
    expect(cell.after[0]).toMatchObject({ returns: 0 });
    const first = (await answersOf(returns[0])).neighbours.cell;
    expect(serialsOf(first.before)).toEqual([]);
    expect(serialsOf(first.after)).toEqual([2, 4, 6, 8, 10].map((i) => motors[i]));
  });

  it('name the motors that share each lot, and those set at the station in the hour', async () => {
    const { lots, station } = (await answersOf(returns[0])).neighbours;
    expect(lots).toEqual([
      { part: 'PRIMER', partRevision: '1', lot: 'BAD', motors: 4, serials: motors.slice(1, 5) },
    ]);
    // The first six were set from 06:00 on, within minutes.
    expect(station).toMatchObject({
      station: 'SET-1',
      from: '2026-03-02T06:00:00.000Z',
      until: '2026-03-02T07:00:00.000Z',
      motors: 5,
    });
    expect(serialsOf(station.items)).toEqual(motors.slice(1, 6));
  });

  it('list the other returns with the symptom', async () => {
    const { alike } = await answersOf(returns[0]);
    expect(alike.motors).toBe(6);
    expect(alike.items.map((one: { id: number }) => one.id)).toEqual(returns.slice(1).reverse());
  });

  it('compare what at least two of the returned motors share, the smallest p first', async () => {
    const { shared } = await answersOf(returns[0]);
    // GOOD and week 11 are borne by one returned motor and by none: no candidates.
    expect(shared).toMatchObject({ returned: 6, population: 12, candidates: 6, comparisons: 6 });
    expect(shared.method).toContain('all 6');
    expect(shared.items.map((one: Compared) => `${one.factor} ${one.value}`)).toEqual([
      'set-week 2026-W10',
      'lot PRIMER 1 BAD',
      'repair-cause impeller',
      'configuration F100L-A 1',
      'cell X',
      'cell Y',
    ]);
  });

  it('count a lot by hand: five of five came back, and one of seven without it', async () => {
    const lot = await sharedOf('lot', 'PRIMER 1 BAD');
    expect(lot).toMatchObject({ returnedWith: 5, with: 5, returnedWithout: 1, without: 7 });
    expect(lot.riskRatio).toBeCloseTo(7, 12);
    // Six of the C(12, 5) = 792 ways to deal the lot have all five returned, six have none.
    expect(lot.p).toBeCloseTo(12 / 792, 12);
    // The second smallest of six.
    expect(lot.pAdjusted).toBeCloseTo((5 * 12) / 792, 12);
    // Published checks of the interval: tests/published/rate-ratio.test.ts.
    const { lower, upper } = riskRatio({ events1: 5, trials1: 5, events2: 1, trials2: 7 });
    expect(lot).toMatchObject({ lower, upper });
  });

  it('give a ratio without bound no number, yet its lower end', async () => {
    const week = await sharedOf('set-week', '2026-W10');
    expect(week).toMatchObject({ returnedWith: 6, with: 6, returnedWithout: 0, without: 6 });
    expect(week).toMatchObject({ riskRatio: null, upper: null });
    expect(week.lower).toBeGreaterThan(1);
    // Two of the C(12, 6) = 924 ways are as far out; the smallest of six.
    expect(week.p).toBeCloseTo(2 / 924, 12);
    expect(week.pAdjusted).toBeCloseTo(12 / 924, 12);
  });

  it('find nothing where all motors, or as many on either side, bear a value', async () => {
    expect(await sharedOf('configuration', 'F100L-A 1')).toMatchObject({
      returnedWith: 6,
      with: 12,
      without: 0,
      riskRatio: null,
      lower: null,
      p: 1,
    });
    expect(await sharedOf('cell', 'Y')).toMatchObject({
      with: 6,
      riskRatio: 1,
      p: 1,
      pAdjusted: 1,
    });
    // Two of two against four of ten: 2.5; 15 + 15 of C(12, 2) = 66 ways.
    const cause = await sharedOf('repair-cause', 'impeller');
    expect(cause.riskRatio).toBeCloseTo(2.5, 12);
    expect(cause.p).toBeCloseTo(30 / 66, 12);
  });

  it('count a motor that came back twice once, and compare nothing for a lone return', async () => {
    await bringBack(plant, motors[0] ?? '', '2026-05-03');
    const { shared, alike } = await answersOf(returns[1]);
    expect(shared).toMatchObject({ returned: 6, candidates: 6 });
    expect(alike).toMatchObject({ motors: 6 });
    expect(alike.items).toHaveLength(6);
    const lone = await bringBack(plant, motors[7] ?? '', '2026-05-03', { symptom: 'stalls' });
    expect((await answersOf(lone.id)).shared).toMatchObject({
      returned: 1,
      population: 12,
      candidates: 0,
      items: [],
    });
  });

  it.each(['windowDays=0', 'windowDays=181', 'neighbours=21', 'neighbours=x', 'days=3'])(
    'refuse %s',
    async (query) => {
      expect((await answersOf(returns[0], `?${query}`)).type).toBe('/problems/request-invalid');
    },
  );

  it('refuse an unknown return', async () => {
    expect((await answersOf(999)).type).toBe('/problems/return-unknown');
  });

  it('change nothing: the journal still rebuilds the file', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
