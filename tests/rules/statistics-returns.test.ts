import { describe, expect, it } from 'vitest';
import {
  binomialCdf,
  binomialTrialsMax,
  binomialUpperTail,
} from '../../src/statistics/binomial-cdf.js';
import { clopperPearsonInterval } from '../../src/statistics/clopper-pearson-interval.js';
import { fisherExact, fisherTotalMax } from '../../src/statistics/fisher-exact.js';
import { holmAdjust } from '../../src/statistics/holm-adjust.js';
import { kaplanMeier, medianSurvival } from '../../src/statistics/kaplan-meier.js';
import { percentileRank } from '../../src/statistics/percentile-rank.js';
import { quantile } from '../../src/statistics/quantile.js';
import { poissonRateRatio, riskRatio } from '../../src/statistics/rate-ratio.js';

const infinity = Number.POSITIVE_INFINITY;
const zSquared = 3.841458820694124; // chi-squared, 1 degree of freedom, 95 %
const notConfidences = [0, 1, -0.5, Number.NaN];

describe("Fisher's exact test", () => {
  it('of a table with an empty row or column, or of no motor at all, is certain', () => {
    for (const [a, b, c, d] of [
      [0, 0, 0, 0],
      [0, 0, 3, 9],
      [4, 7, 0, 0],
      [0, 5, 0, 8],
      [5, 0, 8, 0],
    ] as const) {
      expect(fisherExact(a, b, c, d)).toEqual({ twoSided: 1, greater: 1 });
    }
  });

  it('counts an equally probable table on the other side, although rounding separates the two', () => {
    // Equal margins: the distribution is symmetric, so two-sided is twice one-sided. The
    // sizes are those where the two weights, multiplied up in different orders, may differ.
    for (const half of [10, 101, 1_000, 33_333, 500_000]) {
      const a = half + Math.ceil(Math.sqrt(half));
      const { twoSided, greater } = fisherExact(a, 2 * half - a, 2 * half - a, a);
      expect(twoSided / greater).toBeCloseTo(2, 12);
    }
  });

  it('is 0 where the probability is too small for a number, and no NaN', () => {
    expect(fisherExact(100_000, 0, 0, 100_000)).toEqual({ twoSided: 0, greater: 0 });
    expect(fisherExact(0, 100_000, 100_000, 0)).toEqual({ twoSided: 0, greater: 1 });
  });

  it('keeps its digits down to 1e-299', () => {
    // By definition 1 in (1000 choose 500), about 3.7e-300, formed here exactly.
    let ways = 1n;
    for (let k = 1n; k <= 500n; k++) ways = (ways * (500n + k)) / k;
    expect(fisherExact(500, 0, 0, 500).greater * Number(ways)).toBeCloseTo(1, 12);
    expect(fisherExact(500, 0, 0, 500).twoSided * Number(ways)).toBeCloseTo(2, 12);
  });

  it('takes a table of fisherTotalMax within a request, and refuses one more', () => {
    const quarter = fisherTotalMax / 4;
    const started = performance.now();
    expect(fisherExact(quarter, quarter, quarter, quarter).twoSided).toBe(1);
    expect(performance.now() - started).toBeLessThan(1_000);
    expect(() => fisherExact(quarter, quarter, quarter, quarter + 1)).toThrow(/above 1000000000/);
  });

  it('refuses what is no count', () => {
    for (const bad of [-1, 0.5, Number.NaN, infinity, 2 ** 53]) {
      expect(() => fisherExact(bad, 1, 1, 1)).toThrow(RangeError);
      expect(() => fisherExact(1, bad, 1, 1)).toThrow(RangeError);
      expect(() => fisherExact(1, 1, bad, 1)).toThrow(RangeError);
      expect(() => fisherExact(1, 1, 1, bad)).toThrow(RangeError);
    }
  });
});

