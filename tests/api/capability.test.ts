import cdf from '@stdlib/stats-base-dists-normal-cdf';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { START, TestPlant } from '../support/plant.js';
import { closeRepair, furnish, openRun, refused, setMotor, specify } from '../support/scenario.js';

/** The tooth lengths of R's data set ToothGrowth in its order by dose. */
const lengths = [
  4.2, 11.5, 7.3, 5.8, 6.4, 10, 11.2, 11.2, 5.2, 7, 15.2, 21.5, 17.6, 9.7, 14.5, 10, 8.2, 9.4, 16.5,
  9.7, 16.5, 16.5, 15.2, 17.3, 22.5, 17.3, 13.6, 14.5, 18.8, 15.5, 19.7, 23.3, 23.6, 26.4, 20, 25.2,
  25.8, 21.2, 14.5, 27.3, 23.6, 18.5, 33.9, 25.5, 26.4, 32.5, 26.7, 21.5, 23.3, 29.5, 25.5, 26.4,
  22.4, 24.5, 24.8, 30.9, 26.4, 27.3, 29.4, 23,
];
const n = lengths.length;
/** As R prints them: mean(len) and sd(len). */
const MEAN = 18.81333;
const DEVIATION = 7.649315;
const HOUR = 60 * 60 * 1000;

const draft = (limits: object) => ({
  model: 'F100L',
  note: 'Flow of the pump',
  prompts: [
    {
      text: 'Run at half speed',
      characteristics: [
        { kind: 'measured', code: 'flow', name: 'Flow', unit: 'L/min', decimals: 1, ...limits },
        {
          kind: 'measured',
          code: 'bare/1',
          name: 'Bare',
          unit: 'kPa',
          required: false,
          decimals: 1,
        },
        {
          ...{ kind: 'measured', code: 'heat', name: 'Heat', unit: 'Cel', required: false },
          ...{ upper: 90, nominal: 60, decimals: 1 },
        },
        { kind: 'attribute', code: 'dry', name: 'Dry', expected: true, required: false },
      ],
    },
  ],
});
const firstLimits = { lower: 5, upper: 35, guardBand: 2 };

interface Done {
  id: number;
  motor: string;
  repair: number | null;
}

/** Runs a motor, a fresh one unless said, with a value of the flow and what else is said. */
async function measure(
  plant: TestPlant,
  value: number,
  more: { motor?: string; cell?: string; others?: object[] } = {},
): Promise<Done> {
  const motor = more.motor ?? (await setMotor(plant)).motor;
  const id = await openRun(plant, motor, more.cell);
  plant.wait(60_000);
  const readings = [{ code: 'flow', value }, ...(more.others ?? [])];
  const { repair } = await plant.make<{ repair: number | null }>(
    'cell',
    `/v1/runs/${id}/completion`,
    { readings },
  );
  return { id, motor, repair };
}

const ask = async (plant: TestPlant, query = '', characteristic = 'flow') => {
  const address = `/v1/capability?model=F100L&characteristic=${characteristic}${query}`;
  return (await plant.get('read', address)).body;
};
const follow = async (plant: TestPlant, link: string) => (await plant.get('read', link)).body.items;

