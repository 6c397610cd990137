import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import {
  furnish,
  openRun,
  passing,
  refused,
  setMotor,
  specificationDraft,
  specify,
} from '../support/scenario.js';

const DAY_MS = 24 * 60 * 60 * 1000;

/** Flow rates of ten batches, NIST/SEMATECH e-Handbook 6.3.2.2: here ten pressures in kPa. */
const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

const individuals = {
  kind: 'individuals',
  model: 'F100L',
  characteristic: 'water-pressure',
  runs: 'all',
  baseline: { last: 10 },
};

/** One motor that is tested again and again: most charts here take all runs. */
class Bench {
  private constructor(
    readonly plant: TestPlant,
    private readonly motor: string,
  ) {}

  static async start(): Promise<Bench> {
    const plant = await TestPlant.start();
    await furnish(plant);
    return new Bench(plant, (await setMotor(plant)).motor);
  }

  /** Runs the motor once and returns the run's id; `daysAgo` for one that is recorded late. */
  async run(readings: readonly object[], cell?: string, daysAgo = 0): Promise<number> {
    const { plant, motor } = this;
    const occurredAt = new Date(plant.now - daysAgo * DAY_MS).toISOString();
    const at = daysAgo === 0 ? {} : { occurredAt };
    const run =
      daysAgo === 0
        ? await openRun(plant, motor, cell)
        : (await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'LATE', ...at })).id;
    plant.wait(60_000);
    await plant.make('cell', `/v1/runs/${run}/completion`, { readings, ...at });
    await plant.make('quality', '/v1/retests', { motor, reason: 'Next run' });
    return run;
  }

  pressure(value: number, cell?: string): Promise<number> {
    const [idle, , telltale] = passing;
    const readings = [idle ?? {}, { code: 'water-pressure', value }, telltale ?? {}];
    return this.run(readings, cell);
  }

  async pressures(values: readonly number[], cell?: string): Promise<number[]> {
    const runs: number[] = [];
    for (const value of values) runs.push(await this.pressure(value, cell));
    return runs;
  }

  open(draft: object = individuals): Promise<{ id: number; baselines: Baseline[] }> {
    return this.plant.make('quality', '/v1/charts', draft);
  }

  async chart(id: number) {
    return (await this.plant.get('read', `/v1/charts/${id}`)).body;
  }

  async signals(id: number, query = ''): Promise<Signal[]> {
    return (await this.plant.get('read', `/v1/charts/${id}/signals${query}`)).body.items;
  }

  async points(id: number, query = ''): Promise<Point[]> {
    return (await this.plant.get('read', `/v1/charts/${id}/points${query}`)).body.items;
  }
}

interface Baseline {
  number: number;
  centre: number;
  lower: number;
  upper: number;
}

interface Signal {
  id: number;
  point: number;
  rule: string;
  figure: string;
  direction: string;
  value: number;
  runs: number[];
  link: string;
}

interface Point {
  number: number;
  day: string | null;
  size: number;
  value: number;
  lower: number;
  upper: number;
  spread: number | null;
  runs: number[];
  signals: Signal[];
}

