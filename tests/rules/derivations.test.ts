import { describe, expect, it } from 'vitest';
import { unitsOfMeasure } from '../../src/measurement/units.js';
import {
  type DerivationName,
  derivationFault,
  derivationNames,
  derivations,
  derive,
  naturalUnit,
  type Quantity,
} from '../../src/testing/derivations.js';

/** Inputs as written on paper: '85 Cel'. */
function quantities(inputs: string[]): Quantity[] {
  return inputs.map((input) => {
    const [value = '', unit = ''] = input.split(' ');
    return { value: Number(value), unit };
  });
}

function value(name: DerivationName, inputs: string[], unit: string): number {
  const derived = derive(name, quantities(inputs), unit);
  if (!derived.computable) throw new Error(derived.reason);
  return derived.value;
}

function reason(name: DerivationName, inputs: string[], unit: string): string {
  const derived = derive(name, quantities(inputs), unit);
  if (derived.computable) throw new Error(`computed ${derived.value}`);
  return derived.reason;
}

const noDerivation = 'power-corrected-by-hand' as DerivationName;

describe('the catalogue of derivations', () => {
  it('says of each what it is and where it comes from', () => {
    expect(Object.keys(derivations).sort()).toEqual([...derivationNames].sort());
    for (const name of derivationNames) {
      const { summary, source, fewestInputs, mostInputs } = derivations[name];
      expect(summary.length).toBeGreaterThan(20);
      expect(source.length).toBeGreaterThan(10);
      expect(fewestInputs).toBeLessThanOrEqual(mostInputs);
      expect(mostInputs).toBeLessThanOrEqual(12);
    }
  });

  it('has no others', () => {
    expect(derivationFault('toString', ['kPa', 'kPa'], 'kPa')).toMatchObject({
      field: 'derivation/function',
    });
    expect(reason(noDerivation, ['1 kPa'], 'kPa')).toMatch(/no derivation named/);
  });

  it('has a natural unit for every result', () => {
    expect(naturalUnit('difference', ['Cel', 'Cel'])).toBe('K');
    expect(naturalUnit('spread', ['[degF]', 'Cel'])).toBe('K');
    expect(naturalUnit('difference', ['[psi]', 'kPa'])).toBe('[psi]');
    expect(naturalUnit('mean', ['Cel', 'Cel'])).toBe('Cel');
    expect(naturalUnit('ratio', ['kPa', 'kPa'])).toBe('1');
    expect(naturalUnit('power-corrected-j1349', ['[HP]', 'kPa', 'Cel'])).toBe('[HP]');
    expect(naturalUnit('mean', ['furlong'])).toBeNull();
  });

  it('can answer in the natural unit whatever alike inputs it takes', () => {
    for (const name of ['difference', 'spread', 'mean', 'ratio'] as const) {
      for (const { code } of unitsOfMeasure.filter((unit) => unit.code !== 'dB')) {
        expect(
          derivationFault(name, [code, code], naturalUnit(name, [code, code]) ?? ''),
        ).toBeNull();
      }
    }
  });
});

describe('the difference', () => {
  it('is exact in decimals', () => {
    expect(value('difference', ['0.3 V', '0.1 V'], 'V')).toBe(0.2);
    expect(value('difference', ['1 [in_i]', '25.4 mm'], 'mm')).toBe(0);
  });

  it('of two temperatures is an interval, not a temperature', () => {
    expect(value('difference', ['85 Cel', '20 Cel'], 'K')).toBe(65);
    expect(value('difference', ['212 [degF]', '0 Cel'], '[degR]')).toBe(180);
    // 18 °F apart is 10 K, though neither temperature is a finite number of kelvins.
    expect(value('difference', ['100 [degF]', '82 [degF]'], 'K')).toBe(10);
    expect(reason('difference', ['85 Cel', '20 Cel'], 'Cel')).toMatch(/give it in K/);
    expect(reason('spread', ['85 Cel', '20 Cel'], '[degF]')).toMatch(/give it in K/);
  });
});

describe('the ratio', () => {
  it('is dimensionless, in the unit asked for', () => {
    expect(value('ratio', ['1 kPa', '4 kPa'], '1')).toBe(0.25);
    expect(value('ratio', ['1 kPa', '4000 Pa'], '%')).toBe(25);
    expect(value('ratio', ['1 %', '2 %'], '[ppm]')).toBe(500_000);
    expect(reason('ratio', ['1 kPa', '4 kPa'], 'kPa')).toMatch(/not in kPa/);
  });

  it('is taken from the true zero of the quantity', () => {
    // 596.3 K over 298.15 K.
    expect(value('ratio', ['323.15 Cel', '25 Cel'], '1')).toBe(2);
    expect(value('ratio', ['77 [degF]', '298.15 K'], '1')).toBe(1);
  });

  it('has no value over zero', () => {
    expect(reason('ratio', ['1 kPa', '0 kPa'], '1')).toBe('the second input is zero');
    expect(reason('ratio', ['1 K', '-273.15 Cel'], '1')).toBe('the second input is zero');
    expect(value('ratio', ['1 K', '0 Cel'], '1')).toBeGreaterThan(0);
  });
});

