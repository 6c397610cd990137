import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { binomialCdf, binomialUpperTail } from '../../src/statistics/binomial-cdf.js';
import { clopperPearsonInterval } from '../../src/statistics/clopper-pearson-interval.js';
import { fisherExact } from '../../src/statistics/fisher-exact.js';
import { holmAdjust } from '../../src/statistics/holm-adjust.js';
import { kaplanMeier } from '../../src/statistics/kaplan-meier.js';
import { percentileRank } from '../../src/statistics/percentile-rank.js';
import { poissonRateRatio, riskRatio } from '../../src/statistics/rate-ratio.js';

const zSquared = 3.841458820694124; // chi-squared, 1 degree of freedom, 95 %

/** n choose k, exactly. */
function choose(n: number, k: number): bigint {
  let ways = 1n;
  for (let i = 1; i <= k; i++) ways = (ways * BigInt(n - k + i)) / BigInt(i);
  return ways;
}

/** part / whole of two integers of any size. */
function share(part: bigint, whole: bigint): number {
  return Number((part * 10n ** 40n) / whole) / 1e40;
}

describe("Fisher's exact test against rational arithmetic", () => {
  const count = fc.integer({ min: 0, max: 40 });

  it('is the sum over all tables with the same margins', () => {
    fc.assert(
      fc.property(count, count, count, count, (a, b, c, d) => {
        const row = a + b;
        const column = a + c;
        const total = row + c + d;
        const ways = (k: number) => choose(row, k) * choose(total - row, column - k);
        const observed = ways(a);
        let twoSided = 0n;
        let greater = 0n;
        for (let k = Math.max(0, row + column - total); k <= Math.min(row, column); k++) {
          const here = ways(k);
          // The documented tie: not more than a ten-millionth above the observed one.
          if (here * 10n ** 7n <= observed * (10n ** 7n + 1n)) twoSided += here;
          if (k >= a) greater += here;
        }
        const whole = choose(total, column);
        const ours = fisherExact(a, b, c, d);
        expect(ours.twoSided / share(twoSided, whole)).toBeCloseTo(1, 12);
        expect(ours.greater / share(greater, whole)).toBeCloseTo(1, 12);
      }),
      { numRuns: 300 },
    );
  });

  it('does not care which margin is called row, nor which row comes first two-sided', () => {
    const large = fc.integer({ min: 0, max: 3_000 });
    fc.assert(
      fc.property(large, large, large, large, (a, b, c, d) => {
        const ours = fisherExact(a, b, c, d);
        expect(fisherExact(a, c, b, d).twoSided).toBeCloseTo(ours.twoSided, 10);
        expect(fisherExact(c, d, a, b).twoSided).toBeCloseTo(ours.twoSided, 10);
        expect(fisherExact(d, c, b, a).greater).toBeCloseTo(ours.greater, 10);
        // The other one-sided value is that of the rows exchanged; both hold this table.
        const less = fisherExact(c, d, a, b).greater;
        expect(less + ours.greater).toBeGreaterThanOrEqual(1 - 1e-12);
      }),
      { numRuns: 100 },
    );
  });
});

describe('the Clopper-Pearson interval by its definition', () => {
  it('has tails of 0.025 at both ends, summed here term by term', () => {
    const trialsAndSuccesses = fc
      .integer({ min: 2, max: 200 })
      .chain((n) => fc.tuple(fc.constant(n), fc.integer({ min: 1, max: n - 1 })));
    fc.assert(
      fc.property(trialsAndSuccesses, ([trials, successes]) => {
        const { lower, upper } = clopperPearsonInterval(successes, trials);
        const term = (k: number, p: number) =>
          Number(choose(trials, k)) * p ** k * (1 - p) ** (trials - k);
        let above = 0;
        let below = 0;
        for (let k = successes; k <= trials; k++) above += term(k, lower);
        for (let k = 0; k <= successes; k++) below += term(k, upper);
        expect(above).toBeCloseTo(0.025, 12);
        expect(below).toBeCloseTo(0.025, 12);
        expect(binomialUpperTail(successes, trials, lower)).toBeCloseTo(above, 12);
        expect(binomialCdf(successes, trials, upper)).toBeCloseTo(below, 12);
      }),
      { numRuns: 100 },
    );
  });

  it('holds the true proportion at least 95 times in 100, whatever it is', () => {
    for (const trials of [1, 5, 12, 30]) {
      const intervals = Array.from({ length: trials + 1 }, (_, x) =>
        clopperPearsonInterval(x, trials),
      );
      for (let p = 0.005; p < 1; p += 0.005) {
        let coverage = 0;
        for (const [x, { lower, upper }] of intervals.entries()) {
          const held = lower <= p && p <= upper;
          if (held) coverage += Number(choose(trials, x)) * p ** x * (1 - p) ** (trials - x);
        }
        expect(coverage).toBeGreaterThanOrEqual(0.95 - 1e-12);
      }
    }
  });
});