describe('the capability of one characteristic', () => {
  let plant: TestPlant;
  const done: Done[] = [];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, draft(firstLimits));
    for (const [i, value] of lengths.entries()) {
      done.push(await measure(plant, value, { cell: `CELL-${i % 3}` }));
      plant.wait(HOUR);
    }
  });
  afterAll(() => plant.stop());

  it('states what it is of: values, unit, limits, window and runs', async () => {
    expect(await ask(plant)).toMatchObject({
      model: 'F100L',
      characteristic: { code: 'flow', name: 'Flow', unit: 'L/min', revision: 2 },
      window: { from: null, until: null },
      cell: null,
      runs: 'first',
      subgroup: null,
      count: n,
      reason: null,
      limitsChanged: false,
      specification: { lower: 5, upper: 35 },
      acceptance: { lower: 7, upper: 33, guardBand: 2 },
    });
  });

  it('has the mean and deviation that R prints, and Pp and Ppk from them', async () => {
    const { moments, specification, spread } = await ask(plant);
    expect(moments.mean).toBeCloseTo(MEAN, 5);
    expect(moments.standardDeviation).toBeCloseTo(DEVIATION, 6);
    expect([moments.lowest, moments.highest]).toEqual([4.2, 33.9]);
    expect(spread.overall).toMatchObject({ degreesOfFreedom: 59 });
    // NIST/SEMATECH e-Handbook 6.1.6: (U - L) / 6s, and the nearer limit over 3s.
    const { pp, ppl, ppu, ppk } = specification.overall;
    expect(pp.estimate).toBeCloseTo(30 / (6 * DEVIATION), 6);
    expect(ppl.estimate).toBeCloseTo((MEAN - 5) / (3 * DEVIATION), 5);
    expect(ppu.estimate).toBeCloseTo((35 - MEAN) / (3 * DEVIATION), 5);
    expect(ppk).toEqual(ppl);
    // Pp √(χ²/59) with the table's 39.662 and 82.117 (from memory).
    expect(pp.lower).toBeCloseTo(pp.estimate * Math.sqrt(39.662 / 59), 4);
    expect(pp.upper).toBeCloseTo(pp.estimate * Math.sqrt(82.117 / 59), 4);
    // Bissell, Appl. Statist. 39 (1990) 331: Ppk ± z √(1/9n + Ppk²/2ν).
    const reach = 1.959964 * Math.sqrt(1 / (9 * n) + ppk.estimate ** 2 / (2 * 59));
    expect(ppk.lower).toBeCloseTo(ppk.estimate - reach, 6);
    expect(ppk.upper).toBeCloseTo(ppk.estimate + reach, 6);
  });

  it('has Cp and Cpk from the moving ranges in the order of time', async () => {
    const { spread, specification } = await ask(plant);
    let ranges = 0;
    for (let i = 1; i < n; i += 1) ranges += Math.abs((lengths[i] ?? 0) - (lengths[i - 1] ?? 0));
    // NIST/SEMATECH e-Handbook 6.3.2.2: mean range over d2, 1.128 rounded.
    const within = ranges / (n - 1) / 1.128;
    expect(spread.within.standardDeviation / within).toBeCloseTo(1, 3);
    const { cp, cpk, cpl } = specification.within;
    expect(cp.estimate / (30 / (6 * within))).toBeCloseTo(1, 3);
    expect(cpk).toEqual(cpl);
    expect(cp.estimate).toBeGreaterThan(specification.overall.pp.estimate);
  });

  it('pools consecutive subgroups where their size is said', async () => {
    const { spread, subgroup } = await ask(plant, '&subgroup=20');
    expect(subgroup).toBe(20);
    // R's ToothGrowth by dose: the within mean square of its analysis of variance,
    // F = 67.42 with 2426.434 between two degrees of freedom, 57 within (from memory).
    expect(spread.within.degreesOfFreedom).toBe(57);
    expect(spread.within.standardDeviation ** 2).toBeCloseTo(2426.434 / 2 / 67.4157378567425, 3);
    expect(spread.within.estimator).toMatch(/subgroups of 20/);
  });

  it('expects what a normal process has outside, and counts what is, by both limits', async () => {
    const { specification, acceptance } = await ask(plant);
    const below = cdf(5, MEAN, DEVIATION);
    const above = 1 - cdf(35, MEAN, DEVIATION);
    expect(specification.overall.expectedOutside.below).toBeCloseTo(below, 6);
    expect(specification.overall.expectedOutside.above).toBeCloseTo(above, 6);
    expect(specification.overall.expectedOutside.total).toBeCloseTo(below + above, 6);
    // By hand: 4.2 is below 5; 4.2, 5.8, 6.4 and 5.2 are below 7; 33.9 is above 33; 7 is on a limit.
    expect(specification.observedOutside).toMatchObject({
      below: { count: 1, fraction: 1 / 60 },
      above: { count: 0, fraction: 0 },
      total: { count: 1 },
    });
    expect(acceptance.observedOutside).toMatchObject({
      below: { count: 4 },
      above: { count: 1 },
      total: { count: 5, fraction: 5 / 60 },
    });
  });

  it('opens the runs behind each count', async () => {
    const { link, acceptance, specification, histogram } = await ask(plant);
    expect(await follow(plant, link)).toHaveLength(n);
    const sides = acceptance.observedOutside;
    const low = await follow(plant, sides.below.link);
    expect(low.map((one: { value: number }) => one.value)).toEqual([4.2, 5.8, 6.4, 5.2]);
    expect(low[0]).toMatchObject({
      run: done[0]?.id,
      motor: done[0]?.motor,
      cell: 'CELL-0',
      attempt: 1,
      revision: 2,
      unit: 'L/min',
      withinSpecification: false,
      withinAcceptance: false,
    });
    expect(low[1]).toMatchObject({ withinSpecification: true, withinAcceptance: false });
    const high = await follow(plant, sides.above.link);
    expect(high.map((one: { value: number }) => one.value)).toEqual([33.9]);
    expect(await follow(plant, sides.total.link)).toHaveLength(5);
    expect(await follow(plant, specification.observedOutside.below.link)).toHaveLength(1);
    expect(await follow(plant, specification.observedOutside.total.link)).toHaveLength(1);
    expect(await follow(plant, specification.observedOutside.above.link)).toEqual([]);
    for (const { count, link: own } of histogram.classes) {
      expect(await follow(plant, own)).toHaveLength(count);
    }
  });

  it('tests for normality as Anderson and Darling do', async () => {
    const { normality, method } = await ask(plant);
    const sorted = [...lengths].sort((a, b) => a - b);
    const z = sorted.map((value) => cdf(value, MEAN, DEVIATION));
    // A² as Stephens writes it, with a general-purpose library's normal distribution.
    const sum = z.reduce(
      (all, below, i) => all + (2 * i + 1) * (Math.log(below) + Math.log(1 - (z[n - 1 - i] ?? 0))),
      0,
    );
    const statistic = -n - sum / n;
    expect(normality.statistic).toBeCloseTo(statistic, 5);
    expect(normality.modified).toBeCloseTo(statistic * (1 + 0.75 / n + 2.25 / n ** 2), 5);
    // R, shapiro.test(len): p = 0.1091 (from memory); another test of the same sixty values, and no objection.
    expect(normality).toMatchObject({ normal: true, reason: null });
    expect(method).toMatchObject({ read: 'normal' });
    expect(method.why).toContain('p = 0.');
  });

  it('gives no outer points and no percentile indices from so few values, and says why', async () => {
    const { points, specification } = await ask(plant);
    expect(points).toMatchObject({ lower: null, upper: null, quantileType: 7 });
    // R, median(len).
    expect(points.median).toBe(19.25);
    expect(specification.percentile).toMatchObject({ pp: null, ppk: null });
    expect(specification.percentile.reason).toMatch(/Fewer than 741 values/);
  });

  it('names the motors of the outermost values', async () => {
    const { lowest, highest } = await ask(plant);
    const values = (ends: { value: number }[]) => ends.map((one) => one.value);
    expect(values(lowest)).toEqual([4.2, 5.2, 5.8, 6.4, 7]);
    expect(values(highest)).toEqual([33.9, 32.5, 30.9, 29.5, 29.4]);
    const place = lengths.indexOf(33.9);
    expect(highest[0]).toMatchObject({ run: done[place]?.id, motor: done[place]?.motor });
    const run = await plant.get('read', highest[0].link);
    expect(run.body).toMatchObject({ motor: highest[0].motor, endedAt: highest[0].endedAt });
  });

  it('takes one cell, and a window by instants or by days', async () => {
    const cell = await ask(plant, '&cell=CELL-1');
    expect(cell).toMatchObject({ cell: 'CELL-1', count: 20 });
    expect(await follow(plant, cell.link)).toHaveLength(20);
    expect((await ask(plant, '&cell=CELL-9')).count).toBe(0);
    const runs = await plant.get('read', '/v1/runs?limit=100');
    const ends = (runs.body.items as { endedAt: string }[]).map((one) => one.endedAt);
    const [from, until] = [ends[10], ends[30]];
    const some = await ask(plant, `&from=${from}&until=${until}`);
    expect(some).toMatchObject({ count: 20, window: { from, until } });
    const items = await follow(plant, some.link);
    expect(items.map((one: { value: number }) => one.value)).toEqual(lengths.slice(10, 30));
    const onDay = ends.filter((one) => one.startsWith('2026-03-03')).length;
    const day = await ask(plant, '&fromDay=2026-03-03&untilDay=2026-03-03');
    expect(day).toMatchObject({
      count: onDay,
      window: { from: '2026-03-03T00:00:00.000Z', until: '2026-03-04T00:00:00.000Z' },
    });
    expect(onDay).toBeGreaterThan(20);
  });

  it('pages the readings, and gives them as CSV', async () => {
    const seen: number[] = [];
    let address: string | null = '/v1/models/F100L/characteristics/flow/readings?limit=25';
    let pages = 0;
    while (address) {
      const answer = await plant.get('read', address);
      seen.push(...answer.body.items.map((one: { value: number }) => one.value));
      address = answer.body.next;
      pages += 1;
    }
    expect(pages).toBe(3);
    expect(seen).toEqual(lengths);
    const csv = await plant.get(
      'read',
      '/v1/models/F100L/characteristics/flow/readings?valueFrom=30&valueUntil=33.9',
      { headers: { Accept: 'text/csv' } },
    );
    const [head, ...lines] = csv.text.trimEnd().split('\r\n');
    expect(head).toBe(
      'run,motor,cell,endedAt,attempt,revision,value,unit,withinSpecification,withinAcceptance',
    );
    expect(lines.map((line) => line.split(',')[6])).toEqual(['32.5', '30.9']);
  });

  it('refuses what does not exist and what contradicts itself', async () => {
    const get = (query: string) => () => plant.get('read', `/v1/capability${query}`);
    await refused(plant, 'model-unknown', get('?model=F9&characteristic=flow'));
    await refused(plant, 'characteristic-unknown', get('?model=F100L&characteristic=other'));
    await refused(plant, 'characteristic-unknown', get('?model=F100L&characteristic=dry'));
    await refused(plant, 'model-unknown', get('/overview?model=F9'));
    await refused(plant, 'request-invalid', get('?model=F100L'));
    const one = '?model=F100L&characteristic=flow';
    await refused(plant, 'request-invalid', get(`${one}&subgroup=1`));
    await refused(plant, 'request-invalid', get(`${one}&runs=last`));
    const readings = (more: string) => () =>
      plant.get('read', `/v1/models/F100L/characteristics/${more}`);
    await refused(plant, 'characteristic-unknown', readings('dry/readings'));
    await refused(plant, 'request-invalid', readings('flow/readings?valueFrom=many'));
    await refused(plant, 'request-invalid', readings('flow/readings?valueFrom=1e999'));
    await refused(plant, 'request-invalid', readings('flow/readings?after=x'));
    const twice = await refused(
      plant,
      'request-invalid',
      get(`${one}&from=2026-03-02T00:00:00Z&fromDay=2026-03-02`),
    );
    expect(twice.errors).toEqual([{ parameter: 'fromDay', detail: 'cannot stand beside `from`' }]);
    await refused(
      plant,
      'request-invalid',
      get(`${one}&until=2026-03-02T00:00:00Z&untilDay=2026-03-02`),
    );
  });

  it('has a line of it in the overview of the model, as JSON and as CSV', async () => {
    const { items } = (await plant.get('read', '/v1/capability/overview?model=F100L')).body;
    expect(items.map((one: { characteristic: string }) => one.characteristic)).toEqual([
      'flow',
      'bare/1',
      'heat',
      'idle-speed',
      'water-pressure',
    ]);
    const whole = await ask(plant);
    expect(items[0]).toMatchObject({
      count: n,
      unit: 'L/min',
      mean: whole.moments.mean,
      standardDeviation: whole.moments.standardDeviation,
      lower: 5,
      upper: 35,
      cpk: whole.specification.within.cpk.estimate,
      ppk: whole.specification.overall.ppk.estimate,
      ppkPercentile: null,
      outsideSpecification: 1 / 60,
      outsideAcceptance: 5 / 60,
      normal: true,
      method: 'normal',
    });
    const { window, ...own } = (await plant.get('read', items[0].link)).body;
    expect(own).toMatchObject({ moments: whole.moments, method: whole.method, count: n });
    expect(window).toEqual({
      from: new Date(plant.now - 365 * 24 * HOUR).toISOString(),
      until: null,
    });
    expect(items[1]).toMatchObject({ count: 0, mean: null, method: 'none', lower: null });
    expect(items[2]).toMatchObject({ count: 0, why: 'There is no value.' });
    const pooled = await plant.get('read', '/v1/capability/overview?model=F100L&subgroup=20');
    const again = await plant.get('read', pooled.body.items[0].link);
    expect(again.body).toMatchObject({ subgroup: 20 });
    expect(pooled.body.items[0].cpk).toBe(again.body.specification.within.cpk.estimate);
    const early = await plant.get(
      'read',
      '/v1/capability/overview?model=F100L&untilDay=2026-03-02&fromDay=2020-01-01',
    );
    const firstDay = await ask(plant, '&untilDay=2026-03-02');
    expect(early.body.items[0].count).toBe(firstDay.count);
    const last = await plant.get('read', '/v1/capability/overview?model=F100L&untilDay=2026-03-02');
    expect(last.body.items[0].link).toContain('from=2025-03-03T00');
    const csv = await plant.get('read', '/v1/capability/overview?model=F100L', {
      headers: { Accept: 'text/csv' },
    });
    const [head, first] = csv.text.split('\r\n');
    expect(head).toBe(
      'characteristic,name,unit,count,mean,standardDeviation,lower,upper,cpk,ppk,ppkPercentile,outsideSpecification,outsideAcceptance,normal,method,why,link',
    );
    expect(first).toMatch(/^flow,Flow,L\/min,60,18\.8/);
  });
});

