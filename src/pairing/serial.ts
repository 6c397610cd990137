import { mod37_36CheckCharacter } from '../scan/check-character.js';

/** How motor serials are made: prefix, two digits of the year where wanted, number, check character. */
export interface SerialFormat {
  /** Capital letters and digits. */
  prefix: string;
  withYear: boolean;
  /** Digits of the running number, padded with zeros; longer numbers are written in full. */
  digits: number;
}

/**
 * A motor's serial for a running number. The last character is the ISO/IEC 7064
 * MOD 37,36 check character of all before it, which finds every single wrong
 * character and nearly every swap of neighbours.
 */
export function formatSerial(format: SerialFormat, number: number, year: number): string {
  const yearDigits = format.withYear ? String(year % 100).padStart(2, '0') : '';
  const body = `${format.prefix}${yearDigits}${String(number).padStart(format.digits, '0')}`;
  return body + mod37_36CheckCharacter(body);
}
