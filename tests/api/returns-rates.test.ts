import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { kaplanMeier } from '../../src/statistics/kaplan-meier.js';
import { TestPlant } from '../support/plant.js';
import { furnish } from '../support/scenario.js';
import { bringBack, ship, waitUntil } from '../support/shipped.js';

const times = (count: number, time: number, event: boolean) =>
  Array.from({ length: count }, () => ({ time, event }));

/** The statistics' own steps, whose published checks stand in tests/published. */
function stepsOf(observations: { time: number; event: boolean }[]) {
  return kaplanMeier(observations).map(({ standardError: _, censored: suspended, ...step }) => ({
    ...step,
    suspended,
  }));
}

/**
 * Released: four on 2 March, two on 20 March, three on 10 April. Returned, as of 15 June:
 * one of 2 March on 25 March with 12.4 h, one on 2 May unread and again on 1 June, and one
 * of 10 April on 9 May with 3 h.
 */
describe('return rates of a model', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const shipOn = async (day: string, count: number) => {
      waitUntil(plant, `${day}T08:00:00Z`);
      const made: string[] = [];
      for (let i = 0; i < count; i++) made.push((await ship(plant)).motor);
      return made;
    };
    const [a = '', b = ''] = await shipOn('2026-03-02', 4);
    await shipOn('2026-03-20', 2);
    const [c = ''] = await shipOn('2026-04-10', 3);
    waitUntil(plant, '2026-06-15T08:00:00Z');
    // The later return of the same motor is recorded first: its day counts.
    await bringBack(plant, b, '2026-06-01', { hoursRun: 400 });
    await bringBack(plant, b, '2026-05-02');
    await bringBack(plant, a, '2026-03-25', { hoursRun: 12.4 });
    await bringBack(plant, c, '2026-05-09', { hoursRun: 3 });
  });
  afterAll(() => plant.stop());

  const triangle = async (model = 'F100L') =>
    (await plant.get('read', `/v1/returns/triangle?model=${model}`)).body;
  const survival = async (query = '') =>
    (await plant.get('read', `/v1/returns/survival?model=F100L${query}`)).body;

  it('stand in a triangle of production month by full months in service', async () => {
    const { items, next } = await triangle();
    expect(next).toBeNull();
    expect(
      items.map((one: Record<string, unknown>) => [
        one.month,
        one.monthsInService,
        one.released,
        one.returns,
        one.returnsSoFar,
        one.complete,
      ]),
    ).toEqual([
      // 2 March to 15 June is three full months, 20 March to 15 June two.
      ['2026-03', 0, 6, 1, 1, true],
      ['2026-03', 1, 6, 0, 1, true],
      ['2026-03', 2, 6, 1, 2, false],
      ['2026-03', 3, 6, 0, 2, false],
      ['2026-04', 0, 3, 1, 1, true],
      ['2026-04', 1, 3, 0, 1, true],
      ['2026-04', 2, 3, 0, 1, false],
    ]);
    expect(items[2]).toMatchObject({ rate: 1 / 6, rateSoFar: 2 / 6 });
  });

  it('are to be had as CSV', async () => {
    const csv = await plant.get('read', '/v1/returns/triangle?model=F100L', {
      headers: { Accept: 'text/csv' },
    });
    const [head, , , third] = csv.text.split('\r\n');
    expect(head).toBe(
      'month,monthsInService,released,returns,rate,returnsSoFar,rateSoFar,complete',
    );
    expect(third).toBe(`2026-03,2,6,1,${1 / 6},2,${2 / 6},false`);
  });

  it('give a survival curve by months, with motors still out as suspended', async () => {
    const answer = await survival();
    expect(answer).toMatchObject({ by: 'months', motors: 9, returned: 3, suspended: 6 });
    expect(answer).toMatchObject({ hoursPerMonth: null, hoursEstimated: null });
    expect(answer.steps.map((one: { survival: number }) => one.survival)).toEqual([
      // Nine at risk, two returned; of seven, one.
      7 / 9,
      expect.closeTo(6 / 9, 12),
      expect.closeTo(6 / 9, 12),
    ]);
    const motors = [
      ...times(2, 0, true),
      ...times(1, 2, true),
      ...times(4, 2, false),
      ...times(2, 3, false),
    ];
    expect(answer.steps).toEqual(stepsOf(motors));
    expect(answer.method).toContain('ln(-ln S)');
  });

  it('give one by hours, with the hours of suspended motors estimated, and say so', async () => {
    const answer = await survival('&by=hours&hoursPerMonth=10.5');
    expect(answer).toMatchObject({ by: 'hours', hoursPerMonth: 10.5, hoursEstimated: 1 });
    expect(answer.method).toContain('times 10.5 hours a month');
    // 12.4 h is 12 whole hours; the return that nobody read came after two months, 21 h.
    const motors = [
      ...times(1, 3, true),
      ...times(1, 12, true),
      ...times(1, 21, true),
      ...times(4, 21, false),
      ...times(2, 31.5, false),
    ];
    expect(answer.steps).toEqual(stepsOf(motors));
  });

  it.each([
    ['survival?model=F100L&by=hours', 'request-invalid'],
    ['survival?model=F100L&by=hours&hoursPerMonth=0', 'request-invalid'],
    ['survival?model=F100L&by=hours&hoursPerMonth=745', 'request-invalid'],
    ['survival?model=F100L&hoursPerMonth=10', 'request-invalid'],
    ['survival?model=F100L&by=miles', 'request-invalid'],
    ['survival', 'request-invalid'],
    ['survival?model=F9', 'model-unknown'],
    ['triangle', 'request-invalid'],
    ['triangle?model=F9', 'model-unknown'],
  ])('refuse %s as %s', async (address, slug) => {
    const answer = await plant.get('read', `/v1/returns/${address}`);
    expect(answer.body.type).toBe(`/problems/${slug}`);
  });

  it('are empty for a model of which nothing was released', async () => {
    await plant.make('configuration', '/v1/models', {
      code: 'F20',
      name: 'Twenty',
      ratedPowerKw: 14.7,
    });
    expect((await triangle('F20')).items).toEqual([]);
    const answer = await plant.get('read', '/v1/returns/survival?model=F20');
    expect(answer.body).toMatchObject({ motors: 0, returned: 0, suspended: 0, steps: [] });
  });

  it('change nothing: the journal still rebuilds the file', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

describe('return rates in a plant west of Greenwich', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone: 'America/New_York' });
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('go by the plant’s days, where a month ends hours after that of UTC', async () => {
    // 22:00 on 31 March in New York.
    waitUntil(plant, '2026-04-01T02:00:00Z');
    const { motor } = await ship(plant);
    // 21:00 on 30 April there.
    waitUntil(plant, '2026-05-01T01:00:00Z');
    const early = await plant.post('quality', '/v1/returns', {
      unit: motor,
      returnedOn: '2026-05-01',
      symptom: 'low-pressure',
    });
    expect(early.body.type).toBe('/problems/time-in-future');
    const made = await bringBack(plant, motor, '2026-04-30');
    // April has no 31st: the month is full on its last day.
    expect(made).toMatchObject({ releasedOn: '2026-03-31', monthsInService: 1 });
    const { items } = (await plant.get('read', '/v1/returns/triangle?model=F100L')).body;
    expect(items).toMatchObject([
      { month: '2026-03', monthsInService: 0, released: 1, returns: 0 },
      { month: '2026-03', monthsInService: 1, released: 1, returns: 1, complete: false },
    ]);
  });
});
