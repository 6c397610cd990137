import { describe, expect, it } from 'vitest';
import { addDecimal, subtractDecimal } from '../../src/measurement/decimal.js';
import {
  areCommensurable,
  convert,
  exactQuantity,
  fromExactQuantity,
  unitByCode,
  unitByNumber,
  unitsOfMeasure,
} from '../../src/measurement/units.js';

describe('the table of units', () => {
  // Readings are stored under these numbers: a line may be added, none may change.
  it('keeps the number of every unit', () => {
    const numbers = unitsOfMeasure.map((unit) => `${unit.number} ${unit.code}`).join(', ');
    expect(numbers).toBe(
      "1 Pa, 2 hPa, 3 kPa, 4 MPa, 5 mbar, 6 bar, 7 [psi], 8 [in_i'Hg], 9 mm[Hg], 10 [in_i'H2O], 11 mm[H2O], " +
        '20 K, 21 Cel, 22 [degF], 23 [degR], ' +
        '30 N.m, 31 cN.m, 32 kgf.m, 33 [lbf_av].[ft_i], 34 [lbf_av].[in_i], ' +
        '40 W, 41 kW, 42 [HP], 50 /min, 51 {rev}/min, 52 /s, 60 deg, 61 rad, ' +
        '70 L/h, 71 L/min, 72 mL/min, 73 [gal_us]/h, 74 [gal_us]/min, ' +
        '80 g/s, 81 g/h, 82 kg/h, 83 [lb_av]/h, ' +
        '90 mm, 91 um, 92 cm, 93 m, 94 [in_i], 95 [ft_i], 96 [mil_i], ' +
        '110 V, 111 mV, 112 kV, 120 A, 121 mA, 130 s, 131 ms, 132 min, 133 h, ' +
        '140 1, 141 %, 142 [ppm], 150 dB, 160 g, 161 mg, 162 kg, 163 [lb_av], 164 [oz_av], 170 Hz, 171 kHz',
    );
  });

  it('fits every number in one byte and uses none twice', () => {
    const numbers = unitsOfMeasure.map((unit) => unit.number);
    expect(new Set(numbers).size).toBe(numbers.length);
    expect(Math.min(...numbers)).toBeGreaterThanOrEqual(1);
    expect(Math.max(...numbers)).toBeLessThanOrEqual(255);
  });

  it('finds a unit by its code and by its number', () => {
    for (const unit of unitsOfMeasure) {
      expect(unitByCode(unit.code)).toBe(unit);
      expect(unitByNumber(unit.number)).toBe(unit);
    }
  });

  it('knows codes by their case, and no others', () => {
    expect(unitByCode('KPA')).toBeUndefined();
    expect(unitByCode('rpm')).toBeUndefined();
    expect(unitByNumber(255)).toBeUndefined();
    expect(unitByNumber(0)).toBeUndefined();
  });

  it('cannot be changed by who reads it', () => {
    expect(Object.isFrozen(unitsOfMeasure)).toBe(true);
    expect(unitsOfMeasure.every(Object.isFrozen)).toBe(true);
  });

  it('holds sound levels apart from every other unit', () => {
    const others = unitsOfMeasure.filter((unit) => areCommensurable('dB', unit.code));
    expect(others.map((unit) => unit.code)).toEqual(['dB']);
  });

  it('does not take a frequency for a speed of rotation', () => {
    expect(areCommensurable('/min', '{rev}/min')).toBe(true);
    expect(areCommensurable('/min', 'Hz')).toBe(false);
  });
});

describe('converting a value', () => {
  // Expected values follow from the exact definitions in NIST SP 811 app. B.
  it.each([
    [1, '[in_i]', 25.4, 'mm'],
    [0.1, '[in_i]', 2.54, 'mm'],
    [212, '[degF]', 100, 'Cel'],
    [32, '[degF]', 0, 'Cel'],
    [-40, 'Cel', -40, '[degF]'],
    [0, 'Cel', 32, '[degF]'],
    [77, '[degF]', 298.15, 'K'],
    [1, 'bar', 100, 'kPa'],
    [101.325, 'kPa', 1013.25, 'mbar'],
    [90, '/min', 1.5, '/s'],
    [3600, 'g/h', 1, 'g/s'],
    [90, 'min', 1.5, 'h'],
    [2500, '[ppm]', 0.25, '%'],
    [16, '[oz_av]', 1, '[lb_av]'],
    [12, '[lbf_av].[in_i]', 1, '[lbf_av].[ft_i]'],
    [60, '[gal_us]/h', 1, '[gal_us]/min'],
    [14.9, 'kV', 14900, 'V'],
  ])('%d %s is %d %s', (value, from, expected, to) => {
    expect(convert(value, from, to)).toBe(expected);
  });

  it('returns a value already in the unit untouched', () => {
    for (const unit of unitsOfMeasure) {
      expect(convert(0.1 + 0.2, unit.code, unit.code)).toBe(0.1 + 0.2);
    }
    expect(Object.is(convert(-0, 'kPa', 'kPa'), -0)).toBe(true);
  });

  it('refuses units it does not know or that measure something else', () => {
    expect(() => convert(1, 'furlong', 'mm')).toThrow(/unknown unit of measure "furlong"/);
    expect(() => convert(1, 'mm', 'furlong')).toThrow(/unknown unit of measure "furlong"/);
    expect(() => convert(1, 'furlong', 'furlong')).toThrow(RangeError);
    expect(() => convert(1, 'kPa', 'Cel')).toThrow(/pressure.*temperature/);
    expect(areCommensurable('furlong', 'furlong')).toBe(false);
  });

  it('refuses what is not finite, going in or coming out', () => {
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
      expect(() => convert(value, 'kPa', 'Pa')).toThrow(RangeError);
      expect(() => convert(value, 'kPa', 'kPa')).toThrow(RangeError);
    }
    expect(() => convert(1.7e308, 'kPa', 'Pa')).toThrow(/too large/);
  });
});

describe('exact quantities', () => {
  it('lose nothing on the way back, in any unit', () => {
    for (const unit of unitsOfMeasure) {
      for (const value of [0, 0.1, -17.3, 100, 1234.5678901234567]) {
        expect(fromExactQuantity(exactQuantity(value, unit.code), unit.code)).toBe(value);
      }
    }
  });

  it('are equal where the measured quantities are', () => {
    expect(exactQuantity(1, '[in_i]').eq(exactQuantity(25.4, 'mm'))).toBe(true);
    expect(exactQuantity(77, '[degF]').eq(exactQuantity(25, 'Cel'))).toBe(true);
    expect(exactQuantity(100, '[degF]').eq(exactQuantity(559.67, '[degR]'))).toBe(true);
  });

  it('need a unit of the table', () => {
    expect(() => exactQuantity(1, 'furlong')).toThrow(RangeError);
    expect(() => fromExactQuantity(exactQuantity(1, 'mm'), 'furlong')).toThrow(RangeError);
  });
});

describe('decimal sums', () => {
  it('come out as on paper', () => {
    expect(addDecimal(0.1, 0.2)).toBe(0.3);
    expect(subtractDecimal(0.3, 0.1)).toBe(0.2);
    expect(subtractDecimal(1.1, 1)).toBe(0.1);
    expect(addDecimal(1e16, 1)).toBe(1e16);
  });

  it('refuse what is not finite, going in or coming out', () => {
    expect(() => addDecimal(Number.NaN, 1)).toThrow(RangeError);
    expect(() => subtractDecimal(1, Number.POSITIVE_INFINITY)).toThrow(RangeError);
    expect(() => addDecimal(1.7e308, 1.7e308)).toThrow(RangeError);
  });
});
