import { describe, expect, it } from 'vitest';
import { parseScan } from '../../src/scan/parse.js';

// A GTIN of the prefix 952 that GS1 keeps for examples; example.com is kept by RFC 2606.
const GTIN = '09521234543213';

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

const read = (serial: string | null, lot: string | null, gtin = GTIN) => ({
  carrier: 'gs1-digital-link',
  gtin,
  serial,
  lot,
});

describe('a GS1 Digital Link', () => {
  it.each([
    ['over https', `https://example.com/01/${GTIN}/21/12345`],
    ['over http', `http://example.com/01/${GTIN}/21/12345`],
    ['in capitals, as small codes have it', `HTTPS://EXAMPLE.COM/01/${GTIN}/21/12345`],
    ['behind a path of the maker', `https://example.com/parts/motor/01/${GTIN}/21/12345`],
    ['behind a path that looks like a key', `https://example.com/01/parts/01/${GTIN}/21/12345`],
    ['on a port', `https://example.com:8443/01/${GTIN}/21/12345`],
    ['with a product variant', `https://example.com/01/${GTIN}/22/2A/21/12345`],
    ['with attributes in its query', `https://example.com/01/${GTIN}/21/12345?11=251125&240=P-100`],
    ['with parameters that are no AI', `https://example.com/01/${GTIN}/21/12345?linkType=all&x`],
    ['with an empty query', `https://example.com/01/${GTIN}/21/12345?`],
    ['with a fragment', `https://example.com/01/${GTIN}/21/12345#/21/9`],
    ['with percent-encoded characters', `https://example.com/01/${GTIN}/21/%312%33%34%35`],
    ['behind a symbology identifier', `]Q1https://example.com/01/${GTIN}/21/12345\r\n`],
  ])('is read %s', (_, text) => {
    expect(partsOf(text)).toEqual(read('12345', null));
  });

  it('may carry a lot, alone or with the serial', () => {
    expect(partsOf(`https://example.com/01/${GTIN}/10/ABC123`)).toEqual(read(null, 'ABC123'));
    expect(partsOf(`https://example.com/01/${GTIN}/22/2A/10/ABC123/21/12345`)).toEqual(
      read('12345', 'ABC123'),
    );
  });

  it('may have 01 or 21 as a value', () => {
    expect(partsOf(`https://example.com/01/${GTIN}/10/21/21/01`)).toEqual(read('01', '21'));
  });

  it('decodes a slash and a plus, and leaves a plus in the path as it is', () => {
    expect(partsOf(`https://example.com/01/${GTIN}/21/A%2fB%2B1`)).toEqual(read('A/B+1', null));
    expect(partsOf(`https://example.com/01/${GTIN}/21/A+1`)).toEqual(read('A+1', null));
  });

  it.each([
    // GTIN-8, 12 and 13 with right check digits, as in GS1's own tests (scandata.c, validateParity).
    ['02345680', '00000002345680'],
    ['416000336108', '00416000336108'],
    ['2112233789657', '02112233789657'],
  ])('has a short GTIN padded: %s', (short, padded) => {
    expect(partsOf(`https://example.com/01/${short}/21/1`)).toEqual(read('1', null, padded));
  });

  it.each([
    ['no product', 'https://example.com/', /names no product/],
    ['no path', 'https://example.com', /names no product/],
    ['no domain', `https:///01/${GTIN}/21/1`, /names no product/],
    ['its key where the domain belongs', `https://01/${GTIN}/21/1`, /names no product/],
    ['nothing', 'https://', /names no product/],
    ['another key', 'https://example.com/8004/9521234ABC', /names no product/],
    [
      'an AI that is no qualifier',
      `https://example.com/01/${GTIN}/11/251125/21/1`,
      /names no product/,
    ],
    ['a slash at its end', `https://example.com/01/${GTIN}/21/1/`, /names no product/],
    ['its parts out of order', `https://example.com/01/${GTIN}/21/1/10/A`, /out of order/],
    ['a serial twice', `https://example.com/01/${GTIN}/21/1/21/1`, /twice or out of order/],
    [
      'a serial in its query',
      `https://example.com/01/${GTIN}?21=1`,
      /\(21\) behind the question mark/,
    ],
    [
      'a lot in its query',
      `https://example.com/01/${GTIN}/21/1?10=A`,
      /\(10\) behind the question mark/,
    ],
    ['a product in its query', `https://example.com/01/${GTIN}/21/1?01=${GTIN}`, /\(01\) behind/],
    ['an attribute twice', `https://example.com/01/${GTIN}/21/1?99=A&99=A`, /\(99\).*twice/],
    [
      'a number that is no AI',
      `https://example.com/01/${GTIN}/21/1?999=A`,
      /\(999\).*no GS1 element/,
    ],
    [
      'a wrong attribute',
      `https://example.com/01/${GTIN}/21/1?11=2511`,
      /\(11\) must have 6 digits/,
    ],
    ['half a percent code', `https://example.com/01/${GTIN}/21/A%2`, /badly encoded/],
    ['bytes that are no UTF-8', `https://example.com/01/${GTIN}/21/A%ff`, /badly encoded/],
    [
      'an encoded control character',
      `https://example.com/01/${GTIN}/21/A%1d1`,
      /\(21\) holds a char/,
    ],
    [
      'an encoded letter beyond ASCII',
      `https://example.com/01/${GTIN}/21/%C3%A9`,
      /\(21\) holds a char/,
    ],
    ['an empty serial', `https://example.com/01/${GTIN}/21/`, /\(21\) is empty/],
    ['a GTIN of 11 digits', 'https://example.com/01/95212345432/21/1', /8, 12, 13 or 14 digits/],
    ['a GTIN of 15 digits', `https://example.com/01/0${GTIN}/21/1`, /8, 12, 13 or 14 digits/],
    ['neither serial nor lot', `https://example.com/01/${GTIN}`, /neither a serial nor a lot/],
    ['two kinds of serial', `https://example.com/01/${GTIN}/235/X?21=1`, /two kinds of serial/],
    ['a control character', `https://example.com/\u0001/01/${GTIN}/21/1`, /control character/],
    [
      'a separator in it',
      `https://exa\u001dmple.com/01/${GTIN}/21/1`,
      /not a well-formed GS1 code/,
    ],
    ['another scheme', `ftp://example.com/01/${GTIN}/21/1`, /only letters, digits/],
  ])('is refused with %s', (_, text, reason) => {
    expect(reasonOf(text)).toMatch(reason);
  });

  it('is refused for a wrong check digit', () => {
    expect(reasonOf('https://example.com/01/9521234543214/21/1')).toMatch(
      /GTIN.*09521234543214.*wrong check digit/,
    );
  });
});
