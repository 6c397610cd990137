import { describe, expect, it } from 'vitest';
import { convert } from '../../src/measurement/units.js';

describe('common practice, no source', () => {
  it('a primer bake near 225 °F is one near 107 °C', () => {
    expect(Math.round(convert(225, '[degF]', 'Cel'))).toBe(107);
  });

  it('standard pressure is 29.92 inches of mercury', () => {
    expect(Number(convert(101.325, 'kPa', "[in_i'Hg]").toFixed(2))).toBe(29.92);
  });

  it('a horsepower is about three quarters of a kilowatt', () => {
    expect(Number(convert(1, '[HP]', 'kW').toFixed(2))).toBe(0.75);
  });
});
