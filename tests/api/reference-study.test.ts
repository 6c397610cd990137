import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, refused, setMotor } from '../support/scenario.js';

const DAY = 24 * 60 * 60 * 1000;

describe('a gauge study from reference runs', () => {
  let plant: TestPlant;
  const ids: number[] = [];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  async function designate(): Promise<string> {
    const { motor } = await setMotor(plant);
    const { id } = await plant.make<{ id: number }>('quality', '/v1/reference-motors', {
      motor,
      intervalHours: 24,
      cells: ['C-1', 'C-2', 'C-3'],
      reason: 'Gauge study',
    });
    ids.push(id);
    return motor;
  }

  async function run(motor: string, cell: string, pressure: number): Promise<number> {
    plant.wait(60_000);
    const { id } = await plant.make<{ id: number }>('cell', '/v1/reference-runs', {
      motor,
      cell,
      readings: [
        { code: 'idle-speed', value: 650 },
        { code: 'water-pressure', value: pressure },
        { code: 'telltale', value: true },
      ],
    });
    return id;
  }

  const study = async (query = '') =>
    (await plant.get('read', `/v1/gauge-study?model=F100L&characteristic=water-pressure${query}`))
      .body;

  const none = { byVariance: null, byRange: null, betweenCells: null };

  it('is not possible without runs, with one cell or with one run in a cell, and says so', async () => {
    expect(await study()).toMatchObject({
      ...none,
      notPossible: 'No reference run has a value of it.',
      motors: [],
      runs: [],
    });
    const motor = await designate();
    await run(motor, 'C-1', 99);
    expect(await study()).toMatchObject({
      ...none,
      notPossible: 'All its runs were in cell C-1: a study needs two cells.',
    });
    await run(motor, 'C-1', 101);
    await run(motor, 'C-2', 103);
    expect(await study()).toMatchObject({
      ...none,
      notPossible: `Reference motor ${ids[0]} has 1 of its runs in cell C-2: a study needs two of each motor in each cell.`,
    });
  });

  it('has repeatability and reproducibility from one motor, and nothing of parts', async () => {
    const [motor] = (await plant.get('read', '/v1/reference-motors')).body.items;
    await run(motor.motor, 'C-2', 105);
    const answer = await study();
    expect(answer).toMatchObject({
      notPossible: null,
      trials: 2,
      leftOut: 0,
      // 150 less 50.
      tolerance: 100,
      byVariance: null,
      byRange: null,
    });
    expect(answer.method).toContain('one-way analysis of variance');
    // 99 and 101, 103 and 105: MS within 2, between 2 (2² + 2²) = 16; AV² = (16 - 2)/2 = 7, GRR² = 9.
    const { repeatability, reproducibility, gauge, table } = answer.betweenCells;
    expect(repeatability.standardDeviation).toBeCloseTo(Math.SQRT2, 12);
    expect(reproducibility.standardDeviation).toBeCloseTo(Math.sqrt(7), 12);
    expect(gauge.standardDeviation).toBeCloseTo(3, 12);
    // Six times 3 over 100.
    expect(gauge.percentOfTolerance).toBeCloseTo(18, 10);
    expect(table.f).toBeCloseTo(8, 10);
    expect(table.between.degreesOfFreedom).toBe(1);
  });

  it('crosses several motors and cells, with the latest runs of each pair', async () => {
    const second = await designate();
    const [first] = (await plant.get('read', '/v1/reference-motors')).body.items;
    const latest = await run(first.motor, 'C-1', 102);
    for (const [cell, pressure] of [
      ['C-1', 120],
      ['C-2', 121],
      ['C-1', 122],
      ['C-2', 125],
    ] as const) {
      await run(second, cell, pressure);
    }
    const answer = await study();
    expect(answer).toMatchObject({ notPossible: null, trials: 2, leftOut: 1, betweenCells: null });
    expect(answer.motors).toEqual([
      { referenceMotor: ids[0], motor: first.motor },
      { referenceMotor: ids[1], motor: second },
    ]);
    expect(answer.runs.map((one: { value: number }) => one.value)).toEqual([
      101, 102, 103, 105, 120, 122, 121, 125,
    ]);
    expect(answer.runs[1]).toMatchObject({ referenceRun: latest, cell: 'C-1' });
    // MS within = (0.5 + 2 + 2 + 8)/4 = 3.125; the cells' differences by motor are 2.5 and 2, so
    // that the interaction, 2 (4 · 0.125²) = 0.125, has p = 0.85 and is pooled: 12.625/5 = 2.525.
    expect(answer.byVariance.interactionPooled).toBe(true);
    expect(answer.byVariance.table.interaction.sumOfSquares).toBeCloseTo(0.125, 10);
    expect(answer.byVariance.repeatability.standardDeviation).toBeCloseTo(Math.sqrt(2.525), 12);
    expect(answer.byRange.meanRanges).toEqual([1.5, 3]);
  });

  it('keeps an interaction apart that is too large to pool, from the runs of some days alone', async () => {
    const [first, second] = (await plant.get('read', '/v1/reference-motors')).body.items;
    plant.wait(DAY);
    // The first motor reads higher in C-2, the second lower.
    for (const [motor, cell, pressure] of [
      [first.motor, 'C-1', 100],
      [first.motor, 'C-1', 101],
      [first.motor, 'C-2', 110],
      [first.motor, 'C-2', 111],
      [second.motor, 'C-1', 110],
      [second.motor, 'C-1', 111],
      [second.motor, 'C-2', 100],
      [second.motor, 'C-2', 101],
    ] as const) {
      await run(motor, cell, pressure);
    }
    const today = new Date(plant.now).toISOString().slice(0, 10);
    const answer = await study(`&fromDay=${today}&untilDay=${today}`);
    expect(answer).toMatchObject({ trials: 2, leftOut: 0, notPossible: null });
    const { interaction, interactionPooled, table } = answer.byVariance;
    expect(interactionPooled).toBe(false);
    // MS 2 (4 · 5²) = 200 against 0.5 within: variance (200 - 0.5)/2, F 400 with 1 and 4.
    expect(interaction.standardDeviation).toBeCloseTo(Math.sqrt(99.75), 10);
    expect(table.interaction.f).toBeCloseTo(400, 8);
    // All days: four runs of each pair at the least, the fifth of one is left out.
    expect(await study()).toMatchObject({ trials: 4, leftOut: 1 });
  });

  it('is narrowed to motors, to cells and to days', async () => {
    expect((await study(`&referenceMotors=${ids[1]}`)).motors).toHaveLength(1);
    expect((await study(`&referenceMotors=${ids.join(',')}`)).motors).toHaveLength(2);
    expect((await study('&cells=C-2')).notPossible).toContain('All its runs were in cell C-2');
    expect((await study('&cells=C-1,C-2')).notPossible).toBeNull();
    expect((await study('&untilDay=2026-03-01')).runs).toEqual([]);
    for (const query of ['&referenceMotors=x', '&referenceMotors=', '&cells=C-1,,C-2']) {
      const answer = await plant.get(
        'read',
        `/v1/gauge-study?model=F100L&characteristic=water-pressure${query}`,
      );
      expect(answer.status).toBe(400);
    }
  });

  it('has one cell with a run too few named, also where it is a third', async () => {
    const [first] = (await plant.get('read', '/v1/reference-motors')).body.items;
    await run(first.motor, 'C-3', 100);
    expect((await study()).notPossible).toBe(
      `Reference motor ${ids[1]} has 0 of its runs in cell C-3: a study needs two of each motor in each cell.`,
    );
  });

  it('takes retired reference motors too', async () => {
    await plant.make('quality', `/v1/reference-motors/${ids[0]}/retirement`, { reason: 'Worn' });
    expect((await study('&cells=C-1,C-2')).motors).toHaveLength(2);
  });

  it('is of gauges without any variation as well', async () => {
    const answer = await plant.get(
      'read',
      '/v1/gauge-study?model=F100L&characteristic=idle-speed&cells=C-1,C-2',
    );
    expect(answer.body.byVariance).toMatchObject({
      interactionPooled: false,
      distinctCategories: null,
      gauge: { standardDeviation: 0, percentOfTotalVariation: null },
    });
  });

  it('refuses what it cannot be of', async () => {
    const ask = (query: string) => () => plant.get('read', `/v1/gauge-study?${query}`);
    await refused(plant, 'model-unknown', ask('model=OTHER&characteristic=water-pressure'));
    await refused(plant, 'characteristic-unknown', ask('model=F100L&characteristic=oil'));
    await refused(plant, 'characteristic-unknown', ask('model=F100L&characteristic=telltale'));
    await refused(plant, 'request-invalid', ask('model=F100L'));
  });
});