/** Koopman's chi-squared, with the most likely share of group 1 searched for, not solved for. */
function koopman(x1: number, n1: number, x2: number, n2: number, ratio: number): number {
  // The slope of the log likelihood in share 1, where share 2 is share 1 / ratio.
  const slope = (p: number) => (x1 + x2) / p - (n1 - x1) / (1 - p) - (n2 - x2) / (ratio - p);
  let low = 0;
  let high = Math.min(1, ratio);
  for (let halving = 0; halving < 100; halving++) {
    const middle = (low + high) / 2;
    if (slope(middle) > 0) low = middle;
    else high = middle;
  }
  const p = (low + high) / 2;
  const first = (x1 - n1 * p) ** 2 / (n1 * p * (1 - p));
  return first * (1 + (n1 * (ratio - p)) / (n2 * (1 - p)));
}

describe('the score interval of a ratio of shares', () => {
  const group = fc
    .integer({ min: 2, max: 500 })
    .chain((n) => fc.tuple(fc.integer({ min: 1, max: n - 1 }), fc.constant(n)));

  it("solves Koopman's equation at both ends, around the ratio", () => {
    fc.assert(
      fc.property(group, group, ([x1, n1], [x2, n2]) => {
        const shares = { events1: x1, trials1: n1, events2: x2, trials2: n2 };
        const { ratio, lower, upper } = riskRatio(shares);
        expect(lower).toBeLessThan(ratio ?? 0);
        expect(upper).toBeGreaterThan(ratio ?? 0);
        expect(koopman(x1, n1, x2, n2, lower) / zSquared).toBeCloseTo(1, 8);
        expect(koopman(x1, n1, x2, n2, upper) / zSquared).toBeCloseTo(1, 8);
      }),
      { numRuns: 200 },
    );
  });

  it('turns over when the groups are exchanged', () => {
    fc.assert(
      fc.property(group, group, ([x1, n1], [x2, n2]) => {
        const ours = riskRatio({ events1: x1, trials1: n1, events2: x2, trials2: n2 });
        const turned = riskRatio({ events1: x2, trials1: n2, events2: x1, trials2: n1 });
        expect(turned.lower * ours.upper).toBeCloseTo(1, 11);
        expect(turned.upper * ours.lower).toBeCloseTo(1, 11);
      }),
      { numRuns: 200 },
    );
  });

  it('nears the exact ratio of Poisson rates when events are rare', () => {
    const shares = { events1: 900, trials1: 10_000_000, events2: 400, trials2: 6_000_000 };
    const score = riskRatio(shares);
    const exact = poissonRateRatio({
      events1: 900,
      exposure1: 10_000_000,
      events2: 400,
      exposure2: 6_000_000,
    });
    expect(Math.abs(score.lower / exact.lower - 1)).toBeLessThan(0.01);
    expect(Math.abs(score.upper / exact.upper - 1)).toBeLessThan(0.01);
  });
});