describe('too few values', () => {
  it('give null and a reason, never a figure that is none', async () => {
    const plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, draft(firstLimits));
    const none = await ask(plant);
    expect(none).toMatchObject({ count: 0, reason: 'There is no value.', lowest: [] });
    expect(none.method).toEqual({ read: 'none', why: 'There is no value.' });
    expect(none.revisions).toMatchObject([{ revision: 2, count: 0 }]);
    await measure(plant, 20, { others: [{ code: 'heat', value: 60 }] });
    const one = await ask(plant);
    expect(one.reason).toMatch(/one value only/);
    expect(one.specification.overall).toMatchObject({ ppk: null, reason: one.reason });
    expect(one.specification.observedOutside.total).toMatchObject({ count: 0, fraction: 0 });
    await measure(plant, 22, {
      others: [
        { code: 'heat', value: 64 },
        { code: 'bare/1', value: 1 },
      ],
    });
    const two = await ask(plant);
    // √2 is the deviation of two values that are 2 apart.
    expect(two.specification.overall.pp.estimate).toBeCloseTo(30 / (6 * Math.SQRT2), 12);
    expect(two.normality).toMatchObject({ normal: null, reason: 'The test needs 8 values.' });
    expect(two.method.why).toMatch(/provisional/);
    const heat = await ask(plant, '', 'heat');
    expect(heat.specification.within).toMatchObject({ cp: null, cpl: null });
    expect(heat.specification.within.reason).toBe('There is one limit only.');
    expect(heat.specification.within.cpk.estimate).toBe(heat.specification.within.cpu.estimate);
    expect(heat.specification.observedOutside.below).toBeNull();
    const bare = await ask(plant, '', 'bare/1');
    expect(bare.specification.overall.reason).toBe('There is no limit to be capable of.');
    expect(bare.specification.observedOutside).toBeNull();
    expect(await follow(plant, bare.link)).toMatchObject([{ value: 1, unit: 'kPa' }]);
    await plant.stop();
  });

  it('and values too large to square are said to be such', async () => {
    const plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, draft(firstLimits));
    for (const value of [20, 1e300, -1e300]) await measure(plant, value);
    const answer = await ask(plant);
    expect(answer.reason).toMatch(/cannot be squared/);
    expect(answer.specification.observedOutside.total.count).toBe(2);
    expect(answer.histogram).toMatchObject({ classes: [], reason: answer.reason });
    const { body } = await plant.get(
      'read',
      '/v1/cells/comparison?model=F100L&characteristic=flow',
    );
    expect(body.cells).toHaveLength(3);
    await plant.stop();
  });
});

