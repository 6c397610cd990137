import { describe, expect, it } from 'vitest';
import {
  finalDeterioratedResult,
  judgeLotTest,
  startLot,
} from '../../src/emissions/cumsum-lot-rule.js';
import { drawEngines } from '../../src/emissions/draw-engines.js';
import { testingEnds, testPeriods } from '../../src/emissions/rules.js';
import { requiredSampleSize, testSample } from '../../src/emissions/sample-size.js';
import { t95For, t95Of1048 } from '../../src/emissions/t95-table.js';
import { e4Modes, weightedCycleResult } from '../../src/emissions/weighted-cycle.js';
import { judgeSeries } from '../../src/statistics/judge-series.js';

/** P(T <= t) of Student's t, by Simpson's rule over its density from 0. */
function studentCdf(t: number, freedom: number): number {
  // Γ((v+1)/2) / (√(vπ) Γ(v/2)) by its recurrence.
  let ratio = freedom % 2 === 1 ? 1 / Math.PI : 1 / Math.sqrt(8);
  for (let v = freedom % 2 === 1 ? 1 : 2; v < freedom; v += 2) {
    ratio *= ((v + 1) / v) * Math.sqrt(v / (v + 2));
  }
  const density = (x: number) => ratio * (1 + (x * x) / freedom) ** (-(freedom + 1) / 2);
  const steps = 2_000;
  const h = t / steps;
  let sum = density(0) + density(t);
  for (let i = 1; i < steps; i++) sum += (i % 2 === 1 ? 4 : 2) * density(i * h);
  return 0.5 + (sum * h) / 3;
}

describe('the t95 table of 40 CFR 1048.310(c)(1)', () => {
  it('has 29 rows from 2 tests, the last for 30 and more', () => {
    expect(t95Of1048.rows.map((row) => row.tests)).toEqual(
      Array.from({ length: 29 }, (_, i) => i + 2),
    );
    expect([2, 12, 22, 29, 30, 31, 500].map((tests) => t95For(tests))).toEqual([
      6.31, 1.8, 1.72, 1.7, 1.7, 1.7, 1.7,
    ]);
  });

  it("is Student's t, one-tail, n - 1 degrees of freedom, but for the 1.90 printed at n = 8", () => {
    for (const { tests, t95 } of t95Of1048.rows) {
      // t(0.95, 7) = 1.894579, which rounds to 1.89.
      const rounding = tests === 8 ? 0.00543 : 0.00501;
      expect(studentCdf(t95 - rounding, tests - 1)).toBeLessThan(0.95);
      expect(studentCdf(t95 + rounding, tests - 1)).toBeGreaterThan(0.95);
    }
    expect(t95For(8)).toBe(1.9);
    expect(studentCdf(1.895, 7)).toBeGreaterThan(0.95);
  });
});

describe('the sample size of 40 CFR 1048.310(c)', () => {
  it('after two tests follows from the formula by hand', () => {
    // Mean 18.75, sigma = 1.3/√2, t95 6.31: (6.31 · 0.919239 / 1.25)² + 1 = 22.532547, by hand.
    expect(testSample([18.1, 19.4]).sigma).toBeCloseTo(1.3 / Math.SQRT2, 14);
    const required = requiredSampleSize([18.1, 19.4], 20);
    expect(required.formula).toBeCloseTo(((6.31 * 1.3) / Math.SQRT2 / 1.25) ** 2 + 1, 11);
    expect(required.formula).toBeCloseTo(22.532547, 6);
    expect(required).toMatchObject({ t95: 6.31, tests: 23 });
  });
});

describe('the CumSum of 40 CFR 1045.315(b) and action limit of (f), as 73 FR 73789 prints them', () => {
  // No published worked run was found. This run and its figures were computed apart from this
  // project's code, with sigma of all tests to date and earlier statistics left as they were.
  const results = [18.1, 19.4, 20.6, 22.9, 24.3, 26.8, 29.5];
  const cumSums = [0, 0, 0.287417, 2.67731, 6.344707, 12.330241, 20.804182];
  const actionLimits = [4.596194, 6.251666, 10.202124, 12.652075, 16.289311, 20.521185];
  const { state, points } = judgeSeries(startLot(20), results, judgeLotTest);

  it('has the statistic and the limit of each test', () => {
    for (const [at, point] of points.entries()) {
      expect(point.cumSum).toBeCloseTo(cumSums[at] ?? Number.NaN, 5);
      if (at === 0) expect(point.actionLimit).toBeNull();
      else expect(point.actionLimit).toBeCloseTo(actionLimits[at - 1] ?? Number.NaN, 5);
    }
  });

  it('exceeds the limit at the seventh test only, which is not a fail yet', () => {
    expect(points.map((point) => point.exceeded)).toEqual([...Array(6).fill(false), true]);
    expect(points.map((point) => point.decision)).toEqual(Array(7).fill('continue'));
  });

  it('fails at an eighth test that exceeds it again', () => {
    const eighth = judgeLotTest(state, 30.1);
    expect(eighth).toMatchObject({ test: 8, exceeded: true, decision: 'fail' });
    expect(eighth.state.failedAt).toBe(8);
  });
});

describe('final deteriorated results as 40 CFR 1051.315(a) has them', () => {
  it('are rounded to one more decimal than the standard, before and after the factor', () => {
    // (14.131 + 14.27)/2 = 14.2005 -> 14.20; 14.20 · 1.05 = 14.910 -> 14.91.
    const factor = { kind: 'multiplicative', factor: 1.05 } as const;
    expect(finalDeterioratedResult([14.131, 14.27], factor, 1)).toBe(14.91);
  });

  it('take no factor below one and nothing off', () => {
    expect(finalDeterioratedResult([5.04], { kind: 'multiplicative', factor: 0.9 }, 1)).toBe(5.04);
    expect(finalDeterioratedResult([5.04], { kind: 'additive', amount: -1 }, 1)).toBe(5.04);
    expect(finalDeterioratedResult([5.04], { kind: 'additive', amount: 0.3 }, 1)).toBe(5.34);
  });
});

