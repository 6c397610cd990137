import { describe, expect, it } from 'vitest';
import { holmAdjust } from '../../src/statistics/holm-adjust.js';

describe("Holm's adjusted p values (Scand. J. Statist. 6 (1979) 65)", () => {
  it.each([
    // pingouin's documentation of its function for Holm's method.
    [
      [0.5, 0.003, 0.32, 0.054, 0.0003],
      [0.64, 0.012, 0.64, 0.162, 0.0015],
    ],
    // stdlib.js's documentation of padjust: ~0.957, 0.804, ..., ~0.957, ~0.565; the third from R's rule.
    [
      [0.319, 0.201, 0.4, 0.374, 0.113],
      [0.957, 0.804, 0.957, 0.957, 0.565],
    ],
    // A public test checked against statsmodels; without the running maximum the second were 0.022.
    [
      [0.01, 0.011, 0.5],
      [0.03, 0.03, 0.5],
    ],
  ])('of %j are %j', (pValues, adjusted) => {
    const ours = holmAdjust(Object.freeze(pValues));
    expect(ours).toHaveLength(adjusted.length);
    for (const [place, p] of ours.entries()) expect(p).toBeCloseTo(adjusted[place] ?? -1, 12);
  });
});
