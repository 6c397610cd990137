import { describe, expect, it } from 'vitest';
import { parseScan } from '../../src/scan/parse.js';

const GS = '\u001d';
// GTINs of the prefix 952 that GS1 keeps for examples.
const GTIN = '09521234543213';
const WRONG_GTIN = '09521234543214';

function partsOf(text: string) {
  const answer = parseScan(text);
  if (!answer.ok) return { refused: answer.reason };
  const { carrier, gtin, serial, lot } = answer.scan;
  return { carrier, gtin, serial, lot };
}

function reasonOf(text: string): string {
  const answer = parseScan(text);
  return answer.ok ? `accepted: ${JSON.stringify(answer.scan)}` : answer.reason;
}

const read = (serial: string | null, lot: string | null) => ({
  carrier: 'gs1-element-string',
  gtin: GTIN,
  serial,
  lot,
});

describe('a GS1 element string', () => {
  it.each([
    ['with lot before serial', `]d201${GTIN}10ABC123${GS}2112345`],
    ['with serial before lot', `]d201${GTIN}2112345${GS}10ABC123`],
    ['with the GTIN last', `]d22112345${GS}10ABC123${GS}01${GTIN}`],
    ['with FNC1 sent as a leading GS', `${GS}01${GTIN}10ABC123${GS}2112345`],
    ['with FNC1 sent behind the symbology identifier', `]C1${GS}01${GTIN}10ABC123${GS}2112345`],
    ['with a GS inside as its only mark', `01${GTIN}10ABC123${GS}2112345`],
    ['with a GS at its end', `]Q301${GTIN}10ABC123${GS}2112345${GS}`],
    [
      'with a needless GS behind a value of predefined length',
      `]e001${GTIN}${GS}10ABC123${GS}2112345`,
    ],
    ['with a line end behind it', `]d201${GTIN}10ABC123${GS}2112345\r\n`],
    ['in human-readable form', `(01)${GTIN}(10)ABC123(21)12345`],
    ['in human-readable form with spaces', ` (01) ${GTIN} (10) ABC123 (21) 12345 `],
  ])('is read %s', (_, text) => {
    expect(partsOf(text)).toEqual(read('12345', 'ABC123'));
  });

  it('may carry a serial or a lot alone', () => {
    expect(partsOf(`]d201${GTIN}2112345`)).toEqual(read('12345', null));
    expect(partsOf(`]d201${GTIN}10ABC123`)).toEqual(read(null, 'ABC123'));
  });

  it('has no part number or revision, which the GTIN leads to', () => {
    expect(parseScan(`]d201${GTIN}22REV2${GS}240P-100${GS}241C-7${GS}2112345`)).toMatchObject({
      scan: { partNumber: null, partRevision: null },
    });
  });

  it.each([
    ['dates (11, 17)', '1125112517281231'],
    ['a variant (20)', '2002'],
    ['a net weight (3103) and a gross weight (3302)', '31030123453302012345'],
    ['a location (414)', '4149521234500005'],
    ['a product variant (22)', `22A${GS}`],
    ['an additional item identification (240)', `240P-100/2${GS}`],
    ['a count (30)', `3012${GS}`],
    ['an origin (422)', `422578${GS}`],
    ['a price (3922)', `39221999${GS}`],
    ['a refurbishment lot (7020)', `7020L1${GS}`],
    ['a component part (8010), which may hold a #', `8010952123#45${GS}`],
    ['internal data of 90 characters (99)', `99${'x'.repeat(90)}${GS}`],
  ])('has %s skipped', (_, others) => {
    expect(partsOf(`]d201${GTIN}${others}2112345`)).toEqual(read('12345', null));
  });

  it('keeps the value 21 of a date, a lot or a serial apart from the AI 21', () => {
    expect(partsOf(`]d201${GTIN}1121212110210121${GS}2121212121`)).toEqual(
      read('21212121', '210121'),
    );
  });

  it('may say the same thing twice and not two things', () => {
    expect(partsOf(`]d201${GTIN}2112345${GS}2112345`)).toEqual(read('12345', null));
    expect(reasonOf(`]d201${GTIN}2112345${GS}2112346`)).toMatch(/\(21\) comes twice/);
  });

  it.each([
    `]d201${WRONG_GTIN}2112345`,
    `(01)${WRONG_GTIN}(21)12345`,
    `01${WRONG_GTIN}2112345${GS}`,
  ])('is refused for a wrong check digit: %j', (text) => {
    expect(reasonOf(text)).toMatch(/GTIN.*09521234543214.*wrong check digit/);
  });

  it('is refused when it carries neither serial nor lot', () => {
    expect(reasonOf(`]d201${GTIN}`)).toMatch(/neither a serial nor a lot/);
    expect(reasonOf(`(01)${GTIN}(17)281231`)).toMatch(/neither a serial nor a lot/);
  });

  it('is refused when it carries no product number', () => {
    expect(reasonOf(']d22112345')).toMatch(/no product number \(01\)/);
    expect(reasonOf(`${GS}10ABC123`)).toMatch(/no product number \(01\)/);
    expect(reasonOf(GS)).toMatch(/no product number \(01\)/);
  });

  it('is refused with two kinds of serial', () => {
    expect(reasonOf(`]d201${GTIN}2112345${GS}235X`)).toMatch(/two kinds of serial/);
  });

  it.each([
    ['a GTIN cut short', `]d201${GTIN.slice(0, 12)}`, /\(01\) must have 14 digits/],
    ['a GTIN with a letter', ']d2010952123454321A2112345', /\(01\) must have 14 digits/],
    [
      'a date cut short by a separator',
      `]d201${GTIN}1125${GS}2112345`,
      /\(11\) must have 6 digits/,
    ],
    ['a GTIN of 13 digits in parentheses', '(01)9521234543210(21)1', /\(01\) must have 14 digits/],
    ['an empty serial', `]d201${GTIN}21`, /\(21\) is empty/],
    ['an empty lot', `]d201${GTIN}10${GS}211`, /\(10\) is empty/],
    ['an empty value in parentheses', `(01)${GTIN}(21)`, /\(21\) is empty/],
    ['a serial of 21 characters', `]d201${GTIN}21${'9'.repeat(21)}`, /\(21\) has more than 20/],
    [
      'a lot that swallowed the serial',
      `]d201${GTIN}10ABCDEFGH12345672112345`,
      /\(10\) has more than 20/,
    ],
    [
      'internal data of 91 characters',
      `]d201${GTIN}99${'x'.repeat(91)}`,
      /\(99\) has more than 90/,
    ],
    ['a character outside set 82', `]d201${GTIN}21A~1`, /\(21\) holds a character/],
    ['a # outside AI 8010', `]d201${GTIN}10A#1`, /\(10\) holds a character/],
    ['an unknown AI', `]d201${GTIN}892`, /no Application Identifier follows/],
    ['an AI cut short', `]d201${GTIN}2112345${GS}31`, /no Application Identifier follows/],
    [
      'two separators in a row',
      `]d201${GTIN}2112345${GS}${GS}10A`,
      /no Application Identifier follows/,
    ],
    ['an unknown AI in parentheses', `(89)1(01)${GTIN}(21)1`, /between parentheses/],
    ['an AI with a digit too many', `(011)${GTIN}(21)1`, /between parentheses/],
    ['parentheses that never close', `(01${GTIN}`, /between parentheses/],
    ['parentheses that never close before more', '(21X', /between parentheses/],
    ['empty parentheses', `()${GTIN}`, /between parentheses/],
    ['a parenthesis alone', '(', /between parentheses/],
    ['a parenthesis in a value', `(01)${GTIN}(21)A(1)`, /between parentheses/],
    ['a control character', `]d201${GTIN}21A\u001e1`, /control character/],
  ])('is refused with %s', (_, text, reason) => {
    expect(reasonOf(text)).toMatch(reason);
  });

  it('is refused when its serial could not be typed as a plain one', () => {
    expect(reasonOf(`]d201${GTIN}21A:1`)).toMatch(/only letters, digits/);
  });

  it('may have a lot of any character that GS1 allows', () => {
    const lot = '!"%&\'()*+,-./:;<=>?_';
    expect(partsOf(`]d201${GTIN}10${lot}`)).toEqual(read(null, lot));
  });
});
