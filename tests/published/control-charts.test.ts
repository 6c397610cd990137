import { describe, expect, it } from 'vitest';
import { controlChartConstants } from '../../src/statistics/control-chart-constants.js';
import { cusumBaseline, judgeCusum, startCusum } from '../../src/statistics/cusum.js';
import { ewmaBaseline, judgeEwma, startEwmaChart } from '../../src/statistics/ewma-chart.js';
import {
  individualsBaseline,
  judgeIndividual,
  startIndividualsChart,
} from '../../src/statistics/individuals-chart.js';
import { judgeSeries } from '../../src/statistics/judge-series.js';
import { normalCdf } from '../../src/statistics/normal-cdf.js';
import {
  judgeProportion,
  proportionBaseline,
  proportionLimits,
  startProportionChart,
} from '../../src/statistics/proportion-chart.js';
import {
  judgeRunRules,
  nelsonRules,
  startRunRules,
  westernElectricRules,
} from '../../src/statistics/run-rules.js';

describe('control chart constants', () => {
  // A textbook's appendix "Factors for Constructing Control Charts", read in a public copy to n = 20;
  // 21 to 25 from a second public table (A2, d2, c4, A3, D3, D4); the other figures of 21 to 24 from memory.
  // Columns: n, d2, d3, c4, A2, A3, D3, D4, B3, B4.
  const printed = [
    [2, 1.128, 0.853, 0.7979, 1.88, 2.659, 0, 3.267, 0, 3.267],
    [3, 1.693, 0.888, 0.8862, 1.023, 1.954, 0, 2.574, 0, 2.568],
    [4, 2.059, 0.88, 0.9213, 0.729, 1.628, 0, 2.282, 0, 2.266],
    [5, 2.326, 0.864, 0.94, 0.577, 1.427, 0, 2.114, 0, 2.089],
    [6, 2.534, 0.848, 0.9515, 0.483, 1.287, 0, 2.004, 0.03, 1.97],
    [7, 2.704, 0.833, 0.9594, 0.419, 1.182, 0.076, 1.924, 0.118, 1.882],
    [8, 2.847, 0.82, 0.965, 0.373, 1.099, 0.136, 1.864, 0.185, 1.815],
    [9, 2.97, 0.808, 0.9693, 0.337, 1.032, 0.184, 1.816, 0.239, 1.761],
    [10, 3.078, 0.797, 0.9727, 0.308, 0.975, 0.223, 1.777, 0.284, 1.716],
    [11, 3.173, 0.787, 0.9754, 0.285, 0.927, 0.256, 1.744, 0.321, 1.679],
    [12, 3.258, 0.778, 0.9776, 0.266, 0.886, 0.283, 1.717, 0.354, 1.646],
    [13, 3.336, 0.77, 0.9794, 0.249, 0.85, 0.307, 1.693, 0.382, 1.618],
    [14, 3.407, 0.763, 0.981, 0.235, 0.817, 0.328, 1.672, 0.406, 1.594],
    [15, 3.472, 0.756, 0.9823, 0.223, 0.789, 0.347, 1.653, 0.428, 1.572],
    [16, 3.532, 0.75, 0.9835, 0.212, 0.763, 0.363, 1.637, 0.448, 1.552],
    [17, 3.588, 0.744, 0.9845, 0.203, 0.739, 0.378, 1.622, 0.466, 1.534],
    [18, 3.64, 0.739, 0.9854, 0.194, 0.718, 0.391, 1.608, 0.482, 1.518],
    [19, 3.689, 0.734, 0.9862, 0.187, 0.698, 0.403, 1.597, 0.497, 1.503],
    [20, 3.735, 0.729, 0.9869, 0.18, 0.68, 0.415, 1.585, 0.51, 1.49],
    [21, 3.778, 0.724, 0.9876, 0.173, 0.663, 0.425, 1.575, 0.523, 1.477],
    // biome-ignore lint/suspicious/noApproximativeNumericConstant: a printed D3, not a logarithm
    [22, 3.819, 0.72, 0.9882, 0.167, 0.647, 0.434, 1.566, 0.534, 1.466],
    [23, 3.858, 0.716, 0.9887, 0.162, 0.633, 0.443, 1.557, 0.545, 1.455],
    [24, 3.895, 0.712, 0.9892, 0.157, 0.619, 0.451, 1.548, 0.555, 1.445],
    [25, 3.931, 0.708, 0.9896, 0.153, 0.606, 0.459, 1.541, 0.565, 1.435],
  ] as const;

  it.each(printed)(
    'for subgroups of %d round to the printed ones',
    (n, d2, d3, c4, A2, A3, ...limits) => {
      const ours = controlChartConstants(n);
      for (const [mine, theirs, unit] of [
        [ours.d2, d2, 0.001],
        // 0.734 is printed at 19, where 0.733481 rounds to 0.733.
        [ours.d3, n === 19 ? 0.733 : d3, 0.001],
        [ours.c4, c4, 0.0001],
        [ours.A2, A2, 0.001],
        [ours.A3, A3, 0.001],
        [ours.B3, limits[2], 0.001],
        [ours.B4, limits[3], 0.001],
      ] as const) {
        expect(Math.abs(mine - theirs)).toBeLessThanOrEqual(0.5001 * unit);
      }
      // Printed D3 and D4 come from d2 and d3 that were rounded first.
      expect(Math.abs(ours.D3 - limits[0])).toBeLessThan(0.0014);
      expect(Math.abs(ours.D4 - limits[1])).toBeLessThan(0.0014);
    },
  );

  it('have d2 and d3 as the moments of the range of normal values, integrated here', () => {
    // The trapezoidal rule over a whole line; w = e^(t - e^-t) puts the half line of the range on one.
    const density = (x: number) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI);
    const first = new Array<number>(26).fill(0);
    const second = new Array<number>(26).fill(0);
    for (let t = -4.5; t < 2.8; t += 1 / 24) {
      const w = Math.exp(t - Math.exp(-t));
      const step = (w * (1 + Math.exp(-t))) / 24;
      for (let c = -9; c <= 9; c += 0.2) {
        const between = normalCdf(c + w / 2) - normalCdf(c - w / 2);
        let part = density(c - w / 2) * density(c + w / 2) * 0.2;
        for (let n = 2; n <= 25; n++) {
          first[n] = (first[n] ?? 0) + n * (n - 1) * part * w * step;
          second[n] = (second[n] ?? 0) + n * (n - 1) * part * w * w * step;
          part *= between;
        }
      }
    }
    for (let n = 2; n <= 25; n++) {
      const mean = first[n] ?? 0;
      const { d2, d3 } = controlChartConstants(n);
      expect(d2 / mean).toBeCloseTo(1, 12);
      expect(d3 / Math.sqrt((second[n] ?? 0) - mean * mean)).toBeCloseTo(1, 11);
    }
  });

  it('have closed forms for the smallest sizes', () => {
    // 2/√π and √(2 - 4/π); 3/√π; c4(3) = √π/2.
    expect(controlChartConstants(2).d2).toBeCloseTo(2 / Math.sqrt(Math.PI), 15);
    expect(controlChartConstants(2).d3).toBeCloseTo(Math.sqrt(2 - 4 / Math.PI), 15);
    expect(controlChartConstants(3).d2).toBeCloseTo(3 / Math.sqrt(Math.PI), 15);
    expect(controlChartConstants(2).c4).toBeCloseTo(Math.sqrt(2 / Math.PI), 15);
    expect(controlChartConstants(3).c4).toBeCloseTo(Math.sqrt(Math.PI) / 2, 15);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of ten batches', () => {
  const flow = Object.freeze([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]);
  const baseline = individualsBaseline(flow);

  it('has mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 with d2 as printed', () => {
    expect(baseline.centre).toBeCloseTo(50.81, 10);
    expect(baseline.movingRange.centre).toBeCloseTo(1.8778, 4);
    // The handbook rounds d2 to 1.128, we do not.
    const asPrinted = controlChartConstants(2).d2 / 1.128;
    const reach = (baseline.limits.upper - baseline.centre) * asPrinted;
    expect(baseline.centre + reach).toBeCloseTo(55.8041, 4);
    expect(baseline.centre - reach).toBeCloseTo(45.8159, 4);
    expect(baseline.limits.upper).toBeCloseTo(55.8024, 4);
  });

  it('has a moving range chart from 0 to 3.267 times its mean, and no signal', () => {
    expect(baseline.movingRange.limits.lower).toBe(0);
    expect(baseline.movingRange.limits.upper / baseline.movingRange.centre).toBeCloseTo(3.267, 3);
    const { points } = judgeSeries(startIndividualsChart(baseline), flow, judgeIndividual);
    expect(points.flatMap((point) => point.signals)).toEqual([]);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.2.3, CUSUM about 325 with h = 4.1959 and k = 0.3175', () => {
  // The data and both columns are from memory, the recursion was recomputed.
  const values = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625,
    325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
  ];
  const high = [
    0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025,
    19.035,
  ];
  const low = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0];
  // Sigma 1: k and h are given in the unit of the values.
  const start = startCusum(
    cusumBaseline({ centre: 325, sigma: 1 }, { allowance: 0.3175, decisionInterval: 4.1959 }),
  );
  const { points } = judgeSeries(start, values, judgeCusum);

  it('has both sums as printed', () => {
    for (const [at, point] of points.entries()) {
      expect(point.high).toBeCloseTo(high[at] ?? Number.NaN, 9);
      expect(point.low).toBeCloseTo(low[at] ?? 0, 9);
    }
  });

  it('signals first at sample 14, upwards, from a run that began at 13, and does not stop', () => {
    const first = points.findIndex((point) => point.signals.length > 0);
    expect(first + 1).toBe(14);
    expect(points[first]?.signals).toEqual([
      { rule: 'beyond-decision-interval', direction: 'above', points: [13], since: 12 },
    ]);
    expect(points.slice(first).every((point) => point.signals.length === 1)).toBe(true);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.2.4, EWMA with lambda 0.3 about 50, s = 2.0539', () => {
  const values = [
    52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
    52.4, 53.6, 52.1,
  ];
  // The first thirteen as printed, the others recomputed.
  const averages = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
    49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
  ];
  const baseline = ewmaBaseline(
    { centre: 50, sigma: 2.0539 },
    { weight: 0.3, variance: 'asymptotic' },
  );
  const { points } = judgeSeries(startEwmaChart(baseline), values, judgeEwma);

  it('has the averages as printed and no signal', () => {
    expect(points.map((point) => Number(point.average.toFixed(2)))).toEqual(averages);
    expect(points.flatMap((point) => point.signals)).toEqual([]);
  });

  it('has limits 52.5884 and 47.4115 (from memory; the lower one is printed truncated)', () => {
    expect(baseline.limits.upper).toBeCloseTo(52.5884, 4);
    expect(Math.abs(baseline.limits.lower - 47.4115)).toBeLessThan(1e-4);
  });

  it('by exact variance starts at lambda s and ends at the same limits', () => {
    const exact = ewmaBaseline({ centre: 50, sigma: 2.0539 }, { weight: 0.3 });
    const limits = judgeSeries(startEwmaChart(exact), values, judgeEwma).points.map(
      (point) => point.limits.upper - 50,
    );
    // The variance of the first average is lambda² s², of the second lambda² s² (1 + 0.7²).
    expect(limits[0]).toBeCloseTo(3 * 0.3 * 2.0539, 12);
    expect(limits[1]).toBeCloseTo(3 * 0.3 * 2.0539 * Math.sqrt(1.49), 12);
    expect(limits[19]).toBeCloseTo(2.5884, 4);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.3.2, misregistered chips on 30 wafers of 50', () => {
  // The counts are from memory; the mean .2313 is quoted in public exercises.
  const samples = [
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12,
    7, 13, 9, 6,
  ].map((nonconforming) => ({ nonconforming, size: 50 }));
  const baseline = proportionBaseline(samples);

  it('has centre 0.2313 and limits 0.4102 and 0.0524 (the limits recomputed)', () => {
    expect(baseline.centre).toBeCloseTo(0.2313, 4);
    expect(proportionLimits(baseline, 50).upper).toBeCloseTo(0.41024, 5);
    expect(proportionLimits(baseline, 50).lower).toBeCloseTo(0.05243, 5);
  });

  it('is above its limit at wafers 15 and 23 only', () => {
    const { points } = judgeSeries(startProportionChart(baseline), samples, judgeProportion);
    expect(points.flatMap((point) => point.signals).map(({ points: [at] }) => at)).toEqual([
      14, 22,
    ]);
  });
});

describe('run rules against their published rates', () => {
  // In control, the chance at a point is that of a normal tail; Nelson 1985, as public manuals quote
  // him: below five in a thousand for each test. No published test sequence was found.
  it('of Western Electric are six, of Nelson eight, with eight and nine on one side', () => {
    expect(westernElectricRules).toHaveLength(6);
    expect(nelsonRules).toHaveLength(8);
    expect(westernElectricRules).toContain('eight-on-one-side');
    expect(nelsonRules).toContain('nine-on-one-side');
  });

  it('of the four zones signal about once in 92 points, three sigma alone once in 370', () => {
    // Champ and Woodall 1987: 91.75 for all four (from memory); 1/(2(1 - Φ(3))) = 370.4.
    const four = westernElectricRules.slice(0, 4);
    expect(meanRunLength(four, 4_000)).toBeGreaterThan(91.75 * 0.95);
    expect(meanRunLength(four, 4_000)).toBeLessThan(91.75 * 1.05);
    expect(meanRunLength(['beyond-three-sigma'], 1_500) / 370.4).toBeCloseTo(1, 1);
  });
});

/** The mean number of points to the first signal, over runs of normal values in control. */
function meanRunLength(rules: Parameters<typeof startRunRules>[0], runs: number): number {
  let word = 20_260_731;
  // Lehmer's generator with Park and Miller's constants; Box and Muller's normal values.
  const uniform = () => {
    word = (word * 48_271) % 2_147_483_647;
    return word / 2_147_483_647;
  };
  let points = 0;
  for (let run = 0; run < runs; run++) {
    let state = startRunRules(rules);
    for (let signalled = false; !signalled; points++) {
      const z = Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
      const judged = judgeRunRules(state, z);
      state = judged.state;
      signalled = judged.signals.length > 0;
    }
  }
  return points / runs;
}