describe('the binomial tails', () => {
  it('are rational numbers for a fair coin', () => {
    expect(binomialCdf(2, 12, 0.5)).toBeCloseTo(79 / 4096, 15);
    expect(binomialUpperTail(10, 12, 0.5)).toBeCloseTo(79 / 4096, 15);
    expect(binomialUpperTail(0, 12, 0.5)).toBe(1);
    expect(binomialCdf(12, 12, 0.5)).toBe(1);
  });

  it('hold at probabilities 0 and 1', () => {
    expect(binomialCdf(0, 5, 0)).toBe(1);
    expect(binomialUpperTail(1, 5, 0)).toBe(0);
    expect(binomialCdf(4, 5, 1)).toBe(0);
    expect(binomialUpperTail(5, 5, 1)).toBe(1);
  });

  it('keep the digits of a tail that 1 minus the other one loses', () => {
    expect(binomialUpperTail(30, 30, 0.1)).toBeCloseTo(1e-30, 43);
    expect(binomialCdf(0, 30, 0.9)).toBeCloseTo(1e-30, 43);
  });

  it('refuse what is no count and no probability', () => {
    expect(() => binomialCdf(0, 0, 0.5)).toThrow(/trials is 0/);
    expect(() => binomialCdf(0, binomialTrialsMax + 1, 0.5)).toThrow(RangeError);
    expect(binomialCdf(0, binomialTrialsMax, 0)).toBe(1);
    expect(() => binomialCdf(1, 2.5, 0.5)).toThrow(RangeError);
    for (const successes of [-1, 1.5, 4]) {
      expect(() => binomialCdf(successes, 3, 0.5)).toThrow(RangeError);
    }
    for (const probability of [-0.1, 1.1, Number.NaN]) {
      expect(() => binomialUpperTail(1, 3, probability)).toThrow(RangeError);
    }
  });
});

describe('the Clopper-Pearson interval', () => {
  it('has closed forms at no and at all successes', () => {
    // (1 - p)^n = 0.025 and p^n = 0.025, by definition.
    for (const trials of [1, 7, 60, 100_000]) {
      const end = 0.025 ** (1 / trials);
      const none = clopperPearsonInterval(0, trials);
      const all = clopperPearsonInterval(trials, trials);
      expect(none.lower).toBe(0);
      expect(none.upper).toBeCloseTo(1 - end, 14);
      expect(all.lower).toBeCloseTo(end, 14);
      expect(all.upper).toBe(1);
    }
  });

  it('refuses what is no count and no confidence', () => {
    expect(() => clopperPearsonInterval(0, 0)).toThrow(RangeError);
    expect(() => clopperPearsonInterval(4, 3)).toThrow(RangeError);
    expect(() => clopperPearsonInterval(0.5, 3)).toThrow(RangeError);
    for (const c of notConfidences)
      expect(() => clopperPearsonInterval(1, 3, c)).toThrow(RangeError);
  });
});

describe('the ratio of two shares', () => {
  it('with no event in one group has an end that the data cannot give', () => {
    const first = riskRatio({ events1: 0, trials1: 20, events2: 3, trials2: 30 });
    expect([first.ratio, first.lower]).toEqual([0, 0]);
    expect(Number.isFinite(first.upper)).toBe(true);
    const second = riskRatio({ events1: 3, trials1: 30, events2: 0, trials2: 20 });
    expect([second.ratio, second.upper]).toEqual([infinity, infinity]);
    expect(second.lower).toBeCloseTo(1 / first.upper, 12);
  });

  it('with no event in either group is unknown, from 0 to Infinity', () => {
    const none = riskRatio({ events1: 0, trials1: 20, events2: 0, trials2: 30 });
    expect(none).toEqual({ ratio: null, lower: 0, upper: infinity });
  });

  it('with all of both groups reaches n/(n + z²) down and 1 + z²/n up', () => {
    // Derived: the most likely share of the larger is 1, so the score equation is that of one share.
    for (const [n1, n2] of [
      [10, 20],
      [1, 1],
      [1_000_000, 3_000_000],
      [2 ** 50, 2 ** 52],
    ] as const) {
      const all = riskRatio({ events1: n1, trials1: n1, events2: n2, trials2: n2 });
      expect(all.ratio).toBe(1);
      expect(all.lower).toBeCloseTo(n1 / (n1 + zSquared), 13);
      expect(all.upper).toBeCloseTo(1 + zSquared / n2, 13);
    }
  });

  it('refuses what is no count and no confidence', () => {
    const shares = { events1: 1, trials1: 3, events2: 1, trials2: 3 };
    for (const wrong of [
      { events1: -1 },
      { events1: 4 },
      { events2: 0.5 },
      { events2: 4 },
      { trials1: 0, events1: 0 },
      { trials2: 2.5 },
    ]) {
      expect(() => riskRatio({ ...shares, ...wrong })).toThrow(RangeError);
    }
    for (const c of notConfidences) expect(() => riskRatio(shares, c)).toThrow(RangeError);
  });
});

