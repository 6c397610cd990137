import { ucum } from '@atomic-ehr/ucum';
import { describe, expect, it } from 'vitest';
import { areCommensurable, convert, unitsOfMeasure } from '../../src/measurement/units.js';

describe('NIST SP 811 appendix B.8, as printed to seven digits', () => {
  // Read in a public transcription of the appendix, except the rows said to be from memory.
  it.each([
    ['[psi]', 6.894757, 'kPa'],
    ['[psi]', 6894.757, 'Pa'],
    ['[lbf_av].[ft_i]', 1.355818, 'N.m'],
    ['[lbf_av].[in_i]', 0.1129848, 'N.m'],
    ['[HP]', 745.6999, 'W'],
    ['[gal_us]/h', 3.785412, 'L/h'],
    ['[gal_us]/min', 3.785412, 'L/min'],
    ['[lb_av]', 0.4535924, 'kg'],
    ['[in_i]', 25.4, 'mm'],
    ['[in_i]', 2.54, 'cm'],
    ['[mil_i]', 0.0254, 'mm'], // from memory
    ['[ft_i]', 0.3048, 'm'], // from memory
    ['[oz_av]', 28.34952, 'g'], // from memory
    ['kgf.m', 9.80665, 'N.m'], // from memory
    ["[in_i'H2O]", 249.0889, 'Pa'], // from memory, the conventional inch of water
    ['mm[H2O]', 9.80665, 'Pa'], // from memory
    ['rad', 57.29578, 'deg'], // from memory
  ])('1 %s is %d %s', (from, printed, to) => {
    expect(Number(convert(1, from, to).toPrecision(7))).toBe(printed);
  });

  it('1 [lb_av]/h is 1.259979E-04 kg/s', () => {
    expect(Number((convert(1, '[lb_av]/h', 'g/s') / 1000).toPrecision(7))).toBe(0.0001259979);
  });

  it('UCUM’s inch of mercury is SP 811’s at 32 °F, 3386.38 Pa, not its conventional 3386.389 Pa', () => {
    const pascals = convert(1, "[in_i'Hg]", 'Pa');
    expect(Number(pascals.toPrecision(6))).toBe(3386.38);
    expect(Math.abs(pascals / 3386.389 - 1)).toBeLessThan(4e-6);
    expect(pascals).not.toBe(3386.389);
  });

  it('t/°C = (t/°F - 32) / 1.8 and T/K = t/°C + 273.15', () => {
    // Appendix B.8, "degree Fahrenheit" and "degree Celsius" (from memory).
    for (let fahrenheit = -40; fahrenheit <= 1000; fahrenheit += 9) {
      expect(convert(fahrenheit, '[degF]', 'Cel')).toBe((fahrenheit - 32) / 1.8);
    }
    expect(convert(77, '[degF]', 'Cel')).toBe(25);
    expect(convert(-459.67, '[degF]', 'K')).toBe(0);
    expect(convert(25, 'Cel', 'K')).toBe(298.15);
  });
});

describe('SI Brochure, 9th edition', () => {
  // Tables 7 and 8 (from memory): prefixes and the units accepted for use with the SI.
  it.each([
    ['bar', 100, 'kPa'],
    ['mbar', 1, 'hPa'],
    ['MPa', 1e6, 'Pa'],
    ['h', 3600, 's'],
    ['min', 60, 's'],
    ['L/min', 1000, 'mL/min'],
    ['kg', 1e6, 'mg'],
    ['m', 1e6, 'um'],
    ['kV', 1e6, 'mV'],
    ['%', 0.01, '1'],
    ['[ppm]', 1e-6, '1'],
  ])('1 %s is %d %s', (from, factor, to) => {
    expect(convert(1, from, to)).toBe(factor);
  });
});

describe('every pair of the table against a general UCUM library', () => {
  const codes = unitsOfMeasure.map((unit) => unit.code);
  const pairs = codes.flatMap((from) => codes.map((to) => [from, to] as const));

  // From one scale with an offset to a unit without, the library forgets the
  // factor unless that unit is the kelvin, so temperatures go by way of it.
  function byLibrary(value: number, from: string, to: string): number {
    if (!ucum.isConvertible(from, 'K')) return ucum.convert(value, from, to);
    return ucum.convert(ucum.convert(value, from, 'K'), 'K', to);
  }

  it('has only codes the library parses', () => {
    expect(codes.filter((code) => !ucum.validate(code).valid)).toEqual([]);
  });

  it('converts as the library does, to 1e-12 relative', () => {
    const wrong = pairs
      .filter(([from, to]) => areCommensurable(from, to))
      .flatMap(([from, to]) =>
        // No negative values: the library takes none below absolute zero.
        [1, 123.456, 0.0725, 2400].map((value) => {
          const theirs = byLibrary(value, from, to);
          const error = Math.abs(convert(value, from, to) - theirs) / Math.abs(theirs);
          return { value, from, to, error };
        }),
      )
      .filter(({ error }) => !(error <= 1e-12));
    expect(wrong).toEqual([]);
  });

  it('converts no pair the library refuses, and refuses more only to keep rotation, frequency and sound apart', () => {
    const dimensionOf = new Map(unitsOfMeasure.map((unit) => [unit.code, unit.dimension]));
    const stricter = new Set<string>();
    for (const [from, to] of pairs) {
      if (areCommensurable(from, to)) expect(ucum.isConvertible(from, to)).toBe(true);
      else if (ucum.isConvertible(from, to)) {
        stricter.add([dimensionOf.get(from), dimensionOf.get(to)].sort().join(' / '));
      }
    }
    expect([...stricter].sort()).toEqual([
      'frequency / rotational frequency',
      'ratio / sound level',
    ]);
  });
});
