import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { andersonDarling } from '../../src/statistics/anderson-darling.js';
import { betaQuantile } from '../../src/statistics/beta-quantile.js';
import { betaTails } from '../../src/statistics/beta-tails.js';
import {
  individualsCapability,
  movingRangeDegreesOfFreedom,
} from '../../src/statistics/capability.js';
import { chiSquaredQuantile, chiSquaredTails } from '../../src/statistics/chi-squared.js';
import { globalRisks } from '../../src/statistics/conformity-risk.js';
import { fQuantile, fTails } from '../../src/statistics/f-distribution.js';
import { gaugeStudy } from '../../src/statistics/gauge-study.js';
import { histogram, histogramClassesMax } from '../../src/statistics/histogram.js';
import { integrate } from '../../src/statistics/integrate.js';
import { moments } from '../../src/statistics/moments.js';
import { normalQuantile } from '../../src/statistics/normal-quantile.js';
import { oneWayAnova } from '../../src/statistics/one-way-anova.js';
import { quantile } from '../../src/statistics/quantile.js';
import { sortedQuantile, sortSample } from '../../src/statistics/sorted-sample.js';
import { studentTCdf, studentTQuantile } from '../../src/statistics/student-t.js';
import { welchAnova } from '../../src/statistics/welch-anova.js';
import { welchInterval } from '../../src/statistics/welch-interval.js';

const probability = fc.double({ min: 1e-9, max: 1 - 1e-9, noNaN: true });
const freedom = fc.oneof(
  fc.double({ min: 0.5, max: 60, noNaN: true }),
  fc.integer({ min: 1, max: 2_000_000 }),
);

/** Normal values from a linear congruential generator: the same in every run. */
function normals(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state * 1_664_525 + 1_013_904_223) % 2 ** 32;
    return normalQuantile((state + 0.5) / 2 ** 32);
  };
}

describe('quantiles and tails undo each other', () => {
  it('for chi-squared, F, t and beta, with any degrees of freedom', () => {
    fc.assert(
      fc.property(probability, freedom, freedom, (p, d1, d2) => {
        const share = (tails: { lower: number; upper: number }) =>
          p < 0.5 ? tails.lower / p : tails.upper / (1 - p);
        expect(share(chiSquaredTails(chiSquaredQuantile(p, d1), d1))).toBeCloseTo(1, 8);
        expect(share(fTails(fQuantile(p, d1, d2), d1, d2))).toBeCloseTo(1, 8);
        const t = studentTQuantile(p, d1);
        expect(studentTCdf(-Math.abs(t), d1) / Math.min(p, 1 - p)).toBeCloseTo(1, 9);
        expect(Math.sign(t)).toBe(Math.sign(p - 0.5));
        const x = betaQuantile(p, d1 / 2, d2 / 2);
        // Where x is nearly 1, the double 1 - x has lost what the odds had.
        if (x < 0.99) expect(share(betaTails(x, 1 - x, d1 / 2, d2 / 2))).toBeCloseTo(1, 8);
      }),
      { numRuns: 200 },
    );
  });

  it('and have the closed forms of two and of one degree of freedom', () => {
    fc.assert(
      fc.property(probability, freedom, (p, d) => {
        expect(chiSquaredQuantile(p, 2) / (-2 * Math.log1p(-p))).toBeCloseTo(1, 11);
        expect(fQuantile(p, 2, 2) / (p / (1 - p))).toBeCloseTo(1, 11);
        expect(fTails(1.7, 2, d).upper / (1 + 3.4 / d) ** (-d / 2)).toBeCloseTo(1, 9);
        expect(studentTCdf(-0.8, 1)).toBeCloseTo(0.5 - Math.atan(0.8) / Math.PI, 14);
        expect(studentTQuantile(p, 2)).toBeCloseTo((2 * p - 1) / Math.sqrt(2 * p * (1 - p)), 6);
        expect(betaQuantile(p, 1, d / 2)).toBeCloseTo(-Math.expm1(Math.log1p(-p) / (d / 2)), 12);
      }),
      { numRuns: 200 },
    );
  });

  it('and t² is F with one degree of freedom', () => {
    fc.assert(
      fc.property(fc.double({ min: -50, max: 50, noNaN: true }), freedom, (t, d) => {
        const twoSided = 2 * studentTCdf(-Math.abs(t), d);
        expect(fTails(t * t, 1, d).upper).toBeCloseTo(twoSided, 12);
      }),
      { numRuns: 200 },
    );
  });
});