describe('a control chart', () => {
  let bench: Bench;
  let plant: TestPlant;
  let past: number[];
  beforeAll(async () => {
    bench = await Bench.start();
    plant = bench.plant;
    past = await bench.pressures(flow);
  });
  afterAll(() => plant.stop());

  it('freezes its baseline with what it was computed from', async () => {
    const answer = await plant.post('quality', '/v1/charts', individuals);
    expect(answer.status).toBe(201);
    expect(answer.headers.location).toBe(`/v1/charts/${answer.body.id}`);
    expect(answer.body).toMatchObject({
      model: 'F100L',
      kind: 'individuals',
      characteristic: 'water-pressure',
      unit: 'kPa',
      cell: null,
      runs: 'all',
      rules: ['beyond-three-sigma'],
      points: 0,
      openSignals: 0,
      openedBy: 'quality key',
      retiredAt: null,
    });
    const [baseline] = answer.body.baselines;
    expect(baseline).toMatchObject({
      number: 1,
      inForce: true,
      frozenBy: 'quality key',
      reason: null,
      last: 10,
      runs: 10,
      points: 10,
      firstRun: past[0],
      lastRun: past[9],
      signalling: 0,
      spreadLower: 0,
    });
    // The handbook's mean 50.81, mean moving range 1.8778, and limits 55.8041 and 45.8159 with
    // d2 rounded to 1.128; with d2 unrounded 55.8024 and 45.8176.
    expect(baseline.centre).toBeCloseTo(50.81, 10);
    expect(baseline.spreadCentre).toBeCloseTo(1.8778, 4);
    expect(baseline.upper).toBeCloseTo(55.8024, 4);
    expect(baseline.lower).toBeCloseTo(45.8176, 4);
  });

  it('signals at the run that is beyond its limits, and no later run moves these', async () => {
    const { id, baselines } = await bench.open();
    const inside = await bench.pressure(51);
    const beyond = await bench.pressure(58);
    const signals = await bench.signals(id);
    // From 51 to 58 the moving range is 7, its limit 3.267 · 1.8778 = 6.13.
    expect(signals).toMatchObject([
      { point: 2, figure: 'individual', rule: 'beyond-three-sigma', direction: 'above', value: 58 },
      { point: 2, figure: 'moving-range', direction: 'above', value: 7 },
    ]);
    for (const signal of signals) {
      expect(signal).toMatchObject({ run: beyond, runs: [beyond], acknowledgedAt: null });
    }
    const chart = await bench.chart(id);
    expect(chart).toMatchObject({ points: 2, openSignals: 2, runsTaken: 2, runsWaiting: 0 });
    expect(chart.baselines).toEqual(baselines);
    const points = await bench.points(id);
    expect(points).toMatchObject([
      { number: 1, value: 51, spread: null, runs: [inside], signals: [] },
      { number: 2, value: 58, spread: 7, runs: [beyond] },
    ]);
    const linked = await plant.get('read', signals[0]?.link ?? '');
    expect(linked.body.items).toEqual([points[1]]);
  });

  it('lists signals of all charts by state, model and cell', async () => {
    const { id } = await bench.open();
    await bench.pressure(70, 'WET');
    const of = async (query: string) =>
      (await plant.get('read', `/v1/signals?limit=1000&${query}`)).body.items.filter(
        (one: { chart: number }) => one.chart === id,
      );
    expect(await of('state=open&model=F100L&cell=WET')).toMatchObject([{ cell: 'WET', chart: id }]);
    expect(await of('state=acknowledged')).toEqual([]);
    expect(await of('model=F999')).toEqual([]);
    expect(await of('cell=DRY')).toEqual([]);
    const first = await plant.get('read', '/v1/signals?limit=1');
    const next = await plant.get('read', first.body.next);
    expect(next.body.items[0].id).toBeGreaterThan(first.body.items[0].id);
  });

  it('has its signals acknowledged, each once', async () => {
    const { id } = await bench.open();
    await bench.pressures([70, 71, 72]);
    const [first, second, third] = (await bench.signals(id)).map((one) => one.id);
    const acknowledge = (signal: number | undefined, body: object) =>
      plant.post('quality', `/v1/signals/${signal}/acknowledgement`, body);
    const one = await acknowledge(second, { reason: 'Gauge read high' });
    expect(one.body).toEqual({ acknowledged: [second] });
    expect(await bench.signals(id, '?state=acknowledged')).toMatchObject([
      {
        id: second,
        acknowledgedBy: 'quality key',
        reason: 'Gauge read high',
        acknowledgedAt: new Date(plant.now).toISOString(),
      },
    ]);
    const twice = await refused(plant, 'signal-acknowledged', () =>
      acknowledge(second, { reason: 'Again' }),
    );
    expect(twice.detail).toContain(`quality key acknowledged signal ${second}`);
    expect(twice.detail).toContain('Gauge read high');
    const rest = await acknowledge(third, { reason: 'Same cause', withEarlier: true });
    expect(rest.body).toEqual({ acknowledged: [first, third] });
    expect(await bench.signals(id, '?state=open')).toEqual([]);
    expect((await bench.chart(id)).openSignals).toBe(0);
  });

  it('starts anew by another baseline, and keeps the one before with its points', async () => {
    const { id } = await bench.open();
    const before = await bench.pressures([80, 81, 82, 83, 84, 83, 82, 81, 80, 82]);
    const found = await bench.signals(id);
    expect(found.length).toBeGreaterThan(0);
    const answer = await plant.post('quality', `/v1/charts/${id}/baseline`, {
      baseline: { last: 10 },
      reason: 'New pump since Monday',
    });
    expect(answer.status).toBe(200);
    // The mean of the ten is 81.8.
    expect(answer.body.baselines).toMatchObject([
      { number: 1, inForce: false, reason: null },
      { number: 2, inForce: true, reason: 'New pump since Monday', frozenBy: 'quality key' },
    ]);
    expect(answer.body.baselines[1].centre).toBeCloseTo(81.8, 10);
    expect(answer.body).toMatchObject({
      baseline: 2,
      points: 0,
      runsTaken: 0,
      openSignals: found.length,
    });
    const run = await bench.pressure(82);
    expect(await bench.points(id)).toMatchObject([{ number: 1, runs: [run], signals: [] }]);
    const earlier = await bench.points(id, '?baseline=1');
    expect(earlier.map((point) => point.runs)).toEqual(before.map((one) => [one]));
    expect(await bench.signals(id)).toEqual(found);
    await refused(plant, 'baseline-unknown', () =>
      plant.get('read', `/v1/charts/${id}/points?baseline=3`),
    );
  });

  it('is retired once, judges nothing from then on, and takes no baseline any more', async () => {
    const { id } = await bench.open();
    const retire = () =>
      plant.post('quality', `/v1/charts/${id}/retirement`, { reason: 'Model runs out' });
    const answer = await retire();
    expect(answer.body).toMatchObject({
      retiredBy: 'quality key',
      retireReason: 'Model runs out',
      retiredAt: new Date(plant.now).toISOString(),
    });
    await bench.pressure(99);
    expect(await bench.signals(id)).toEqual([]);
    const twice = await refused(plant, 'chart-retired', retire);
    expect(twice.detail).toContain(`quality key retired chart ${id}`);
    await refused(plant, 'chart-retired', () =>
      plant.post('quality', `/v1/charts/${id}/baseline`, {
        baseline: { last: 10 },
        reason: 'Once more',
      }),
    );
    const ids = async (query: string) =>
      (await plant.get('read', `/v1/charts?limit=1000&${query}`)).body.items.map(
        (one: { id: number }) => one.id,
      );
    expect(await ids('state=retired')).toEqual([id]);
    expect(await ids('state=active')).not.toContain(id);
    expect(await ids('model=F999')).toEqual([]);
  });

  it('takes first runs alone, and those of one cell alone, where it was opened so', async () => {
    await bench.pressures(flow, 'NORTH');
    const cell = await bench.open({ ...individuals, cell: 'NORTH' });
    expect(cell.baselines[0]?.centre).toBeCloseTo(50.81, 10);
    // One motor has one first run.
    const first = await refused(plant, 'baseline-not-possible', () =>
      plant.post('quality', '/v1/charts', { ...individuals, runs: 'first' }),
    );
    expect(first.detail).toContain('1 point from 1 run,');
    const north = await bench.pressure(51, 'NORTH');
    await bench.pressure(51, 'SOUTH');
    expect((await bench.points(cell.id)).map((point) => point.runs)).toEqual([[north]]);
  });

  it('gives its points page by page, the last of them, by day and as CSV', async () => {
    const { id } = await bench.open();
    const runs = await bench.pressures([50, 51, 52, 53, 54]);
    const first = await plant.get('read', `/v1/charts/${id}/points?limit=2`);
    expect(first.body.items.map((one: Point) => one.number)).toEqual([1, 2]);
    const second = await plant.get('read', first.body.next);
    expect(second.body.items.map((one: Point) => one.number)).toEqual([3, 4]);
    const third = await plant.get('read', second.body.next);
    expect(third.body).toMatchObject({ items: [{ number: 5, runs: [runs[4]] }], next: null });
    expect((await bench.points(id, '?last=2')).map((one) => one.number)).toEqual([4, 5]);
    expect((await bench.points(id, '?fromPoint=2&untilPoint=3')).map((one) => one.number)).toEqual([
      2, 3,
    ]);
    expect(await bench.points(id, '?fromDay=2026-03-02&untilDay=2026-03-02')).toHaveLength(5);
    expect(await bench.points(id, '?untilDay=2026-03-01')).toEqual([]);
    const csv = await plant.get('read', `/v1/charts/${id}/points?last=1`, {
      headers: { Accept: 'text/csv' },
    });
    const [head, line] = csv.text.split('\r\n');
    expect(head).toMatch(/^number,at,day,size,value,centre,lower,upper,spread,.*,signals,runs$/);
    expect(line).toContain(`,54,`);
    expect(line?.endsWith(`,[${runs[4]}]`)).toBe(true);
  });

  it.each([
    ['model-unknown', { model: 'F999' }],
    ['characteristic-unknown', { characteristic: 'oil-pressure' }],
    ['characteristic-unknown', { characteristic: 'telltale' }],
  ])('is refused as %s', async (slug, change) => {
    await refused(plant, slug, () =>
      plant.post('quality', '/v1/charts', { ...individuals, ...change }),
    );
  });

  it('is refused where nothing varies, or where too few values make points', async () => {
    const open = (change: object) =>
      refused(plant, 'baseline-not-possible', () =>
        plant.post('quality', '/v1/charts', { ...individuals, ...change }),
      );
    // Every run here idles at 650/min.
    const flat = await open({ characteristic: 'idle-speed' });
    expect(flat.detail).toBe(
      'No baseline was frozen: the baseline has no variation, so it sets no limits.',
    );
    const empty = await open({ baseline: { fromDay: '2026-02-01', untilDay: '2026-02-28' } });
    expect(empty.detail).toContain('0 points from 0 runs, where at least 10 points are needed');
    const subgroups = await open({ kind: 'xbar-r', subgroupSize: 5, baseline: { last: 20 } });
    expect(subgroups.detail).toContain('4 points from 20 runs');
    const days = { kind: 'p', model: 'F100L', runs: 'all', baseline: { last: 10 } };
    const day = await refused(plant, 'baseline-not-possible', () =>
      plant.post('quality', '/v1/charts', days),
    );
    expect(day.detail).toContain('1 point from ');
  });

  it('is refused again as before when the request is repeated, whatever ran since', async () => {
    const key = { headers: { 'Idempotency-Key': 'early-chart' } };
    const ofCell = { ...individuals, cell: 'FRESH' };
    const open = () => plant.post('quality', '/v1/charts', ofCell, key);
    const early = await refused(plant, 'baseline-not-possible', open);
    await bench.pressures(flow, 'FRESH');
    expect(await refused(plant, 'baseline-not-possible', open)).toEqual(early);
    expect((await bench.open(ofCell)).baselines).toHaveLength(1);
  });

  it.each([
    ['no kind', { kind: undefined }],
    ['an unknown kind', { kind: 'np' }],
    ['a subgroup size where there are none', { subgroupSize: 5 }],
    ['a subgroup of one', { kind: 'xbar-r', subgroupSize: 1 }],
    ['a subgroup beyond the tables', { kind: 'xbar-s', subgroupSize: 26 }],
    ['an X-bar chart without its subgroup', { kind: 'xbar-s' }],
    ['a characteristic on a p chart', { kind: 'p' }],
    ['no characteristic', { characteristic: undefined }],
    ['an unknown rule', { rules: ['seven-in-heaven'] }],
    ['a rule named twice', { rules: ['nine-on-one-side', 'nine-on-one-side'] }],
    ['no rule', { rules: [] }],
    ['rules on an EWMA chart', { kind: 'ewma', rules: 'nelson' }],
    ['a weight above 1', { kind: 'ewma', weight: 1.1 }],
    ['a weight of 0', { kind: 'ewma', weight: 0 }],
    ['a width of 0', { kind: 'ewma', width: 0 }],
    ['a negative allowance', { kind: 'cusum', allowance: -0.1 }],
    ['a decision interval of 0', { kind: 'cusum', decisionInterval: 0 }],
    ['runs of no kind', { runs: 'some' }],
    ['no baseline', { baseline: {} }],
    ['half a period', { baseline: { fromDay: '2026-03-01' } }],
    ['a period and a number', { baseline: { fromDay: '2026-03-01', last: 10 } }],
    ['a period backwards', { baseline: { fromDay: '2026-03-02', untilDay: '2026-03-01' } }],
    ['more than a year', { baseline: { fromDay: '2025-03-02', untilDay: '2026-03-03' } }],
    ['too few values', { baseline: { last: 9 } }],
  ])('is refused with %s', async (_what, change) => {
    await refused(plant, 'request-invalid', () =>
      plant.post('quality', '/v1/charts', { ...individuals, ...change }),
    );
  });

  it('is opened, changed and acknowledged by quality alone', async () => {
    const { id } = await bench.open();
    for (const address of [
      '/v1/charts',
      `/v1/charts/${id}/baseline`,
      `/v1/charts/${id}/retirement`,
      '/v1/signals/1/acknowledgement',
    ]) {
      for (const role of ['cell', 'repair', 'configuration', 'read']) {
        await refused(plant, 'forbidden', () => plant.post(role, address, individuals));
      }
    }
  });

  it('that nobody opened is unknown, and so is a signal', async () => {
    const reason = 'There is none';
    for (const address of ['', '/points', '/signals']) {
      await refused(plant, 'chart-unknown', () => plant.get('read', `/v1/charts/999${address}`));
    }
    await refused(plant, 'chart-unknown', () =>
      plant.post('quality', '/v1/charts/999/retirement', { reason }),
    );
    await refused(plant, 'chart-unknown', () =>
      plant.post('quality', '/v1/charts/999/baseline', { reason, baseline: { last: 10 } }),
    );
    await refused(plant, 'signal-unknown', () =>
      plant.post('quality', '/v1/signals/99999/acknowledgement', { reason }),
    );
  });

  it('stands in the list of events in words', async () => {
    const { body } = await plant.get('read', '/v1/events?limit=1000');
    const told = body.items.map((one: object) => JSON.stringify(one)).join('\n');
    expect(told).toContain('Control chart 1 (individuals) opened');
    expect(told).toContain('frozen: New pump since Monday');
    expect(told).toContain('retired: Model runs out');
    expect(told).toContain('acknowledged: Same cause');
  });

  it('leaves a journal from which everything is rebuilt', () => {
    const found = verifyDatabase(plant.service.store.path);
    expect(found.findings).toEqual([]);
  });
});

