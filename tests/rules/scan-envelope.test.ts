import { describe, expect, it } from 'vitest';
import { parseScan } from '../../src/scan/parse.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';
// A GTIN of the prefix 952 that GS1 keeps for examples.
const GTIN = '09521234543213';

const format06 = (...fields: string[]) => ['06', ...fields].join(GS);
const message = (...formats: string[]) =>
  `[)>${RS}${formats.map((one) => one + RS).join('')}${EOT}`;
const label = (...fields: string[]) => message(format06(...fields));

function scanOf(text: string) {
  const answer = parseScan(text);
  return answer.ok ? answer.scan : { refused: answer.reason };
}

function reasonOf(text: string): string {
  const answer = parseScan(text);
  return answer.ok ? `accepted: ${JSON.stringify(answer.scan)}` : answer.reason;
}

const nothing = { gtin: null, serial: null, partNumber: null, partRevision: null, lot: null };

describe('an ISO/IEC 15434 message in format 06', () => {
  it('gives serial, part number, revision and lot', () => {
    expect(scanOf(label('S000123', '1PTB-PH-100', '2PC', '1TLOT 7'))).toEqual({
      ...nothing,
      carrier: 'iso-15434',
      serial: '000123',
      partNumber: 'TB-PH-100',
      partRevision: 'C',
      lot: 'LOT 7',
    });
  });

  it('may carry a serial or a lot alone', () => {
    expect(scanOf(label('S000123'))).toEqual({
      ...nothing,
      carrier: 'iso-15434',
      serial: '000123',
    });
    expect(scanOf(label('1TL7'))).toEqual({ ...nothing, carrier: 'iso-15434', lot: 'L7' });
  });

  it('prefers the part number that the customer gave (P) to that of the supplier (1P)', () => {
    for (const fields of [
      ['P100-7', '1PX9', 'S1'],
      ['1PX9', 'P100-7', 'S1'],
    ]) {
      expect(scanOf(label(...fields))).toMatchObject({ partNumber: '100-7' });
    }
  });

  it('has other identifiers skipped, those that end in the same letter too', () => {
    const others = ['17V12345', 'Q4', '3S99', '25SUN123', 'T8', '11P1234567890', '30PX', '9D2548'];
    expect(scanOf(label(...others, 'S1'))).toEqual({
      ...nothing,
      carrier: 'iso-15434',
      serial: '1',
    });
  });

  it('is read behind a symbology identifier and before a line end', () => {
    expect(scanOf(`]d1${label('S1')}\r\n`)).toMatchObject({ serial: '1' });
  });

  it('tolerates empty fields', () => {
    expect(scanOf(label('', 'S1', ''))).toMatchObject({ serial: '1' });
  });

  it('may say the same thing twice and not two things', () => {
    expect(scanOf(label('S1', 'S1'))).toMatchObject({ serial: '1' });
    expect(reasonOf(label('S1', 'S2'))).toMatch(/identifier S twice/);
  });

  it.each([
    ['neither serial nor lot', label('1PTB-PH-100'), /neither a serial nor a lot/],
    ['no field', label(), /neither a serial nor a lot/],
    ['no format', `[)>${RS}${EOT}`, /neither a serial nor a lot/],
    ['another format only', message(`12${GS}SER 123`), /neither a serial nor a lot/],
    ['no end', `[)>${RS}06${GS}S1`, /not whole/],
    ['no EOT', `[)>${RS}06${GS}S1${RS}`, /not whole/],
    ['no RS before the EOT', `[)>${RS}06${GS}S1${EOT}`, /not whole/],
    ['no RS behind its head', `[)>06${GS}S1${RS}${EOT}`, /not whole/],
    ['its control characters lost', '[)>06S1', /not whole/],
    ['a field without identifier', label('S1', '395132'), /no data identifier/],
    ['an identifier in small letters', label('s1'), /no data identifier/],
    ['an identifier of four digits', label('1234S1'), /no data identifier/],
    ['an identifier without value', label('S'), /no data identifier/],
    ['a letter beyond ASCII', label('Sé'), /no data identifier/],
    ['an EOT inside', label(`S1${EOT}`), /no data identifier/],
    ['another control character', label('S1\u0000'), /control character/],
    ['a serial with a space', label('S1 2'), /only letters, digits/],
    ['a serial of 41 characters', label(`S${'1'.repeat(41)}`), /at most 40/],
  ])('is refused with %s', (_, text, reason) => {
    expect(reasonOf(text)).toMatch(reason);
  });
});

describe('an ISO/IEC 15434 message in format 05', () => {
  it('gives what its GS1 elements say', () => {
    expect(scanOf(message(`05${GS}01${GTIN}10ABC123${GS}2112345`))).toEqual({
      ...nothing,
      carrier: 'iso-15434',
      gtin: GTIN,
      serial: '12345',
      lot: 'ABC123',
    });
  });

  it('is refused for a wrong check digit', () => {
    expect(reasonOf(message(`05${GS}01095212345432142112345`))).toMatch(/wrong check digit/);
  });

  it('supplements a format 06 and must not contradict it', () => {
    const elements = `05${GS}01${GTIN}2112345`;
    expect(scanOf(message(elements, format06('1PTB-PH-100', 'S12345')))).toMatchObject({
      gtin: GTIN,
      serial: '12345',
      partNumber: 'TB-PH-100',
    });
    expect(reasonOf(message(elements, format06('S12346')))).toMatch(/two different things/);
  });
});
