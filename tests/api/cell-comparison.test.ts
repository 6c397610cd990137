import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { meanInterval } from '../../src/statistics/mean-interval.js';
import { moments } from '../../src/statistics/moments.js';
import { studentTQuantile } from '../../src/statistics/student-t.js';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, passing, refused, setMotor, specify } from '../support/scenario.js';

/** The tooth lengths of R's data set ToothGrowth by dose 0.5, 1 and 2. */
const doses: Readonly<Record<string, readonly number[]>> = {
  'CELL-A': [
    4.2, 11.5, 7.3, 5.8, 6.4, 10, 11.2, 11.2, 5.2, 7, 15.2, 21.5, 17.6, 9.7, 14.5, 10, 8.2, 9.4,
    16.5, 9.7,
  ],
  'CELL-B': [
    16.5, 16.5, 15.2, 17.3, 22.5, 17.3, 13.6, 14.5, 18.8, 15.5, 19.7, 23.3, 23.6, 26.4, 20, 25.2,
    25.8, 21.2, 14.5, 27.3,
  ],
  'CELL-C': [
    23.6, 18.5, 33.9, 25.5, 26.4, 32.5, 26.7, 21.5, 23.3, 29.5, 25.5, 26.4, 22.4, 24.5, 24.8, 30.9,
    26.4, 27.3, 29.4, 23,
  ],
};
const cellNames = ['CELL-A', 'CELL-B', 'CELL-C'];
const valuesOf = (cell: string) => [...(doses[cell] ?? [])];

const specification = {
  model: 'F100L',
  note: 'Flow of the pump',
  prompts: [
    {
      text: 'Run at half speed',
      characteristics: [
        {
          ...{ kind: 'measured', code: 'flow', name: 'Flow', unit: 'L/min', decimals: 1 },
          ...{ lower: 0, upper: 40 },
        },
      ],
    },
  ],
};
const query = 'model=F100L&characteristic=flow';
const DAY = 24 * 60 * 60 * 1000;

async function measure(plant: TestPlant, cell: string, value: number): Promise<void> {
  const run = await openRun(plant, (await setMotor(plant)).motor, cell);
  plant.wait(1000);
  const readings = [{ code: 'flow', value }];
  await plant.make('cell', `/v1/runs/${run}/completion`, { readings });
}

interface Line {
  cell: string;
  count: number;
  mean: number;
  lower: number;
  upper: number;
  link: string;
}

interface Week extends Line {
  week: string;
  fromDay: string;
  untilDay: string;
}

