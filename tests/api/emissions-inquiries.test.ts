import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';

const weighted = '/v1/emissions/weighted-result';
const sampleSize = '/v1/emissions/sample-size';

describe('emission figures without a family', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  // 12 + 16.8 + 12 + 10 + 6 = 56.8 g/h; 4.416 + 5.901 + 3.0795 + 1.8625 = 15.259 kW, by hand,
  // with the weights of 40 CFR part 1045 appendix II.
  const modes = [
    { mode: 1, gramsPerHour: 200, kilowatts: 73.6 },
    { mode: 2, gramsPerHour: 120, kilowatts: 42.15 },
    { mode: 3, gramsPerHour: 80, kilowatts: 20.53 },
    { mode: 4, gramsPerHour: 40, kilowatts: 7.45 },
    { mode: 5, gramsPerHour: 15, kilowatts: 0 },
  ];

  it('weight five modes into one result', async () => {
    const before = plant.eventCount();
    const { status, body } = await plant.post('read', weighted, { modes: modes.toReversed() });
    expect(status).toBe(200);
    expect(body.cycle).toBe('E4');
    expect(body.gramsPerHour).toBeCloseTo(56.8, 12);
    expect(body.kilowatts).toBeCloseTo(15.259, 12);
    expect(body.gramsPerKilowattHour).toBeCloseTo(3.722393, 6);
    expect(body.aid).toContain('authority');
    expect(body.items.map((one: { weight: number }) => one.weight)).toEqual([
      0.06, 0.14, 0.15, 0.25, 0.4,
    ]);
    const parts = body.items.map((one: { weightedGramsPerHour: number }) =>
      Number(one.weightedGramsPerHour.toFixed(9)),
    );
    expect(parts).toEqual([12, 16.8, 12, 10, 6]);
    expect(plant.eventCount()).toBe(before);
  });

  it('give the modes as CSV', async () => {
    const headers = { Accept: 'text/csv' };
    const { text } = await plant.post('read', weighted, { modes }, { headers });
    expect(text.split('\r\n')[5]).toBe('5,,0,0.4,15,0,6,0');
  });

  it('say the sample size and the CumSum after each result', async () => {
    const { status, body } = await plant.post('read', sampleSize, {
      standard: 20,
      results: [18.1, 19.4, 20.6],
    });
    expect(status).toBe(200);
    // By hand: mean 18.75, sigma 1.3/√2, t95 6.31, N = (6.31 · sigma / 1.25)² + 1 = 22.5325.
    expect(body.items[0]).toMatchObject({ test: 1, sigma: null, requiredTests: null, cumSum: 0 });
    expect(body.items[1]).toMatchObject({ test: 2, mean: 18.75, t95: 6.31, requiredTests: 23 });
    expect(body.items[1].requiredFormula).toBeCloseTo(
      ((6.31 * 1.3) / Math.SQRT2 / 1.25) ** 2 + 1,
      9,
    );
    // 20.6 - (20 + 0.25 · 1.250333) = 0.287417.
    expect(body.items[2].cumSum).toBeCloseTo(0.287417, 5);
    expect(body).toMatchObject({
      decision: 'continue',
      requiredTests: body.items[2].requiredTests,
      sources: expect.stringContaining('1045.315'),
    });
    expect(body.rule).toContain('3 tests done and ');
  });

  it('say so where the mean is the standard, and where it is above', async () => {
    const even = await plant.post('read', sampleSize, { standard: 20.15, results: [20.1, 20.2] });
    expect(even.body).toMatchObject({ decision: 'continue', requiredTests: null });
    expect(even.body.rule).toContain('The mean is the standard, 20.15');
    // Sigma 0.5, mean 1.4 above: N = (2.92 · 0.5 / 1.4)² + 1 = 2.09, by hand.
    const above = await plant.post('read', sampleSize, {
      standard: 20,
      results: [20.9, 21.9, 21.4],
    });
    expect(above.body).toMatchObject({ decision: 'continue', requiredTests: 3 });
    expect(above.body.rule).toContain('The mean 21.4 is above 20');
  });

  it.each([
    [weighted, { modes: modes.slice(1) }],
    [weighted, { modes: [...modes.slice(1), modes[1]] }],
    [weighted, { modes: modes.map((one) => ({ ...one, kilowatts: 0 })) }],
    [weighted, { modes: modes.with(0, { mode: 1, gramsPerHour: -1, kilowatts: 1 }) }],
    [weighted, { modes: modes.with(0, { mode: 6, gramsPerHour: 1, kilowatts: 1 }) }],
    [weighted, {}],
    [sampleSize, { standard: 0, results: [1] }],
    [sampleSize, { standard: 20, results: [] }],
    [sampleSize, { standard: 20, results: Array(201).fill(1) }],
    [sampleSize, { standard: 20, results: ['1'] }],
    [sampleSize, { standard: 20, results: [1], table: 'mine' }],
  ])('refuse at %s what cannot be figured', async (address, body) => {
    const answer = await plant.post('read', address, body);
    expect(answer.body.type).toBe('/problems/request-invalid');
  });
});