describe('the rule of integration', () => {
  it('is exact for polynomials of degree 22, as Kronrod found', () => {
    for (let degree = 0; degree <= 22; degree++) {
      const whole = integrate((x) => x ** degree, 0, 1);
      expect(whole * (degree + 1)).toBeCloseTo(1, 14);
    }
  });
});

const sample = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), {
  minLength: 2,
  maxLength: 60,
});
const groups = fc.array(
  fc.array(fc.integer({ min: -500, max: 500 }), { minLength: 2, maxLength: 12 }),
  { minLength: 2, maxLength: 6 },
);

describe('samples', () => {
  it('moved and stretched have moments moved and stretched', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -9999, max: 9999 }), { minLength: 2 }), (values) => {
        const plain = moments(values);
        const moved = moments(values.map((value) => 4 * value + 1e9));
        expect(moved.mean).toBeCloseTo(4 * plain.mean + 1e9, 5);
        expect(moved.standardDeviation).toBeCloseTo(4 * plain.standardDeviation, 5);
      }),
    );
  });

  it('sorted once have the quantiles of `quantile`', () => {
    fc.assert(
      fc.property(sample, fc.double({ min: 0, max: 1, noNaN: true }), (values, p) => {
        expect(sortedQuantile(sortSample(values), p)).toBe(quantile(values, p));
      }),
    );
  });

  it('are counted whole by a histogram, each value within the class that counts it', () => {
    fc.assert(
      fc.property(sample, (values) => {
        fc.pre(Math.max(...values) - Math.min(...values) > 1e-6);
        const { edges, counts } = histogram(sortSample(values));
        expect(counts).toHaveLength(edges.length - 1);
        expect(counts.length).toBeLessThanOrEqual(histogramClassesMax);
        expect(counts.reduce((sum, count) => sum + count, 0)).toBe(values.length);
        for (const [place, count] of counts.entries()) {
          const [from = 0, to = 0] = edges.slice(place, place + 2);
          const last = place === counts.length - 1;
          expect(values.filter((v) => v >= from && (last ? v <= to : v < to))).toHaveLength(count);
        }
      }),
    );
  });
});

describe('comparisons', () => {
  it('split the total sum of squares between and within', () => {
    fc.assert(
      fc.property(groups, (values) => {
        const all = moments(values.flat());
        const { between, within } = oneWayAnova(values.map((group) => moments(group)));
        const total = (all.count - 1) * all.standardDeviation ** 2;
        expect(between.sumOfSquares + within.sumOfSquares).toBeCloseTo(total, 5);
        expect(between.degreesOfFreedom + within.degreesOfFreedom).toBe(all.count - 1);
      }),
    );
  });

  it('of two groups by Welch are his t test, whichever comes first', () => {
    fc.assert(
      fc.property(groups, ([first = [], second = []]) => {
        const [one, other] = [moments(first), moments(second)];
        fc.pre(one.standardDeviation > 0 && other.standardDeviation > 0);
        const f = welchAnova([one, other]);
        const t = welchInterval(one, other);
        const back = welchInterval(other, one);
        expect(f?.f).toBeCloseTo(((t?.difference ?? 0) / (t?.standardError ?? 1)) ** 2, 6);
        expect(f?.degreesOfFreedomWithin).toBeCloseTo(t?.degreesOfFreedom ?? 0, 8);
        expect(f?.pValue).toBeCloseTo(t?.pValue ?? -1, 10);
        expect(back?.lower).toBeCloseTo(-(t?.upper ?? 0), 8);
      }),
    );
  });

  it('of a gauge split the total sum of squares, and its variances add up', () => {
    const cell = fc.array(fc.integer({ min: -50, max: 50 }), { minLength: 3, maxLength: 3 });
    const part = fc.array(cell, { minLength: 2, maxLength: 2 });
    fc.assert(
      fc.property(
        fc.array(part, { minLength: 4, maxLength: 4 }),
        fc.boolean(),
        (readings, poolInteraction) => {
          const study = gaugeStudy(readings, { poolInteraction, tolerance: null });
          const { part: p, appraiser, interaction, repeatability, total } = study.table;
          const lines = [p, appraiser, interaction, repeatability];
          const sum = lines.reduce((squares, line) => squares + line.sumOfSquares, 0);
          expect(sum).toBeCloseTo(total.sumOfSquares, 6);
          expect(lines.reduce((all, line) => all + line.degreesOfFreedom, 0)).toBe(
            total.degreesOfFreedom,
          );
          const sources = [
            study.repeatability,
            study.reproducibility,
            study.interaction,
            study.part,
          ];
          const variance = sources.reduce(
            (all, one) => all + (one?.standardDeviation ?? 0) ** 2,
            0,
          );
          expect(variance).toBeCloseTo(study.total.standardDeviation ** 2, 6);
        },
      ),
    );
  });
});