describe('test cells compared', () => {
  let plant: TestPlant;
  const ask = async (more = '') =>
    (await plant.get('read', `/v1/cells/comparison?${query}${more}`)).body;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone: 'Europe/Helsinki' });
    await furnish(plant);
    await specify(plant, specification);
    // Twenty rounds, one a day from Monday 2 March 2026 on, the cells in turn.
    for (let round = 0; round < 20; round += 1) {
      for (const cell of ['CELL-C', 'CELL-A', 'CELL-B']) {
        await measure(plant, cell, valuesOf(cell)[round] ?? 0);
      }
      plant.wait(DAY);
    }
  });
  afterAll(() => plant.stop());

  it('have each its mean, deviation, extremes and Ppk, with the runs behind', async () => {
    const { cells, count, lower, upper } = await ask();
    expect([count, lower, upper]).toEqual([60, 0, 40]);
    // R prints the means of the doses as 10.605, 19.735 and 26.100.
    const means = [10.605, 19.735, 26.1];
    for (const [i, cell] of cellNames.entries()) {
      const values = valuesOf(cell);
      const { standardDeviation: s } = moments(values);
      const mean = means[i] ?? 0;
      expect(cells[i]).toMatchObject({
        cell,
        count: 20,
        mean: expect.closeTo(mean, 12),
        standardDeviation: expect.closeTo(s, 12),
        lowest: Math.min(...values),
        highest: Math.max(...values),
        // NIST/SEMATECH e-Handbook 6.1.6: the nearer limit over 3s.
        ppk: expect.closeTo(Math.min(mean, 40 - mean) / (3 * s), 12),
        reason: null,
      });
      const items = (await plant.get('read', cells[i].link)).body.items;
      expect(items.map((one: { value: number }) => one.value)).toEqual(values);
    }
  });

  it('have the analysis of variance of R’s ToothGrowth by dose, and Welch’s', async () => {
    const { anova, welch } = await ask();
    // As tests/published/anova.test.ts: R's package jmv, further digits and p by SciPy 1.17.1.
    expect(anova).toMatchObject({
      between: { degreesOfFreedom: 2 },
      within: { degreesOfFreedom: 57 },
    });
    expect(anova.f).toBeCloseTo(67.4157378567425, 10);
    expect(anova.pValue / 9.532727011699893e-16).toBeCloseTo(1, 8);
    expect(welch.f).toBeCloseTo(68.4009767771839, 10);
    expect(welch.degreesOfFreedomWithin).toBeCloseTo(37.743, 3);
    expect(welch.pValue / 2.8123845436149813e-13).toBeCloseTo(1, 8);
    expect([anova.reason, welch.reason]).toEqual([null, null]);
  });

  it('differ in every pair as R’s t.test says of the doses, Bonferroni’s share counted', async () => {
    const { pairs, multiplicity } = await ask();
    // R, t.test(len ~ dose) of two doses: t, df and p as many public notebooks print them.
    const printed = [
      ['CELL-A', 'CELL-B', -6.4766, 37.986, 1.268e-7],
      ['CELL-A', 'CELL-C', -11.799, 36.883, 4.398e-14],
      ['CELL-B', 'CELL-C', -4.9005, 37.101, 1.906e-5],
    ] as const;
    expect(pairs).toHaveLength(3);
    for (const [i, [first, second, t, df, p]] of printed.entries()) {
      const pair = pairs[i];
      expect(pair).toMatchObject({ first, second, differs: true, reason: null });
      expect(pair.pValue / (3 * p)).toBeCloseTo(1, 3);
      const reach = studentTQuantile(1 - 0.05 / 6, df) * (pair.difference / t);
      expect(pair.lower).toBeCloseTo(pair.difference - reach, 3);
      expect(pair.upper).toBeCloseTo(pair.difference + reach, 3);
    }
    expect(multiplicity).toMatch(/each of the 3 pairs has an interval at 1 - 0.05\/3/);
  });

  it('have their pairs as a table of their own, as CSV too', async () => {
    const { pairs } = await ask();
    const table = await plant.get('read', `/v1/cells/comparison/pairs?${query}`);
    expect(table.body).toEqual({ items: pairs, next: null });
    const csv = await plant.get('read', `/v1/cells/comparison/pairs?${query}`, {
      headers: { Accept: 'text/csv' },
    });
    const [head, line] = csv.text.split('\r\n');
    expect(head).toBe('first,second,difference,lower,upper,pValue,differs,reason');
    expect(line).toMatch(/^CELL-A,CELL-B,-9\.1[23]\d*,-12\.66\d*,-5\.59\d*,/);
  });

  it('have a mean for each ISO week of the plant’s time zone, so that drift shows', async () => {
    const { weeks } = await ask();
    expect(weeks.map((one: Week) => [one.cell, one.week, one.count])).toEqual(
      cellNames.flatMap((cell) => [
        // Monday 2 March 2026 is of week 10 (ISO 8601); twenty days reach into week 12.
        [cell, '2026-W10', 7],
        [cell, '2026-W11', 7],
        [cell, '2026-W12', 6],
      ]),
    );
    const second = weeks[4] as Week;
    expect(second).toMatchObject({ fromDay: '2026-03-09', untilDay: '2026-03-15' });
    const values = valuesOf('CELL-B').slice(7, 14);
    const { lower, upper } = meanInterval(moments(values));
    expect(second.mean).toBeCloseTo(values.reduce((sum, one) => sum + one, 0) / 7, 12);
    expect([second.lower, second.upper]).toEqual([lower, upper]);
    const items = (await plant.get('read', second.link)).body.items;
    expect(items.map((one: { value: number }) => one.value)).toEqual(values);
    const table = await plant.get('read', `/v1/cells/comparison/weeks?${query}`, {
      headers: { Accept: 'text/csv' },
    });
    expect(table.text.split('\r\n')[0]).toBe(
      'cell,week,fromDay,untilDay,count,mean,standardDeviation,lower,upper,reason,link',
    );
  });

  it('have their weeks page by page', async () => {
    const { weeks } = await ask();
    const found: Week[] = [];
    let next: string | null = `/v1/cells/comparison/weeks?${query}&limit=2`;
    while (next !== null) {
      const { body } = await plant.get('read', next);
      expect(body.items.length).toBeLessThanOrEqual(2);
      found.push(...body.items);
      next = body.next;
    }
    expect(found).toEqual(weeks);
  });

  it('show the last 53 weeks beside the rest, and all of them in the table', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    const weeksApart = [0, 10, 45, 52, 53];
    let week = 0;
    for (const wanted of weeksApart) {
      own.wait((wanted - week) * 7 * 24 * 60 * 60 * 1000);
      week = wanted;
      const { motor } = await setMotor(own);
      const run = await openRun(own, motor, 'CELL-A');
      await own.make('cell', `/v1/runs/${run}/completion`, { readings: passing });
    }
    const of = 'model=F100L&characteristic=water-pressure';
    const { body } = await own.get('read', `/v1/cells/comparison?${of}`);
    expect(body.count).toBe(5);
    expect(body.weeks).toHaveLength(4);
    const table = await own.get('read', `/v1/cells/comparison/weeks?${of}`);
    expect(table.body.items).toHaveLength(5);
    expect(table.body.items.slice(1)).toEqual(body.weeks);
    await own.stop();
  });

  it('are compared within a window', async () => {
    const found = await ask('&fromDay=2026-03-04&untilDay=2026-03-06');
    expect(found).toMatchObject({ count: 9, window: { from: '2026-03-03T22:00:00.000Z' } });
    const [first] = found.weeks as Week[];
    expect(first).toMatchObject({ cell: 'CELL-A', count: 3, week: '2026-W10' });
    expect((await plant.get('read', first?.link ?? '')).body.items).toHaveLength(3);
    const one = await ask('&untilDay=2026-03-02');
    expect(one.cells[0]).toMatchObject({ count: 1, mean: 4.2, standardDeviation: null });
    expect(one.cells[0].reason).toMatch(/one value only/);
    expect(one.anova).toMatchObject({ f: null, between: null });
    expect(one.anova.reason).toMatch(/two cells with two values/);
    const none = await ask('&untilDay=2026-03-01');
    expect(none).toMatchObject({ count: 0, cells: [], pairs: [], weeks: [] });
  });

  it('are not compared by what does not exist', async () => {
    const get = (address: string) => () => plant.get('read', `/v1/cells/comparison${address}`);
    await refused(plant, 'model-unknown', get('?model=F9&characteristic=flow'));
    await refused(plant, 'characteristic-unknown', get('/pairs?model=F100L&characteristic=no'));
    await refused(plant, 'request-invalid', get(`/weeks?${query}&cell=CELL-A`));
  });
});
