import { describe, expect, it } from 'vitest';
import {
  gtinCheckDigit,
  hasValidGtinCheckDigit,
  hasValidMod37_36CheckCharacter,
  mod37_36CheckCharacter,
} from '../../src/scan/check-character.js';

const ALPHABET = [...'0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ'];

describe('the GTIN check digit', () => {
  it('is 0 when the weighted sum is already a multiple of ten', () => {
    // By hand: 3*0 = 0; and 3*9 + 1*3 = 30.
    expect(gtinCheckDigit('0')).toBe('0');
    expect(gtinCheckDigit('39')).toBe('0');
  });

  it('weighs the rightmost digit by three, whatever the length', () => {
    // By hand: 3*1 = 3, so 7; 3*0 + 1*1 = 1, so 9.
    expect(gtinCheckDigit('1')).toBe('7');
    expect(gtinCheckDigit('10')).toBe('9');
  });

  it.each(['', 'A', '12 ', '1.5', '-1', '１'])('refuses %j, which is not digits', (text) => {
    expect(() => gtinCheckDigit(text)).toThrow(RangeError);
  });

  it('is looked at in numbers of 8, 12, 13 and 14 digits only', () => {
    for (let length = 1; length <= 20; length += 1) {
      const body = '5'.repeat(length - 1) || '0';
      const number = body + gtinCheckDigit(body);
      expect(hasValidGtinCheckDigit(number)).toBe([8, 12, 13, 14].includes(number.length));
    }
  });

  it('is wrong for the nine other last digits', () => {
    const right = [...'0123456789'].filter((last) => hasValidGtinCheckDigit(`952123454321${last}`));
    expect(right).toHaveLength(1);
  });

  it.each(['', '0952123454321X', '09521234543213\n'])('is not valid in %j', (text) => {
    expect(hasValidGtinCheckDigit(text)).toBe(false);
  });
});

describe('the MOD 37,36 check character', () => {
  it('follows the recursion by hand for one character', () => {
    // 36 + 1 = 37, 37 mod 36 = 1, doubled 2, 37 - 2 = 35 = Z.
    expect(mod37_36CheckCharacter('1')).toBe('Z');
    // 36 + 0 = 36, 36 mod 36 = 0 counted as 36, doubled 72 mod 37 = 35, 37 - 35 = 2.
    expect(mod37_36CheckCharacter('0')).toBe('2');
  });

  it.each(['', 'a', 'A-1', 'Ä', 'A ', '*'])('refuses %j', (text) => {
    expect(() => mod37_36CheckCharacter(text)).toThrow(RangeError);
    expect(hasValidMod37_36CheckCharacter(text)).toBe(false);
  });

  it('is no check of a single character', () => {
    for (const character of ALPHABET) {
      expect(hasValidMod37_36CheckCharacter(character)).toBe(false);
    }
  });

  it('accepts exactly one last character behind any text', () => {
    for (const first of ALPHABET) {
      const valid = ALPHABET.filter((last) => hasValidMod37_36CheckCharacter(`TB7${first}${last}`));
      expect(valid).toEqual([mod37_36CheckCharacter(`TB7${first}`)]);
    }
  });
});

/**
 * One leading character brings the recursion into each of its 36 states (36 + value, doubled, is a
 * bijection), so the 36 leading characters below stand for every text that can come before.
 */
describe('errors that MOD 37,36 misses, counted over every state', () => {
  it('lets no substitution of one character through', () => {
    let tried = 0;
    for (const lead of ALPHABET) {
      const answers = new Set(ALPHABET.map((last) => mod37_36CheckCharacter(lead + last)));
      tried += answers.size;
    }
    expect(tried).toBe(36 * 36);
  });

  it('lets 72 of 45360 swaps of different neighbours through, all of neighbours in the alphabet', () => {
    const missed: number[] = [];
    let tried = 0;
    for (const lead of ALPHABET) {
      for (const [a, left] of ALPHABET.entries()) {
        for (const [b, right] of ALPHABET.entries()) {
          if (a === b) continue;
          tried += 1;
          const swapped = mod37_36CheckCharacter(lead + right + left);
          if (mod37_36CheckCharacter(lead + left + right) === swapped)
            missed.push((a - b + 36) % 36);
        }
      }
    }
    expect(tried).toBe(45_360);
    expect(missed).toHaveLength(72);
    expect(new Set(missed)).toEqual(new Set([1, 35]));
  });

  it('lets 2 of 1260 swaps of the check character with its neighbour through', () => {
    let tried = 0;
    let missed = 0;
    for (const lead of ALPHABET) {
      for (const last of ALPHABET) {
        const check = mod37_36CheckCharacter(lead + last);
        if (check === last) continue;
        tried += 1;
        if (hasValidMod37_36CheckCharacter(lead + check + last)) missed += 1;
      }
    }
    expect({ tried, missed }).toEqual({ tried: 1260, missed: 2 });
  });
});