describe('first runs and all runs', () => {
  it('differ by motors that were tested again', async () => {
    const plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, draft(firstLimits));
    await measure(plant, 20);
    const failed = await measure(plant, 40);
    await closeRepair(plant, failed.repair ?? 0);
    await measure(plant, 21, { motor: failed.motor });
    const first = await ask(plant);
    expect(first).toMatchObject({ runs: 'first', count: 2, moments: { highest: 40 } });
    const all = await ask(plant, '&runs=all');
    expect(all).toMatchObject({ runs: 'all', count: 3 });
    const items = await follow(plant, all.link);
    expect(items.map((one: { attempt: number }) => one.attempt)).toEqual([1, 1, 2]);
    expect(items[2].motor).toBe(failed.motor);
    await plant.stop();
  });
});

describe('a new revision of the specification', () => {
  it('has its limits taken, and values judged by other ones are said to be', async () => {
    const plant = await TestPlant.start();
    await furnish(plant);
    await specify(plant, draft(firstLimits));
    for (const value of [10, 12, 14]) await measure(plant, value);
    await specify(plant, draft(firstLimits));
    for (const value of [16, 18]) await measure(plant, value);
    const same = await ask(plant);
    expect(same.limitsChanged).toBe(false);
    expect(same.revisions).toMatchObject([
      { revision: 2, count: 3 },
      { revision: 3, count: 2, effectiveFrom: expect.any(String) },
    ]);
    // 900 to 1800 L/h is 15 to 30 L/min.
    await specify(plant, draft({ unit: 'L/h', lower: 900, upper: 1800, guardBand: 0 }));
    await measure(plant, 1440);
    const changed = await ask(plant);
    expect(changed.characteristic).toMatchObject({ unit: 'L/h', revision: 4 });
    expect(changed.limitsChanged).toBe(true);
    expect(changed.limitsNote).toMatch(
      /5 of 6 values were judged by other limits, of revision 2, 3/,
    );
    expect(changed.specification).toMatchObject({ lower: 900, upper: 1800 });
    expect(changed.moments).toMatchObject({ lowest: 600, highest: 1440 });
    expect(changed.specification.observedOutside.below.count).toBe(3);
    expect(changed.revisions.map((one: { count: number }) => one.count)).toEqual([3, 2, 1]);
    for (const { count, revision, link } of changed.revisions) {
      const items = await follow(plant, link);
      expect(items.map((one: { revision: number }) => one.revision)).toEqual(
        new Array(count).fill(revision),
      );
    }
    const before = await ask(plant, `&until=${new Date(START + 1).toISOString()}`);
    expect(before).toMatchObject({ count: 0, limitsChanged: false });
    expect(before.revisions).toMatchObject([{ revision: 4, count: 0 }]);
    await plant.stop();
  });
});
