import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cusumBaseline, judgeCusum, startCusum } from '../../src/statistics/cusum.js';
import { ewmaBaseline, judgeEwma, startEwmaChart } from '../../src/statistics/ewma-chart.js';
import {
  individualsBaseline,
  judgeIndividual,
  startIndividualsChart,
} from '../../src/statistics/individuals-chart.js';
import { pareto } from '../../src/statistics/pareto.js';
import {
  judgeProportion,
  proportionBaseline,
  startProportionChart,
} from '../../src/statistics/proportion-chart.js';
import { judgeRate, rateBaseline, startRateChart } from '../../src/statistics/rate-chart.js';
import { nelsonRules } from '../../src/statistics/run-rules.js';
import { judgeSubgroup, startXbarChart, xbarBaseline } from '../../src/statistics/xbar-chart.js';
import { expectStreamed } from '../support/streamed.js';

// Tenths, so that equal neighbours and values on a line occur.
const tenth = fc.integer({ min: -40, max: 40 }).map((n) => n / 10);
const series = fc.array(tenth, { maxLength: 60 });
const varied = fc
  .array(tenth, { minLength: 2, maxLength: 20 })
  .filter((values) => new Set(values).size > 1);

describe('charts streamed equal the whole series', () => {
  it('for individuals, whose signals follow from limits and neighbours', () => {
    fc.assert(
      fc.property(varied, series, (past, values) => {
        const baseline = individualsBaseline(Object.freeze(past));
        const points = expectStreamed(startIndividualsChart(baseline), values, judgeIndividual);
        for (const [at, point] of points.entries()) {
          const value = values[at] ?? Number.NaN;
          const before = values[at - 1];
          const range = before === undefined ? null : Math.abs(value - before);
          expect(point.movingRange).toBe(range);
          const charts = point.signals.map(({ chart }) => chart);
          const { lower, upper } = baseline.limits;
          if (farFrom(value, lower, upper)) {
            expect(charts.includes('individual')).toBe(value > upper || value < lower);
          }
          const most = baseline.movingRange.limits.upper;
          if (range !== null && farFrom(range, most)) {
            expect(charts.includes('moving-range')).toBe(range > most);
          }
        }
      }),
      { numRuns: 200 },
    );
  });

  it('for subgroups by range and by standard deviation', () => {
    const groups = fc
      .integer({ min: 2, max: 25 })
      .chain((size) =>
        fc.tuple(
          fc.array(fc.array(tenth, { minLength: size, maxLength: size }), {
            minLength: 1,
            maxLength: 6,
          }),
          fc.array(fc.array(tenth, { minLength: size, maxLength: size }), { maxLength: 8 }),
        ),
      )
      .filter(([past]) => past.some((group) => new Set(group).size > 1));
    fc.assert(
      fc.property(
        groups,
        fc.constantFrom('range' as const, 'standard-deviation' as const),
        ([past, values], spread) => {
          const baseline = xbarBaseline(past, spread);
          const points = expectStreamed(startXbarChart(baseline), values, judgeSubgroup);
          for (const point of points) {
            const charts = point.signals.map(({ chart }) => chart);
            for (const [chart, figure, { lower, upper }] of [
              ['mean', point.mean, baseline.limits],
              [spread, point.spread, baseline.spreadChart.limits],
            ] as const) {
              if (!farFrom(figure, lower, upper)) continue;
              expect(charts.includes(chart)).toBe(figure > upper || figure < lower);
            }
          }
        },
      ),
      { numRuns: 200 },
    );
  });

  it('for proportions and rates, which signal beyond the limits of each sample', () => {
    const sample = fc
      .integer({ min: 1, max: 300 })
      .chain((size) => fc.record({ nonconforming: fc.nat(size), size: fc.constant(size) }));
    const samples = fc.array(sample, { minLength: 1, maxLength: 20 });
    const mixed = samples.filter((all) => {
      const bad = all.reduce((sum, { nonconforming }) => sum + nonconforming, 0);
      return bad > 0 && bad < all.reduce((sum, { size }) => sum + size, 0);
    });
    fc.assert(
      fc.property(mixed, samples, (past, values) => {
        const p = startProportionChart(proportionBaseline(past), nelsonRules);
        for (const point of expectStreamed(p, values, judgeProportion)) {
          const { lower, upper } = point.limits;
          expect(lower).toBeGreaterThanOrEqual(0);
          expect(upper).toBeLessThanOrEqual(1);
          if (!farFrom(point.proportion, lower, upper)) continue;
          const beyond = point.signals.some(({ rule }) => rule === 'beyond-three-sigma');
          expect(beyond).toBe(point.proportion > upper || point.proportion < lower);
        }
        const asRates = (all: typeof past) =>
          all.map(({ nonconforming, size }) => ({ defects: nonconforming, units: size / 4 }));
        const u = startRateChart(rateBaseline(asRates(past)));
        for (const point of expectStreamed(u, asRates(values), judgeRate)) {
          const { lower, upper } = point.limits;
          if (!farFrom(point.rate, lower, upper)) continue;
          expect(point.signals.length > 0).toBe(point.rate > upper || point.rate < lower);
        }
      }),
      { numRuns: 200 },
    );
  });

  it('for moving averages, each the weighted sum of all values so far', () => {
    const weight = fc.integer({ min: 1, max: 20 }).map((n) => n / 20);
    fc.assert(
      fc.property(series, weight, tenth, (values, lambda, centre) => {
        const baseline = ewmaBaseline({ centre, sigma: 1 }, { weight: lambda });
        const points = expectStreamed(startEwmaChart(baseline), values, judgeEwma);
        for (const [at, point] of points.entries()) {
          let average = centre * (1 - lambda) ** (at + 1);
          let variance = 0;
          for (let back = 0; back <= at; back++) {
            const share = lambda * (1 - lambda) ** back;
            average += share * (values[at - back] ?? Number.NaN);
            variance += share * share;
          }
          expect(point.average).toBeCloseTo(average, 10);
          expect(point.limits.upper - centre).toBeCloseTo(3 * Math.sqrt(variance), 10);
          expect(centre - point.limits.lower).toBeCloseTo(3 * Math.sqrt(variance), 10);
          const { lower, upper } = point.limits;
          expect(point.signals.length > 0).toBe(point.average > upper || point.average < lower);
        }
      }),
      { numRuns: 150 },
    );
  });

  it('for cumulated sums, each the largest sum of deviations that ends here', () => {
    fc.assert(
      fc.property(series, tenth, (values, centre) => {
        const baseline = cusumBaseline({ centre, sigma: 1.3 }, { decisionInterval: 3 });
        const points = expectStreamed(startCusum(baseline), values, judgeCusum);
        for (const [at, point] of points.entries()) {
          let high = 0;
          let low = 0;
          let up = 0;
          let down = 0;
          for (let from = at; from >= 0; from--) {
            up += (values[from] ?? 0) - centre - 0.65;
            down += centre - (values[from] ?? 0) - 0.65;
            high = Math.max(high, up);
            low = Math.max(low, down);
          }
          expect(point.high).toBeCloseTo(high, 10);
          expect(point.low).toBeCloseTo(low, 10);
          for (const { direction, since } of point.signals) {
            const sums = points
              .slice(0, at + 1)
              .map((one) => one[direction === 'above' ? 'high' : 'low']);
            expect(since).toBe(sums.lastIndexOf(0) + 1);
          }
          const expected = [
            ...(point.high > baseline.decisionInterval ? ['above'] : []),
            ...(point.low > baseline.decisionInterval ? ['below'] : []),
          ];
          expect(point.signals.map(({ direction }) => direction)).toEqual(expected);
        }
      }),
      { numRuns: 150 },
    );
  });
});

