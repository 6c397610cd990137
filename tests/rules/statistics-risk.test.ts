import { describe, expect, it } from 'vitest';
import {
  empiricalGlobalRisks,
  expectedVerdictErrors,
  globalRisks,
  truePopulation,
} from '../../src/statistics/conformity-risk.js';

const infinity = Number.POSITIVE_INFINITY;

describe('the risks of a decision rule', () => {
  const upTo = (upper: number) => ({ lower: null, upper });
  const rule = { tolerance: upTo(10), acceptance: upTo(9), standardUncertainty: 0.5 };

  it('of the examples are as documented', () => {
    const same = { tolerance: upTo(0), acceptance: upTo(0), standardUncertainty: 1 };
    const { consumer, producer } = globalRisks({ mean: 0, standardDeviation: 1 }, same);
    expect([consumer, producer].map((risk) => risk.toFixed(12))).toEqual([
      '0.125000000000',
      '0.125000000000',
    ]);
    const given = empiricalGlobalRisks([8, 11], rule);
    expect(given.consumer).toBeCloseTo(0.0000158, 7);
    expect(given.producer).toBeCloseTo(0.01138, 5);
    expect(given.conforming).toBe(0.5);
    expect(truePopulation({ mean: 20, standardDeviation: 5 }, 3)).toEqual({
      mean: 20,
      standardDeviation: 4,
    });
    const limits = upTo(10);
    const verdicts = expectedVerdictErrors([9, 10.5], {
      tolerance: limits,
      acceptance: limits,
      standardUncertainty: 0.5,
    });
    expect([verdicts.accepted, verdicts.rejected]).toEqual([1, 1]);
    expect(verdicts.expectedFalseAccepts).toBeCloseTo(0.0228, 4);
    expect(verdicts.expectedFalseRejects).toBeCloseTo(0.1587, 4);
  });

  it('accept a value on the acceptance limit, and call one on the tolerance limit half conforming', () => {
    const verdicts = expectedVerdictErrors([9, 10], rule);
    expect([verdicts.accepted, verdicts.rejected]).toEqual([1, 1]);
    expect(verdicts.expectedFalseRejects).toBe(0.5);
    expect(empiricalGlobalRisks([10], rule).conforming).toBe(1);
    const lower = { lower: 9, upper: null };
    const mirrored = { tolerance: lower, acceptance: lower, standardUncertainty: 0.5 };
    expect(expectedVerdictErrors([9], mirrored).accepted).toBe(1);
    expect(expectedVerdictErrors([], rule)).toEqual({
      accepted: 0,
      rejected: 0,
      expectedFalseAccepts: 0,
      expectedFalseRejects: 0,
    });
  });

  it('keep their digits for a value far inside, on either side', () => {
    const both = { lower: -10, upper: 10 };
    const inside = { tolerance: both, acceptance: both, standardUncertainty: 1 };
    const one = expectedVerdictErrors([-1], inside).expectedFalseAccepts;
    expect(one).toBe(expectedVerdictErrors([1], inside).expectedFalseAccepts);
    expect(one / 1.128588405953841e-19).toBeCloseTo(1, 8); // Φ(-9), mpmath 1.3.0, and a billionth for Φ(-11)
    const far = expectedVerdictErrors([-19], inside).expectedFalseRejects;
    expect(far).toBe(expectedVerdictErrors([19], inside).expectedFalseRejects);
    expect(far / 1.128588405953841e-19).toBeCloseTo(1, 12);
  });

  it('have no population behind readings that spread as the measurement alone', () => {
    expect(truePopulation({ mean: 20, standardDeviation: 3 }, 3)).toBeNull();
    expect(() => truePopulation({ mean: 0, standardDeviation: -1 }, 3)).toThrow(RangeError);
  });

  it('refuse what is no rule and no population', () => {
    const population = { mean: 0, standardDeviation: 1 };
    for (const wrong of [
      { standardUncertainty: 0 },
      { standardUncertainty: infinity },
      { tolerance: { lower: null, upper: null } },
      { acceptance: { lower: 2, upper: 1 } },
    ]) {
      expect(() => globalRisks(population, { ...rule, ...wrong })).toThrow(RangeError);
      expect(() => empiricalGlobalRisks([1], { ...rule, ...wrong })).toThrow(RangeError);
      expect(() => expectedVerdictErrors([], { ...rule, ...wrong })).toThrow(RangeError);
    }
    expect(() => globalRisks({ ...population, standardDeviation: 0 }, rule)).toThrow(RangeError);
    expect(() => globalRisks({ ...population, mean: Number.NaN }, rule)).toThrow(RangeError);
    for (const bad of [[], [Number.NaN]]) {
      expect(() => empiricalGlobalRisks(bad, rule)).toThrow(RangeError);
    }
    expect(() => expectedVerdictErrors([infinity], rule)).toThrow(RangeError);
    expect(() => truePopulation(population, 0)).toThrow(RangeError);
  });
});
