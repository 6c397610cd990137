import { describe, expect, it } from 'vitest';
import { MAX_SCAN_LENGTH, parseScan } from '../../src/scan/parse.js';
import { isSerial, MAX_SERIAL_LENGTH } from '../../src/scan/serial.js';

// 09521234543213 is a GTIN of the prefix 952 that GS1 keeps for examples.
const GTIN = '09521234543213';

const plain = (serial: string) => ({
  ok: true,
  scan: { carrier: 'plain', serial, gtin: null, partNumber: null, partRevision: null, lot: null },
});

function reasonOf(text: string): string {
  const answer = parseScan(text);
  return answer.ok ? `accepted: ${JSON.stringify(answer.scan)}` : answer.reason;
}

describe('a plain serial', () => {
  it.each(['A', 'TB-PH-000123', 'tb.ph_000123', 'TB/25+7', '0', '01', '-', '20251125'])(
    'is taken as it is: %j',
    (serial) => {
      expect(parseScan(serial)).toEqual(plain(serial));
    },
  );

  it('keeps its case', () => {
    expect(parseScan('aBcD')).toEqual(plain('aBcD'));
  });

  it.each([' A1', 'A1  ', 'A1\r', 'A1\n', 'A1\r\n', '  A1 \r\n', 'A1\r\n '])(
    'loses what a scanner adds: %j',
    (text) => {
      expect(parseScan(text)).toEqual(plain('A1'));
    },
  );

  it.each([
    'A1\r\r',
    'A1\n\n',
    '\nA1',
    '\r\nA1',
    'A1\n\r',
    'A\tB',
    'A1\t',
    'A\u0000',
    '\u007f',
    'A\u0085',
  ])('is refused with any other control character: %j', (text) => {
    expect(reasonOf(text)).toMatch(/control character/);
  });

  it('may be one below and at the limit of its length and not above', () => {
    for (const length of [MAX_SERIAL_LENGTH - 1, MAX_SERIAL_LENGTH]) {
      expect(parseScan('A'.repeat(length))).toEqual(plain('A'.repeat(length)));
    }
    expect(reasonOf('A'.repeat(MAX_SERIAL_LENGTH + 1))).toMatch(/at most 40 .* has 41/);
  });

  it.each([
    'A B',
    'A#1',
    'A:1',
    'é',
    '序列',
    'A\u200b',
    '\u2028',
    '💡',
    '\ud800',
    "A'1",
    'A=1',
    'A,1',
  ])('is refused with a character outside its alphabet: %j', (text) => {
    expect(reasonOf(text)).toMatch(/only letters, digits/);
  });

  it.each(['', ' ', '\r\n', ' \r\n ', ']d2', ']C0\r'])('is refused when empty: %j', (text) => {
    expect(reasonOf(text)).toMatch(/empty/);
  });

  it('is looked at up to the limit of a scan and not beyond', () => {
    const padded = (length: number) => `A1${' '.repeat(length - 2)}`;
    expect(parseScan(padded(MAX_SCAN_LENGTH))).toEqual(plain('A1'));
    expect(reasonOf(padded(MAX_SCAN_LENGTH + 1))).toMatch(/more than 500 characters/);
  });

  it('is told apart by isSerial in the same way', () => {
    expect([isSerial('TB-1'), isSerial(''), isSerial('A B'), isSerial('A'.repeat(41))]).toEqual([
      true,
      false,
      false,
      false,
    ]);
  });
});

describe('a plain serial that starts with 01', () => {
  it.each([
    ['ends behind the GTIN', `01${GTIN}`],
    ['has a wrong check digit', '01095212345432142112345'],
    ['has 13 digits only', '0195212345432132112345'],
    ['goes on with a lot, whose end nothing marks', `01${GTIN}10ABC123`],
    ['goes on with no AI', `01${GTIN}ABC`],
    ['has an empty serial behind 21', `01${GTIN}21`],
    ['has more behind 21 than the 20 characters GS1 allows', `01${GTIN}21${'9'.repeat(21)}`],
    ['has a date cut short', `01${GTIN}1125`],
    ['has letters among the digits', '01ABCDEFGHIJKLMN21X'],
  ])('stays a plain serial when it %s', (_, serial) => {
    expect(parseScan(serial)).toEqual(plain(serial));
  });

  it('is a GS1 code only when GTIN, check digit and a closing 21 are all there', () => {
    for (const text of [`01${GTIN}2112345`, `01${GTIN}112511252112345`, `01${GTIN}20022112345`]) {
      expect(parseScan(text)).toMatchObject({
        ok: true,
        scan: { carrier: 'gs1-element-string', gtin: GTIN, serial: '12345' },
      });
    }
  });
});

describe('a symbology identifier', () => {
  it.each([']C0', ']A0', ']d1', ']Q1', ']L2', ']z0'])(
    'before a plain serial is dropped: %s',
    (id) => {
      expect(parseScan(`${id}TB-PH-000123`)).toEqual(plain('TB-PH-000123'));
    },
  );

  it.each([']d2', ']C1', ']Q3', ']e0'])('%s announces GS1 data and nothing else', (id) => {
    expect(reasonOf(`${id}TB-PH-000123`)).toMatch(/not a well-formed GS1 code/);
  });

  it('of a retail bar code means there is no serial', () => {
    expect(reasonOf(']E09521234543213')).toMatch(/retail bar code/);
    expect(reasonOf(']E495200002')).toMatch(/retail bar code/);
  });

  it('is dropped once only', () => {
    expect(reasonOf(']C0]C0A1')).toMatch(/only letters, digits/);
  });

  it.each([']', ']A', ']1A1', ']-0A1'])('that is none is no part of a serial: %j', (text) => {
    expect(reasonOf(text)).toMatch(/only letters, digits/);
  });
});
