import { describe, expect, it } from 'vitest';
import {
  empiricalGlobalRisks,
  expectedVerdictErrors,
  globalRisks,
} from '../../src/statistics/conformity-risk.js';

// The formulas of JCGM 106:2012 (from memory). Its own worked global risks were not found in
// a copy; the figures below are theirs by definition, taken elsewhere.

const both = (half: number) => ({ lower: -half, upper: half });
const below = (upper: number) => ({ lower: null, upper });

describe('the global risks of a normal population (JCGM 106:2012, 9.5)', () => {
  it('at a single limit in the middle are 1/4 - asin(ρ)/2π with the correlation ρ of true and measured value, or atan(u)/2π', () => {
    // Sheppard's quadrant probability of the bivariate normal distribution.
    for (const u of [0.01, 0.3, 1, 5]) {
      const rule = { tolerance: below(0), acceptance: below(0), standardUncertainty: u };
      const { consumer, producer } = globalRisks({ mean: 0, standardDeviation: 1 }, rule);
      const quadrant = Math.atan(u) / (2 * Math.PI);
      expect(consumer / quadrant).toBeCloseTo(1, 12);
      expect(producer / quadrant).toBeCloseTo(1, 12);
    }
  });

  it.each([
    // Mean, deviation, tolerance, acceptance, uncertainty; risks by mpmath 1.3.0 with 40 digits.
    [0, 1, both(2), both(2), 0.25, 0.00800608483445009, 0.0148508842112549],
    [0, 1, both(2), both(1.6), 0.2, 0.000160700236036458, 0.0713249011207014],
    [10, 1, below(14), below(13.9), 0.05, 5.31720173165754e-8, 1.74541338542193e-5],
    [
      1500,
      0.12,
      { lower: 1499.8, upper: 1500.2 },
      { lower: 1499.8, upper: 1500.2 },
      0.04,
      0.0189422067170291,
      0.0372078001780577,
    ],
    [
      1500,
      0.12,
      { lower: 1499.8, upper: 1500.2 },
      { lower: 1499.88, upper: 1500.12 },
      0.04,
      0.000468633598870355,
      0.247669640201152,
    ],
  ] as const)(
    'about %f with %f, tolerance %j, acceptance %j, u = %f',
    (mean, deviation, tolerance, acceptance, u, consumer, producer) => {
      const rule = { tolerance, acceptance, standardUncertainty: u };
      const ours = globalRisks({ mean, standardDeviation: deviation }, rule);
      // The limits near 1500 are doubles, which costs their distances three digits.
      const digits = mean === 1500 ? 10 : 12;
      expect(ours.consumer / consumer).toBeCloseTo(1, digits);
      expect(ours.producer / producer).toBeCloseTo(1, digits);
    },
  );
});

describe('the specific risks (JCGM 106:2012, 7 and 9.3)', () => {
  it('of a value 1.4 u inside one limit is 1 - Φ(1.40) = 0.0808', () => {
    // 5.47 against a limit of 5.40 with u = 0.05, mirrored: from memory a worked example of the guide.
    const rule = { tolerance: below(-5.4), acceptance: below(-5.4), standardUncertainty: 0.05 };
    const verdicts = expectedVerdictErrors([-5.47], rule);
    expect(verdicts.expectedFalseAccepts).toBeCloseTo(0.0808, 4);
    expect(verdicts.expectedFalseRejects).toBe(0);
  });

  it('of 13.6 with u = 1.8 between 12.5 and 16.3 is 1 - 0.66', () => {
    const limits = { lower: 12.5, upper: 16.3 };
    const rule = { tolerance: limits, acceptance: limits, standardUncertainty: 1.8 };
    expect(expectedVerdictErrors([13.6], rule).expectedFalseAccepts).toBeCloseTo(0.34, 2);
  });
});

describe('a population given by its members', () => {
  it('made of evenly spaced normal quantiles has the risks of the normal one', () => {
    // A grid of true values weighted by repetition, so that no random number is needed.
    const members: number[] = [];
    for (let k = -600; k <= 600; k++) {
      const times = Math.round(2000 * Math.exp(-((k / 100) ** 2) / 2));
      for (let i = 0; i < times; i++) members.push((k + 0.5) / 100);
    }
    const rule = { tolerance: both(2), acceptance: both(1.9), standardUncertainty: 0.25 };
    const given = empiricalGlobalRisks(members, rule);
    const normal = globalRisks({ mean: 0.005, standardDeviation: 1 }, rule);
    expect(given.consumer / normal.consumer).toBeCloseTo(1, 1);
    expect(given.producer / normal.producer).toBeCloseTo(1, 1);
    expect(given.accepted).toBeCloseTo(normal.accepted, 3);
    expect(given.conforming).toBeCloseTo(normal.conforming, 2);
  });
});
