import { describe, expect, it } from 'vitest';
import { meanInterval } from '../../src/statistics/mean-interval.js';

describe('NIST/SEMATECH e-Handbook 1.3.5.2: confidence limits of the mean, ZARR13.DAT', () => {
  it('are 9.258242 and 9.264679 for 195 values with mean 9.261460 and deviation 0.022789', () => {
    // Mean and deviation are rounded there; the limits as two public test suites quote them.
    const { lower, upper } = meanInterval({
      count: 195,
      mean: 9.26146,
      standardDeviation: 0.022789,
    });
    expect(Math.abs(lower - 9.258242)).toBeLessThan(1e-6);
    expect(Math.abs(upper - 9.264679)).toBeLessThan(1e-6);
  });
});
