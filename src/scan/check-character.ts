const DIGITS = /^[0-9]+$/;
const GTIN_LENGTHS: ReadonlySet<number> = new Set([8, 12, 13, 14]);
const ALPHANUMERIC = /^[0-9A-Z]+$/;
const ALPHABET = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ';
const MODULUS = ALPHABET.length;

/**
 * The check digit that belongs behind `digits` (a GS1 key without its check digit, any length).
 * Method: from the right, digits weigh 3, 1, 3, 1 …; the check digit brings the sum to a multiple
 * of ten (GS1 General Specifications, check digit calculation for numeric keys).
 * Example: 0952123454321 gives 3.
 * @throws RangeError when `digits` is empty or holds anything but 0-9.
 */
export function gtinCheckDigit(digits: string): string {
  if (!DIGITS.test(digits)) throw new RangeError('a check digit needs one or more digits 0-9');
  let sum = 0;
  for (let fromRight = 1; fromRight <= digits.length; fromRight += 1) {
    const weight = fromRight % 2 === 1 ? 3 : 1;
    sum += weight * Number(digits[digits.length - fromRight]);
  }
  return String((10 - (sum % 10)) % 10);
}

/** Whether `gtin` is 8, 12, 13 or 14 digits of which the last is the right check digit. */
export function hasValidGtinCheckDigit(gtin: string): boolean {
  if (!GTIN_LENGTHS.has(gtin.length) || !DIGITS.test(gtin)) return false;
  return gtinCheckDigit(gtin.slice(0, -1)) === gtin.slice(-1);
}

/**
 * The ISO/IEC 7064 MOD 37,36 check character of `text`, itself one of 0-9 A-Z.
 * Method (hybrid system, recursive): the product starts at 36; each character adds its value, the
 * sum is taken modulo 36 with 0 counted as 36, and doubled modulo 37. The check character brings
 * the last sum to 1 modulo 36.
 * It detects every substitution of one character. Of swaps of two different neighbours it misses
 * 72 in 45 360 (1 in 630), each of two characters next to each other in the alphabet; tests count
 * them.
 * Example: A12425GABC1234002 gives M.
 * @throws RangeError when `text` is empty or holds anything but 0-9 and A-Z.
 */
export function mod37_36CheckCharacter(text: string): string {
  if (!ALPHANUMERIC.test(text)) {
    throw new RangeError('a MOD 37,36 check character needs one or more of 0-9 A-Z');
  }
  let product = MODULUS;
  for (const character of text) {
    const sum = (product + ALPHABET.indexOf(character)) % MODULUS;
    product = ((sum === 0 ? MODULUS : sum) * 2) % (MODULUS + 1);
  }
  return ALPHABET.charAt((MODULUS + 1 - product) % MODULUS);
}

/**
 * Whether the last character of `text` is the MOD 37,36 check character of those before it; false
 * for a text of under two characters or with any but 0-9 A-Z.
 */
export function hasValidMod37_36CheckCharacter(text: string): boolean {
  if (text.length < 2 || !ALPHANUMERIC.test(text)) return false;
  return mod37_36CheckCharacter(text.slice(0, -1)) === text.slice(-1);
}