describe('the survival curve against other roads to it', () => {
  const observation = fc.record({ time: fc.integer({ min: 0, max: 12 }), event: fc.boolean() });
  const observations = fc.array(observation, { minLength: 1, maxLength: 40 });

  it('is what is left when each suspended unit hands its weight to those that outlast it', () => {
    // Efron's redistribution to the right (1967), which gives the same curve.
    fc.assert(
      fc.property(observations, (given) => {
        const line = [...given].sort(
          (x, y) => x.time - y.time || Number(y.event) - Number(x.event),
        );
        const weights = line.map(() => 1 / line.length);
        let left = 1;
        const survivalAt = new Map<number, number>();
        for (const [place, { time, event }] of line.entries()) {
          const weight = weights[place] ?? 0;
          const behind = line.length - place - 1;
          if (event) left -= weight;
          else {
            for (let later = place + 1; later < line.length; later++) {
              weights[later] = (weights[later] ?? 0) + weight / behind;
            }
          }
          survivalAt.set(time, left);
        }
        const steps = kaplanMeier(Object.freeze(given));
        expect(steps.map((step) => step.time)).toEqual([...survivalAt.keys()]);
        for (const { time, survival } of steps) {
          expect(survival).toBeCloseTo(survivalAt.get(time) ?? -1, 11);
        }
      }),
      { numRuns: 300 },
    );
  });

  it('loses no unit, never rises, and stays inside its interval and 0 to 1', () => {
    fc.assert(
      fc.property(observations, (given) => {
        let before = 1;
        let gone = 0;
        for (const step of kaplanMeier(given)) {
          expect(step.atRisk).toBe(given.length - gone);
          gone += step.events + step.censored;
          expect(step.survival).toBeLessThanOrEqual(before);
          before = step.survival;
          if (step.lower === null || step.upper === null) continue;
          expect(step.lower).toBeGreaterThanOrEqual(0);
          expect(step.lower).toBeLessThan(step.survival);
          expect(step.upper).toBeGreaterThan(step.survival);
          expect(step.upper).toBeLessThanOrEqual(1);
        }
        expect(gone).toBe(given.length);
      }),
      { numRuns: 200 },
    );
  });

  it('without suspensions is the share left, with the error of a binomial share', () => {
    const times = fc.array(fc.integer({ min: 1, max: 20 }), { minLength: 2, maxLength: 60 });
    fc.assert(
      fc.property(times, (given) => {
        for (const step of kaplanMeier(given.map((time) => ({ time, event: true })))) {
          const left = given.filter((time) => time > step.time).length / given.length;
          expect(step.survival).toBeCloseTo(left, 12);
          const error = Math.sqrt((left * (1 - left)) / given.length);
          if (left > 0) expect(step.standardError).toBeCloseTo(error, 12);
        }
      }),
      { numRuns: 200 },
    );
  });
});

describe("Holm's adjustment against its closed family", () => {
  it('is the largest Bonferroni p value of all sets of tests that hold the test', () => {
    // Marcus, Peritz and Gabriel's closure (1976) of Bonferroni's test.
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 1, maxLength: 7 }),
        (pValues) => {
          const largest = pValues.map(() => 0);
          for (let set = 1; set < 2 ** pValues.length; set++) {
            const members = [...pValues.keys()].filter((place) => (set >> place) & 1);
            const smallest = Math.min(...members.map((place) => pValues[place] ?? 1));
            const bonferroni = Math.min(1, members.length * smallest);
            for (const place of members) {
              largest[place] = Math.max(largest[place] ?? 0, bonferroni);
            }
          }
          expect(holmAdjust(pValues)).toEqual(largest);
        },
      ),
      { numRuns: 200 },
    );
  });
});

describe('the percentile rank', () => {
  it('turns to 1 minus itself when the scale is turned around', () => {
    const values = fc.array(fc.integer({ min: -9, max: 9 }), { minLength: 1, maxLength: 50 });
    fc.assert(
      fc.property(values, fc.integer({ min: -10, max: 10 }), (population, value) => {
        const turned = population.map((member) => -member);
        const rank = percentileRank(population, value);
        expect(percentileRank(turned, -value)).toBeCloseTo(1 - rank, 14);
        const lower = population.filter((member) => member < value).length;
        expect(rank).toBeGreaterThanOrEqual(lower / population.length);
      }),
      { numRuns: 200 },
    );
  });
});