/** Away from every line by more than rounding, where a signal is a matter of the last digit. */
function farFrom(figure: number, ...lines: readonly number[]): boolean {
  return lines.every((line) => Math.abs(figure - line) > 1e-9);
}

describe('a Pareto table', () => {
  it('loses nothing, goes down, and never parts a tie', () => {
    const amounts = fc.uniqueArray(fc.tuple(fc.string(), fc.nat(6)), {
      selector: ([name]) => name,
    });
    fc.assert(
      fc.property(amounts, (given) => {
        const rows = pareto(given);
        const total = given.reduce((sum, [, amount]) => sum + amount, 0);
        expect(rows).toHaveLength(given.filter(([, amount]) => amount > 0).length);
        expect(pareto(given.toReversed())).toEqual(rows);
        for (const row of rows) {
          const larger = given.filter(([, amount]) => amount > row.amount);
          const least = given.filter(([, amount]) => amount >= row.amount);
          const down = least.reduce((sum, [, amount]) => sum + amount, 0);
          expect(row.rank).toBe(larger.length + 1);
          expect(row.share).toBe(row.amount / total);
          expect(row.cumulativeShare).toBe(down / total);
        }
        for (const [at, row] of rows.entries()) {
          const before = rows[at - 1];
          if (before === undefined) continue;
          const inOrder =
            before.amount > row.amount ||
            (before.amount === row.amount && before.category < row.category);
          expect(inOrder).toBe(true);
        }
      }),
      { numRuns: 200 },
    );
  });
});