describe('a chart whose specification is revised', () => {
  let bench: Bench;
  beforeAll(async () => {
    bench = await Bench.start();
    await bench.pressures(flow);
  });
  afterAll(() => bench.plant.stop());

  it('converts values to its own unit, and takes no point where nothing is measured', async () => {
    const { plant } = bench;
    const { id } = await bench.open();
    const draft = specificationDraft();
    const [idle, telltale] = draft.prompts as [
      (typeof draft.prompts)[0],
      (typeof draft.prompts)[1],
    ];
    const inBar = { kind: 'measured', code: 'water-pressure', name: 'Water pressure', unit: 'bar' };
    await specify(plant, {
      ...draft,
      note: 'In bar, ahead of idle speed, and optional',
      prompts: [
        {
          text: 'Pressure',
          characteristics: [{ ...inBar, lower: 0.5, upper: 1.5, required: false }],
        },
        { ...idle, characteristics: idle.characteristics.slice(0, 1) },
        telltale,
      ],
    });
    // 1 bar is 100 kPa exactly (the SI brochure).
    const converted = await bench.pressure(0.58);
    await bench.run(passing.filter((one) => one.code !== 'water-pressure'));
    expect(await bench.points(id)).toMatchObject([{ value: 58, runs: [converted] }]);
    expect(await bench.signals(id)).toMatchObject([{ value: 58, runs: [converted] }]);
    const { body } = await plant.post('quality', `/v1/charts/${id}/baseline`, {
      baseline: { last: 11 },
      reason: 'With the one in bar',
    });
    // (508.1 + 58) / 11
    expect(body.baselines[1].centre).toBeCloseTo(51.4636, 4);
    expect(body.unit).toBe('kPa');

    await specify(plant, {
      ...draft,
      note: 'Without pressure',
      prompts: [{ ...idle, characteristics: idle.characteristics.slice(0, 1) }, telltale],
    });
    await bench.run(passing.filter((one) => one.code !== 'water-pressure'));
    expect((await bench.chart(id)).runsTaken).toBe(0);
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });

  it('judges a value that is absurdly far out without upsetting the run', async () => {
    const { plant } = bench;
    await specify(plant, specificationDraft());
    const cusum = await bench.open({ ...individuals, kind: 'cusum', baseline: { last: 10 } });
    const { id } = await bench.open();
    await bench.pressures([1e300, -1e300]);
    const signals = await bench.signals(id);
    expect(signals.map((one) => one.direction)).toEqual(['above', 'below', 'above']);
    expect((await bench.signals(cusum.id)).map((one) => one.direction)).toEqual(['above', 'below']);
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

describe('charts by plant day', () => {
  let bench: Bench;
  let plant: TestPlant;
  const bad = [
    { code: 'idle-speed', value: 500 },
    { code: 'water-pressure', value: 20 },
    { code: 'telltale', value: true },
  ];
  const byDay = { model: 'F100L', runs: 'all', baseline: { last: 10 } };
  let p: number;
  let u: number;

  beforeAll(async () => {
    bench = await Bench.start();
    plant = bench.plant;
    // Ten days of four runs, one of each second day failing with two characteristics.
    for (let day = 0; day < 10; day += 1) {
      for (let n = 0; n < 4; n += 1) await bench.run(day % 2 === 1 && n === 0 ? bad : passing);
      plant.wait(DAY_MS);
    }
    p = (await bench.open({ kind: 'p', ...byDay })).id;
    u = (await bench.open({ kind: 'u', ...byDay })).id;
  });
  afterAll(() => plant.stop());

  it('have the share and the rate over all runs for their centre', async () => {
    // 5 failed runs, 10 characteristics, 40 runs.
    const [share, rate] = [await bench.chart(p), await bench.chart(u)];
    expect(share.baselines[0]).toMatchObject({ centre: 5 / 40, runs: 40, points: 10, sigma: null });
    expect(rate.baselines[0]).toMatchObject({ centre: 10 / 40, runs: 40, points: 10 });
    expect(share).toMatchObject({ characteristic: null, unit: null, openDay: null });
  });

  it('judge a day when the first run of a later one completes, late runs among its own', async () => {
    const today = [await bench.run(bad), await bench.run(bad), await bench.run(passing)];
    const late = await bench.run(bad, undefined, 3);
    expect(await bench.signals(p)).toEqual([]);
    expect(await bench.chart(p)).toMatchObject({
      openDay: '2026-03-12',
      runsTaken: 4,
      runsWaiting: 4,
      points: 0,
    });
    plant.wait(DAY_MS);
    const next = await bench.run(passing);
    const runs = [...today, late];
    // 3 of 4 failed: 0.125 + 3 · √(0.125 · 0.875 / 4) = 0.621; 6 in 4: 0.25 + 3 · √(0.25 / 4) = 1.
    expect(await bench.points(p)).toMatchObject([
      { number: 1, day: '2026-03-12', size: 4, value: 0.75, lower: 0, runs },
    ]);
    expect((await bench.points(p))[0]?.upper).toBeCloseTo(0.62108, 5);
    expect(await bench.points(u)).toMatchObject([{ size: 4, value: 1.5, upper: 1, runs }]);
    for (const [id, figure] of [
      [p, 'proportion'],
      [u, 'rate'],
    ] as const) {
      expect(await bench.signals(id)).toMatchObject([
        {
          point: 1,
          figure,
          rule: 'beyond-three-sigma',
          direction: 'above',
          run: late,
          runs: [late],
        },
      ]);
    }
    // A run of the judged day that comes later still counts to the open one.
    const tooLate = await bench.run(bad, undefined, 1);
    plant.wait(DAY_MS);
    await bench.run(passing);
    expect((await bench.points(p)).map((point) => [point.day, point.runs])).toEqual([
      ['2026-03-12', runs],
      ['2026-03-13', [next, tooLate]],
    ]);
  });

  it('leave a journal from which everything is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
