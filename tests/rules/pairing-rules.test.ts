import { describe, expect, it } from 'vitest';
import { attributeConflict } from '../../src/pairing/rules.js';
import { formatSerial } from '../../src/pairing/serial.js';
import { hasValidMod37_36CheckCharacter } from '../../src/scan/check-character.js';

describe('attributeConflict', () => {
  it('finds nothing where nothing is said, or all say the same', () => {
    expect(attributeConflict({}, {}, {})).toBeUndefined();
    const same = { shaftLength: '508 mm', rotation: 'left' };
    expect(attributeConflict(same, same, same)).toBeUndefined();
  });

  it('passes over an attribute that only one of the three has', () => {
    const ofPowerhead = { cowl: 'tall' };
    const ofLowerUnit = { gearRatio: '1.85' };
    expect(attributeConflict(ofPowerhead, ofLowerUnit, { colour: 'white' })).toBeUndefined();
  });

  it('tells the halves’ own disagreement before that with the configuration', () => {
    expect(
      attributeConflict({ rotation: 'left' }, { rotation: 'right' }, { rotation: 'left' }),
    ).toEqual({
      attribute: 'rotation',
      half: 'lower unit',
      found: 'right',
      wanted: 'left',
      wantedBy: 'powerhead',
    });
  });

  it.each([
    ['powerhead', { colour: 'black' }, {}],
    ['powerhead', { colour: 'black' }, { colour: 'black' }],
    ['lower unit', {}, { colour: 'black' }],
  ] as const)('tells that the %s is not what the configuration wants', (half, upper, lower) => {
    expect(attributeConflict(upper, lower, { colour: 'white' })).toEqual({
      attribute: 'colour',
      half,
      found: 'black',
      wanted: 'white',
      wantedBy: 'configuration',
    });
  });

  it('compares texts exactly: another way of writing a value is another value', () => {
    const conflict = attributeConflict({ shaftLength: '508 mm' }, { shaftLength: '508mm' }, {});
    expect(conflict?.found).toBe('508mm');
  });
});

describe('formatSerial', () => {
  it('puts prefix, year and padded number before the check character', () => {
    const format = { prefix: 'T', withYear: true, digits: 6 };
    expect(formatSerial(format, 42, 2026).slice(0, -1)).toBe('T26000042');
    expect(formatSerial(format, 42, 2005).slice(0, -1)).toBe('T05000042');
    expect(formatSerial({ ...format, withYear: false }, 42, 2026).slice(0, -1)).toBe('T000042');
  });

  it('writes a number in full that is longer than its digits', () => {
    const format = { prefix: 'T', withYear: false, digits: 2 };
    expect(formatSerial(format, 12_345, 2026).slice(0, -1)).toBe('T12345');
  });

  it('ends in a check character that finds any one character changed', () => {
    const serial = formatSerial({ prefix: 'T', withYear: true, digits: 6 }, 12_345, 2026);
    expect(hasValidMod37_36CheckCharacter(serial)).toBe(true);
    const alphabet = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ';
    for (let at = 0; at < serial.length; at += 1) {
      for (const other of alphabet.replace(serial.charAt(at), '')) {
        const wrong = serial.slice(0, at) + other + serial.slice(at + 1);
        expect(hasValidMod37_36CheckCharacter(wrong)).toBe(false);
      }
    }
  });
});