describe('the global risks', () => {
  it('make up the difference between what conforms and what is accepted', () => {
    // Accepted = conforming - wrongly rejected + wrongly accepted, each taken on its own.
    const positive = fc.double({ min: 0.01, max: 20, noNaN: true });
    fc.assert(
      fc.property(
        fc.double({ min: -5, max: 5, noNaN: true }),
        positive,
        positive,
        positive,
        fc.double({ min: 0, max: 0.9, noNaN: true }),
        (mean, standardDeviation, standardUncertainty, half, guard) => {
          const tolerance = { lower: -half, upper: half };
          const acceptance = { lower: -half * (1 - guard), upper: half };
          const risks = globalRisks(
            { mean, standardDeviation },
            { tolerance, acceptance, standardUncertainty },
          );
          expect(risks.conforming - risks.producer + risks.consumer).toBeCloseTo(
            risks.accepted,
            11,
          );
          expect(Math.min(risks.consumer, risks.producer)).toBeGreaterThanOrEqual(0);
        },
      ),
      { numRuns: 60 },
    );
  });
});

describe('with simulated normal values', () => {
  it('the intervals of Cp and Cpk hold the true indices some 95 times in 100', () => {
    const next = normals(20_260_101);
    const limits = { lower: -3.6, upper: 4.5 };
    const held = { pp: 0, ppk: 0, cp: 0, cpk: 0 };
    const runs = 800;
    const holds = (index: { lower: number; upper: number } | null | undefined, truth: number) =>
      index && index.lower <= truth && truth <= index.upper ? 1 : 0;
    for (let run = 0; run < runs; run++) {
      const { within, overall } = individualsCapability(Array.from({ length: 60 }, next), limits);
      held.pp += holds(overall.indices?.both, 1.35);
      held.ppk += holds(overall.indices?.nearest, 1.2);
      held.cp += holds(within.indices?.both, 1.35);
      held.cpk += holds(within.indices?.nearest, 1.2);
    }
    // Four standard deviations of a share of 95 % in 800 are 0.03.
    for (const count of Object.values(held)) {
      expect(count / runs).toBeGreaterThan(0.92);
      expect(count / runs).toBeLessThan(0.98);
    }
  });

  it('the moving-range deviation varies as its degrees of freedom say', () => {
    const next = normals(7);
    const deviations = Array.from({ length: 3_000 }, () => {
      const values = Array.from({ length: 25 }, next);
      return individualsCapability(values, { lower: -9, upper: 9 }).within.standardDeviation;
    });
    const { mean, standardDeviation } = moments(deviations);
    expect(mean).toBeCloseTo(1, 1);
    const squared = (standardDeviation / mean) ** 2;
    expect(2 * squared * movingRangeDegreesOfFreedom(25)).toBeGreaterThan(0.9);
    expect(2 * squared * movingRangeDegreesOfFreedom(25)).toBeLessThan(1.1);
  });

  it('the Anderson-Darling test rejects as often as its p value says', () => {
    const next = normals(99);
    const runs = 4_000;
    const pValues = Array.from({ length: runs }, () => {
      const values = sortSample(Array.from({ length: 30 }, next));
      return andersonDarling(values)?.pValue ?? 0;
    });
    for (const level of [0.01, 0.05, 0.1, 0.5, 0.9]) {
      const rejected = pValues.filter((p) => p <= level).length / runs;
      const deviation = Math.sqrt((level * (1 - level)) / runs);
      expect(Math.abs(rejected - level)).toBeLessThan(4 * deviation + 0.005);
    }
  });
});