describe('mean and spread', () => {
  it('take 2 to 12 inputs of one kind, in any of its units', () => {
    expect(value('mean', ['0.1 V', '0.2 V', '0.3 V'], 'V')).toBe(0.2);
    expect(value('mean', ['68 [degF]', '25 Cel'], '[degF]')).toBe(72.5);
    expect(value('mean', ['0 [degF]', '0 [degF]'], '[degF]')).toBe(0);
    expect(value('spread', ['860 kPa', '9 bar', '880 kPa'], 'kPa')).toBe(40);
    expect(
      value(
        'spread',
        Array.from({ length: 12 }, (_, i) => `${i} mm`),
        'mm',
      ),
    ).toBe(11);
    expect(reason('mean', ['1 V'], 'V')).toBe('mean takes 2 to 12 inputs, not 1');
    expect(
      reason(
        'mean',
        Array.from({ length: 13 }, () => '1 V'),
        'V',
      ),
    ).toMatch(/not 13/);
    expect(reason('mean', ['1 V', '1 A'], 'V')).toMatch(/A does not convert to V/);
  });

  it('keep every digit of a small spread of large values', () => {
    const inputs: string[] = ['123456789.123 Pa', '123456789.122 Pa'];
    expect(value('spread', inputs, 'Pa')).toBe(0.001);
  });

  it('do not average or divide sound levels, which are logarithms', () => {
    expect(reason('mean', ['80 dB', '90 dB'], 'dB')).toMatch(/logarithms/);
    expect(reason('ratio', ['80 dB', '90 dB'], '1')).toMatch(/logarithms/);
    expect(value('difference', ['90 dB', '80 dB'], 'dB')).toBe(10);
  });
});

describe('the power corrections', () => {
  const names = ['power-corrected-iso-1585', 'power-corrected-j1349'] as const;

  it.each(names)('%s wants power, dry air pressure and air temperature, in that order', (name) => {
    expect(derivationFault(name, ['kW', 'kPa', 'Cel'], '[HP]')).toBeNull();
    expect(derivationFault(name, ['kPa', 'kW', 'Cel'], 'kW')?.field).toBe('derivation/inputs');
    expect(derivationFault(name, ['kW', 'kPa'], 'kW')?.detail).toBe(
      `${name} takes 3 inputs, not 2`,
    );
    expect(derivationFault(name, ['kW', 'kPa', 'furlong'], 'kW')?.detail).toMatch(/unknown unit/);
    expect(derivationFault(name, ['kW', 'kPa', 'Cel'], 'N.m')?.field).toBe('unit');
    expect(derivationFault(name, ['kW', 'kPa', 'Cel'], 'furlong')?.field).toBe('unit');
  });

  it.each(names)('%s answers in the unit asked for', (name) => {
    const inputs: string[] = ['1 [HP]', '99 kPa', '25 Cel'];
    expect(value(name, inputs, '[HP]')).toBe(1);
    expect(value(name, inputs, 'W')).toBe(745.6998715822702);
  });

  it.each(names)('%s has no answer in air that cannot be', (name) => {
    expect(reason(name, ['80 kW', '0 kPa', '25 Cel'], 'kW')).toMatch(/not above zero/);
    expect(reason(name, ['80 kW', '-5 kPa', '25 Cel'], 'kW')).toMatch(/not above zero/);
    expect(reason(name, ['80 kW', '99 kPa', '-273.15 Cel'], 'kW')).toMatch(/absolute zero/);
  });

  it('tells dry air pressure in kPa from one posted in pascals by mistake', () => {
    expect(reason('power-corrected-iso-1585', ['80 kW', '99 Pa', '25 Cel'], 'kW')).toMatch(
      /outside 0.93 to 1.07/,
    );
  });
});

describe('a derivation that cannot be computed', () => {
  it('gives the reason instead of a number that is none', () => {
    expect(reason('mean', ['NaN V', '1 V'], 'V')).toMatch(/not a finite number/);
    expect(reason('difference', ['1.7e308 kV', '-1.7e308 kV'], 'V')).toMatch(/too large/);
  });
});
