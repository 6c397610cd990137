import { describe, expect, it } from 'vitest';
import {
  defectsPerUnit,
  defectsPerUnitOf,
  poissonYield,
} from '../../src/statistics/defects-per-unit.js';
import { pareto } from '../../src/statistics/pareto.js';
import { rolledThroughputYield } from '../../src/statistics/rolled-throughput-yield.js';

describe('yield figures by their definitions', () => {
  // No published worked example was found; the figures are recomputed by hand from the definitions.
  it('roll 0.98, 0.97 and 0.995 into 0.945847', () => {
    expect(rolledThroughputYield([0.98, 0.97, 0.995])).toBeCloseTo(0.945847, 12);
    expect(rolledThroughputYield([0.9])).toBe(0.9);
    expect(rolledThroughputYield([1, 0, 1])).toBe(0);
  });

  it('have 0.05 defects per unit leave a yield of 0.951229, and back', () => {
    // e^-0.05 to 15 digits.
    expect(defectsPerUnit(6, 120)).toBe(0.05);
    expect(poissonYield(0.05)).toBeCloseTo(0.951229424500714, 14);
    expect(defectsPerUnitOf(0.951229424500714)).toBeCloseTo(0.05, 14);
    // -ln 0.945847 = -ln 0.98 - ln 0.97 - ln 0.995
    expect(defectsPerUnitOf(0.945847)).toBeCloseTo(0.055674, 6);
  });

  it('make each step of a rolled yield add its defects per unit', () => {
    const steps = [0.98, 0.97, 0.995];
    const sum = steps.map(defectsPerUnitOf).reduce((a, b) => a + b);
    expect(defectsPerUnitOf(rolledThroughputYield(steps))).toBeCloseTo(sum, 14);
    expect(poissonYield(0)).toBe(1);
    expect(Object.is(defectsPerUnitOf(1), 0)).toBe(true);
  });

  it('rank causes by weight with the ties kept together', () => {
    // 12 in all: 6, then two of 3.
    const rows = pareto([
      ['leak', 3],
      ['noise', 6],
      ['idle', 3],
    ]);
    expect(rows).toEqual([
      { category: 'noise', amount: 6, share: 0.5, cumulativeShare: 0.5, rank: 1 },
      { category: 'idle', amount: 3, share: 0.25, cumulativeShare: 1, rank: 2 },
      { category: 'leak', amount: 3, share: 0.25, cumulativeShare: 1, rank: 2 },
    ]);
  });
});