describe('the ratio of two Poisson rates', () => {
  const rates = { events1: 0, exposure1: 10, events2: 4, exposure2: 30 };

  it('with no event in group 1 ends where the exposures explain it with probability 0.025', () => {
    // By definition: (1 - share)^4 = 0.025 with odds share/(1 - share) = ratio · 10/30.
    const { ratio, lower, upper } = poissonRateRatio(rates);
    const share = 1 - 0.025 ** (1 / 4);
    expect([ratio, lower]).toEqual([0, 0]);
    expect(upper).toBeCloseTo((share / (1 - share)) * 3, 12);
  });

  it('with no event in group 2 has no upper end, and with none at all no ratio', () => {
    const second = poissonRateRatio({ ...rates, events1: 4, events2: 0 });
    expect([second.ratio, second.upper]).toEqual([infinity, infinity]);
    expect(second.lower).toBeGreaterThan(0);
    const none = poissonRateRatio({ ...rates, events2: 0 });
    expect(none).toEqual({ ratio: null, lower: 0, upper: infinity });
  });

  it('refuses what is no count, no exposure and no confidence', () => {
    for (const events of [-1, 0.5, Number.NaN, binomialTrialsMax]) {
      expect(() => poissonRateRatio({ ...rates, events1: events })).toThrow(RangeError);
    }
    expect(() => poissonRateRatio({ ...rates, events2: -1 })).toThrow(RangeError);
    for (const exposure of [0, -1, Number.NaN, infinity]) {
      expect(() => poissonRateRatio({ ...rates, exposure1: exposure })).toThrow(RangeError);
      expect(() => poissonRateRatio({ ...rates, exposure2: exposure })).toThrow(RangeError);
    }
    for (const c of notConfidences) expect(() => poissonRateRatio(rates, c)).toThrow(RangeError);
    const none = { ...rates, events2: 0 };
    for (const c of notConfidences) expect(() => poissonRateRatio(none, c)).toThrow(RangeError);
  });
});

