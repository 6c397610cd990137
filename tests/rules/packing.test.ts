import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { unitsOfMeasure } from '../../src/measurement/units.js';
import {
  packJudged,
  packReadings,
  READING_BYTES,
  unpackJudged,
  unpackReadings,
} from '../../src/testing/packing.js';
import type { Characteristic, Reading } from '../../src/testing/rules.js';

const limits = {
  lower: null,
  upper: null,
  guardBand: 0,
  nominal: null,
  standardUncertainty: null,
  decimals: 1,
};
const characteristics: Characteristic[] = [
  { kind: 'measured', code: 'pressure', name: 'P', required: true, unit: 'kPa', ...limits },
  { kind: 'attribute', code: 'telltale', name: 'T', required: true, expected: true },
  { kind: 'measured', code: 'speed', name: 'S', required: true, unit: '/min', ...limits },
];

describe('packed readings', () => {
  it('take eleven bytes each', () => {
    const reading = { code: 'pressure', value: 1, unit: null };
    expect(READING_BYTES).toBe(11);
    expect(packReadings(characteristics, [reading, reading])).toHaveLength(22);
    expect(packReadings(characteristics, [])).toHaveLength(0);
  });

  it('lay out index, unit and value in little-endian order', () => {
    const packed = packReadings(characteristics, [{ code: 'speed', value: -2, unit: 'kPa' }]);
    // Characteristic 2; kPa is unit 3 of the plant's table; -2 is C000000000000000 in IEEE 754.
    expect(packed.toString('hex')).toBe('020003000000000000' + '00c0');
  });

  it('come back as they were, whatever unit and value', () => {
    const unit = fc.option(fc.constantFrom(...unitsOfMeasure.map((one) => one.code)), {
      nil: null,
    });
    const value = fc.double({ noNaN: true, noDefaultInfinity: true });
    const measured = fc.record({ code: fc.constantFrom('pressure', 'speed'), value, unit });
    const attribute = fc.record({
      code: fc.constant('telltale'),
      value: fc.boolean(),
      unit: fc.constant(null),
    });
    fc.assert(
      fc.property(fc.array(fc.oneof(measured, attribute)), (readings: Reading[]) => {
        const packed = packReadings(characteristics, readings);
        expect(unpackReadings(characteristics, packed)).toEqual(readings);
      }),
    );
  });

  it('of a characteristic that the specification lacks are never taken for another’s', () => {
    const packed = packReadings(characteristics, [{ code: 'nothing', value: 1, unit: null }]);
    expect(() => unpackReadings(characteristics, packed)).toThrow('names no characteristic');
  });
});

describe('packed judged values', () => {
  it('come back in the specification’s order, with what was not measured as null', () => {
    const values = [101.325, false, null];
    const packed = packJudged(values);
    expect(packed).toHaveLength(24);
    expect(unpackJudged(characteristics, packed)).toEqual(values);
    expect(unpackJudged(characteristics, packJudged([null, true, -0.5]))).toEqual([
      null,
      true,
      -0.5,
    ]);
    expect(unpackJudged(characteristics, packJudged([0, null, 1]))).toEqual([0, null, 1]);
  });
});