describe('the test periods of 40 CFR 1051.310(a) and (b), the sister part', () => {
  /** Periods of a volume of 1600 over so many days from 1 March 2026. */
  const over = (days: number, projectedVolume = 1600) => {
    const last = new Date(Date.UTC(2026, 2, days)).toISOString().slice(0, 10);
    return testPeriods({ fromDay: '2026-03-01', untilDay: last, projectedVolume }).periods;
  };

  it('are one up to 120 days of production, two to 210, three to 300, four above', () => {
    const days = [1, 120, 121, 210, 211, 300, 301, 364];
    expect(days.map((one) => over(one).length)).toEqual([1, 1, 2, 2, 3, 3, 4, 4]);
  });

  it('are one below a volume of 1600', () => {
    expect(over(365, 1599)).toEqual([
      { period: 1, fromDay: '2026-03-01', untilDay: '2027-02-28', engines: 2 },
    ]);
    expect(over(365, 1600)).toHaveLength(4);
  });

  it('are consecutive quarters of three months over a year and more', () => {
    expect(over(365).map(({ fromDay, untilDay }) => [fromDay, untilDay])).toEqual([
      ['2026-03-01', '2026-05-31'],
      ['2026-06-01', '2026-08-31'],
      ['2026-09-01', '2026-11-30'],
      ['2026-12-01', '2027-02-28'],
    ]);
    const { periods } = testPeriods({
      fromDay: '2026-08-31',
      untilDay: '2027-11-29',
      projectedVolume: 5000,
    });
    // November and February have no 31st.
    expect(periods.map((one) => one.fromDay)).toEqual([
      '2026-08-31',
      '2026-11-30',
      '2027-02-28',
      '2027-05-31',
      '2027-08-31',
    ]);
    expect(periods.at(-1)?.untilDay).toBe('2027-11-29');
  });

  it('want two engines in the first and one in each later', () => {
    expect(over(301).map((one) => one.engines)).toEqual([2, 1, 1, 1]);
  });
});

describe('the ends of testing, from memory', () => {
  const terms = {
    pollutant: 'CO',
    standard: 300,
    decimals: 0,
    deterioration: { kind: 'additive', amount: 0 } as const,
  };
  const engines = (count: number, value: number) =>
    Array.from({ length: count }, (_, id) => {
      const own = { motor: `M${id}`, period: 1, testedOn: '2026-03-02' };
      return { ...own, tests: [{ ...own, id, values: { CO: value } }] };
    });

  it('are thirty engines, conforming or not', () => {
    expect(testingEnds(engines(29, 301), [terms], 10_000).reached).toBe(false);
    expect(testingEnds(engines(30, 301), [terms], 10_000)).toEqual({
      engines: 30,
      ofEngines: 30,
      conforming: 0,
      ofConforming: 100,
      reached: true,
    });
  });

  it('are conforming engines for one percent of the volume, to the nearest whole number', () => {
    // One percent of 749 is 7.49, of 751 7.51; a result at the standard conforms.
    expect(testingEnds(engines(7, 300), [terms], 749)).toMatchObject({
      conforming: 7,
      reached: true,
    });
    expect(testingEnds(engines(7, 300), [terms], 751)).toMatchObject({
      ofConforming: 8,
      reached: false,
    });
    expect(testingEnds(engines(7, 300.1), [terms], 749).reached).toBe(false);
  });
});

describe('duty cycle E4 of 40 CFR part 1045 appendix II', () => {
  it('has the weights 0.06, 0.14, 0.15, 0.25 and 0.40', () => {
    expect(e4Modes.map((mode) => mode.weight)).toEqual([0.06, 0.14, 0.15, 0.25, 0.4]);
    expect(e4Modes.map((mode) => mode.torquePercent)).toEqual([100, 71.6, 46.5, 25.3, 0]);
    expect(e4Modes.map((mode) => mode.speedPercent)).toEqual([100, 80, 60, 40, null]);
  });

  it('weighs five modes into 56.8 g/h over 15.259 kW, 3.722393 g/(kW·h), by hand', () => {
    // 12 + 16.8 + 12 + 10 + 6 = 56.8; 4.416 + 5.901 + 3.0795 + 1.8625 + 0 = 15.259.
    const rates = [200, 120, 80, 40, 15];
    const powers = [73.6, 42.15, 20.53, 7.45, 0];
    const modes = rates.map((gramsPerHour, at) => ({
      mode: at + 1,
      gramsPerHour,
      kilowatts: powers[at] ?? 0,
    }));
    const result = weightedCycleResult(modes);
    expect(result.gramsPerHour).toBeCloseTo(56.8, 12);
    expect(result.kilowatts).toBeCloseTo(15.259, 12);
    expect(result.gramsPerKilowattHour).toBeCloseTo(3.722393, 6);
    expect(weightedCycleResult(modes.toReversed())).toEqual(result);
  });
});

describe('a draw of engines', () => {
  it('is what sha256sum of coreutils gives', () => {
    // tide\nS-1 60709e38…, S-2 9fca5612…, S-3 e2320063…, S-4 5b7b648f….
    expect(drawEngines(['S-1', 'S-2', 'S-3', 'S-4'], 4, 'tide')).toEqual([
      'S-4',
      'S-1',
      'S-2',
      'S-3',
    ]);
  });
});