describe('the survival curve', () => {
  const failed = (time: number) => ({ time, event: true });
  const suspended = (time: number) => ({ time, event: false });

  it('counts a unit suspended at the time of a failure as still at risk then', () => {
    expect(kaplanMeier([suspended(5), failed(5), suspended(9)])[0]).toMatchObject({
      time: 5,
      atRisk: 3,
      events: 1,
      censored: 1,
      survival: 2 / 3,
    });
  });

  it('without a failure stays at 1, with no error that it could know', () => {
    expect(kaplanMeier([suspended(3), suspended(3)])).toEqual([
      {
        time: 3,
        atRisk: 2,
        events: 0,
        censored: 2,
        survival: 1,
        standardError: 0,
        lower: null,
        upper: null,
      },
    ]);
    expect(medianSurvival(kaplanMeier([suspended(3)]))).toBeNull();
  });

  it('that has come down to 0 has no error and no interval', () => {
    const last = kaplanMeier([failed(1), failed(4)]).at(-1);
    expect(last).toMatchObject({ survival: 0, standardError: null, lower: null, upper: null });
  });

  it('reaches its median where the product for one half is rounded up', () => {
    // 23/24 · 22/23 · ... · 12/13 is one half on paper, and a little more in doubles.
    const steps = kaplanMeier(Array.from({ length: 24 }, (_, index) => failed(index + 1)));
    expect(steps[11]?.survival).toBeGreaterThan(0.5);
    expect(medianSurvival(steps)).toBe(12);
  });

  it('of no observations has no steps and no median', () => {
    expect(kaplanMeier([])).toEqual([]);
    expect(medianSurvival([])).toBeNull();
  });

  it('is wider with more confidence', () => {
    const observations = [failed(1), suspended(2), failed(3), suspended(4)];
    const [usual] = kaplanMeier(observations);
    const [wider] = kaplanMeier(observations, 0.99);
    expect(wider?.lower ?? 1).toBeLessThan(usual?.lower ?? 0);
    expect(wider?.upper ?? 0).toBeGreaterThan(usual?.upper ?? 1);
  });

  it('refuses what is no time and no confidence', () => {
    for (const time of [-1, Number.NaN, infinity]) {
      expect(() => kaplanMeier([failed(time)])).toThrow(RangeError);
    }
    for (const c of notConfidences) expect(() => kaplanMeier([failed(1)], c)).toThrow(RangeError);
  });
});

describe('the percentile rank', () => {
  it('is the mean of the strict and the weak rank', () => {
    // SciPy 1.17.1, percentileofscore([1, 2, 3, 3, 4], 3): strict 40, weak 80, mean 60.
    expect(percentileRank(Object.freeze([1, 2, 3, 3, 4]), 3)).toBe(0.6);
    expect(percentileRank([4, 3, 1, 3, 2], 3)).toBe(0.6);
  });

  it('of a value outside the population is 0 or 1, of one between two members their border', () => {
    expect(percentileRank([1, 2, 3, 4], 0)).toBe(0);
    expect(percentileRank([1, 2, 3, 4], 9)).toBe(1);
    expect(percentileRank([1, 2, 3, 4], 2.5)).toBe(0.5);
    expect(percentileRank([7], 7)).toBe(0.5);
    expect(percentileRank([1, infinity], infinity)).toBe(0.75);
  });

  it('undoes the type 7 quantile to within half a place', () => {
    const sample = [2, 3, 5, 7, 11, 13, 17];
    for (const p of [0, 0.1, 0.25, 0.5, 0.8, 1]) {
      const back = percentileRank(sample, quantile(sample, p));
      expect(Math.abs(back - p)).toBeLessThanOrEqual(1 / sample.length);
    }
    for (const [index, value] of sample.entries()) {
      const difference = percentileRank(sample, value) - index / 6;
      expect(Math.abs(difference)).toBeLessThanOrEqual(1 / 14 + 1e-15);
    }
  });

  it('refuses an empty population and what is not a number', () => {
    expect(() => percentileRank([], 1)).toThrow(/empty/);
    expect(() => percentileRank([1, Number.NaN], 1)).toThrow(RangeError);
    expect(() => percentileRank([1], Number.NaN)).toThrow(RangeError);
  });
});

describe("Holm's adjustment", () => {
  it('never passes 1 and leaves a single test alone', () => {
    expect(holmAdjust([0.9, 0.8])).toEqual([1, 1]);
    expect(holmAdjust([0.04])).toEqual([0.04]);
    expect(holmAdjust([])).toEqual([]);
    expect(holmAdjust([0, 1])).toEqual([0, 1]);
  });

  it('refuses what is no probability', () => {
    for (const p of [-0.1, 1.1, Number.NaN]) expect(() => holmAdjust([0.5, p])).toThrow(RangeError);
  });
});
