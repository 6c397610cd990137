import { describe, expect, it } from 'vitest';
import {
  gtinCheckDigit,
  hasValidGtinCheckDigit,
  hasValidMod37_36CheckCharacter,
  mod37_36CheckCharacter,
} from '../../src/scan/check-character.js';
import { parseScan } from '../../src/scan/parse.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';

function gtinLotSerial(text: string) {
  const answer = parseScan(text);
  return answer.ok ? [answer.scan.gtin, answer.scan.lot, answer.scan.serial] : answer.reason;
}

describe('GS1 check digits', () => {
  it.each([
    // GS1 Digital Link examples (id.gs1.org), key without and with its check digit.
    ['0952123454321', '3'],
    ['0950600013435', '2'],
    // SSCC of the GS1 Digital Link example https://id.gs1.org/00/106141411234567897.
    ['10614141123456789', '7'],
    // from memory: the worked example of GS1's check digit calculation, 6291041500213.
    ['629104150021', '3'],
    // from memory: the SSCC example of the GS1 General Specifications, 376104250021234569.
    ['37610425002123456', '9'],
  ])('%s is followed by %s', (digits, check) => {
    expect(gtinCheckDigit(digits)).toBe(check);
  });

  // gs1/gs1-syntax-engine, src/c-lib/scandata.c, test_scandata_validateParity: right and wrong.
  it.each([
    ['24012345678905', '24012345678909'],
    ['2112233789657', '2112233789658'],
    ['416000336108', '416000336107'],
    ['02345680', '02345689'],
  ])('%s is right and %s is wrong', (right, wrong) => {
    expect([hasValidGtinCheckDigit(right), hasValidGtinCheckDigit(wrong)]).toEqual([true, false]);
  });
});

describe('GS1 element strings', () => {
  // gs1/gs1-syntax-engine, src/c-lib/scandata.c, test_scandata_processScanData.
  it.each([']Q3', ']d2', ']C1', ']e0'])('%s sends 01, 10 and 99 as GS1 reads them', (id) => {
    expect(gtinLotSerial(`${id}011231231231233310ABC123${GS}99TESTING`)).toEqual([
      '12312312312333',
      'ABC123',
      null,
    ]);
  });

  it(']e0 sends a date of predefined length without separator', () => {
    const text = `]e0011231231231233310ABC123${GS}1199122598TESTING${GS}97XYZ`;
    expect(gtinLotSerial(text)).toEqual(['12312312312333', 'ABC123', null]);
  });

  // gs1/gs1-syntax-engine, src/c-lib/ai.c, test_ai_processAIdata; ^ there is FNC1, here GS. Each
  // accepted string of theirs has a lot added here, since a scan without lot or serial is no use.
  it.each(['0112345678901231', '0112345678901231\u001d', '0112345678901231\u001d991234\u001d'])(
    'accepts %j as GS1 does',
    (elements) => {
      expect(gtinLotSerial(`]d2${elements}10ABC`)).toEqual(['12345678901231', 'ABC', null]);
    },
  );

  it.each([
    '',
    '891234',
    '99~ABC',
    '01A2345678901231',
    '011234567890123A',
    '0112345678901234',
    '011234567890123',
    '01123456789012312',
    `011234567890123${GS}`,
    `01123456789012345${GS}`,
    `01123456789012345${GS}991234`,
  ])('refuses %j as GS1 does', (elements) => {
    expect(parseScan(`]d2${elements}`).ok).toBe(false);
  });

  it('takes the brackets of the Digital Link example for AIs', () => {
    // GS1 Digital Link example https://id.gs1.org/01/09521234543213/10/ABC123/21/12345, written in
    // the two other forms by the rules of the GS1 General Specifications (rule from memory).
    const same = ['09521234543213', 'ABC123', '12345'];
    expect(gtinLotSerial('(01)09521234543213(10)ABC123(21)12345')).toEqual(same);
    expect(gtinLotSerial(`]d2010952123454321310ABC123${GS}2112345`)).toEqual(same);
  });
});

describe('GS1 Digital Link', () => {
  it.each([
    // bwipp/postscriptbarcode wiki, "GS1 Digital Link URIs".
    [
      'https://id.gs1.org/01/09521234543213/10/ABC123/21/12345',
      '09521234543213',
      'ABC123',
      '12345',
    ],
    ['https://id.gs1.org/01/09521234543213/10/ABC123?17=261231', '09521234543213', 'ABC123', null],
    // gs1/gs1-syntax-engine, src/c-lib/dl.c, test_dl_parseDLuri, "Examples from DL specification".
    ['https://id.gs1.org/01/09520123456788/10/ABC123', '09520123456788', 'ABC123', null],
    ['https://id.gs1.org/01/09520123456788/21/12345', '09520123456788', null, '12345'],
    [
      'https://id.gs1.org/01/09520123456788/10/ABC1/21/12345?17=180426',
      '09520123456788',
      'ABC1',
      '12345',
    ],
    // The same file, its other cases.
    ['https://a/01/12312312312333/22/TEST/10/ABC/21/XYZ', '12312312312333', 'ABC', 'XYZ'],
    ['https://a/01/12312312312333/22/test/10/abc/21/xyz#', '12312312312333', 'abc', 'xyz'],
    ['https://a/01/12312312312333/22/test/10/abc/21/xyz#fragment', '12312312312333', 'abc', 'xyz'],
    ['https://id.gs1.org/01/09520123456788/235/XYZ?10=ABC123', '09520123456788', 'ABC123', null],
  ])('%s gives GTIN %s, lot %s, serial %s', (text, gtin, lot, serial) => {
    expect(gtinLotSerial(text)).toEqual([gtin, lot, serial]);
  });

  // gs1/gs1-syntax-engine, src/c-lib/dl.c, test_dl_parseDLuri: GTIN-8, 12 and 13 padded, with the
  // option for them on; a serial is added here.
  it.each([
    ['https://a/01/02345673', '00000002345673'],
    ['https://a/01/416000336108', '00416000336108'],
    ['https://a/01/2112345678900', '02112345678900'],
    ['https://brand.example.com/some-extra/pathinfo/01/9520123456788', '09520123456788'],
  ])('%s has GTIN %s', (text, gtin) => {
    expect(gtinLotSerial(`${text}/21/1`)).toEqual([gtin, null, '1']);
  });

  // The same test: domains that GS1 takes, and query strings; a serial is added here.
  it.each([
    ['https://xn--fsq.xn--0zwm56d', ''],
    ['https://a.', ''],
    ['https://a:65535', ''],
    ['https://192.0.2.1', ''],
    ['https://[2001:db8::1]', ''],
    ['HTTP://a', ''],
    ['https://a', '?99=ABC&98=XYZ'],
    ['https://a', '?&&&99=ABC&&&&&&98=XYZ&&&'],
    ['https://a', '?singleton1&unknown1=555&99=ABC&singleton2&98=XYZ%2f987'],
    ['https://a', '?3103=000195&3922=0299&17=201225'],
  ])('%s/01/12312312312333/21/1%s is read', (domain, query) => {
    expect(gtinLotSerial(`${domain}/01/12312312312333/21/1${query}`)).toEqual([
      '12312312312333',
      null,
      '1',
    ]);
  });

  // The same test: refused there, and here for the same cause; a lot or serial is added where the
  // link would be refused for having none.
  it.each([
    'http://',
    'http:///',
    'http://a/b/',
    'https://a/01/12312312312333/10/A/',
    'https://a/01/12312312312333/21/1?99=',
    'https://a/01/12312312312333/21/1?99=ABC&999=faux',
    'https://a/01/12312312312333/21/1?99=ABC&98=XYZ+987',
    'https://example.com/01/09520123456788?10=ABC123',
    'https://id.gs1.org/01/09520123456788/10/ABC123?99=XYZ789&01=09520123456788',
    'https://id.gs1.org/01/09520123456788/10/ABC123?99=XYZ789&10=ABC123',
    'https://id.gs1.org/01/09520123456788/10/ABC123?99=XYZ789&99=XYZ789',
    'https://example.com/01/09520123456788/89/ABC123?99=XYZ',
    'https://example.com/01/09520123456788/21/1?99=XYZ&89=ABC123',
    // gs1/gs1-syntax-dictionary, dlpkey of AI 01: order 22, 10, 21, or 235 alone.
    'https://a/01/12312312312333/10/A/22/B',
    'https://a/01/12312312312333/22/A/10/B/235/C',
  ])('%s is refused as GS1 refuses it', (text) => {
    expect(parseScan(text).ok).toBe(false);
  });
});

describe('ISO/IEC 15434 with ANSI MH10.8.2 data identifiers', () => {
  it('reads the marking of an item by enterprise, part number and serial', () => {
    // from memory: example of serialisation within the part number (MIL-STD-130, construct 2).
    const text = `[)>${RS}06${GS}17V0CVA5${GS}1P1234${GS}S786950${RS}${EOT}`;
    expect(parseScan(text)).toEqual({
      ok: true,
      scan: {
        carrier: 'iso-15434',
        serial: '786950',
        gtin: null,
        partNumber: '1234',
        partRevision: null,
        lot: null,
      },
    });
  });

  it('gives the identifiers the meanings of the published list', () => {
    // ANSI MH10.8.2 as quoted in Solidsoft-Reply/ANSI-MH10.8.2-DI-Validating-Parser,
    // AnsiMh10.8.2DataIdentifier.resx: S (19000) serial given by the supplier for an entity's
    // lifetime; 1P (16001) item code given by the supplier; 2P (16002) revision level of an item;
    // 1T (20001) traceability number given by the supplier to a lot, batch or heat.
    const text = `[)>${RS}06${GS}2PB${GS}1TL1${GS}1PX${GS}S1${RS}${EOT}`;
    expect(parseScan(text)).toMatchObject({
      scan: { serial: '1', partNumber: 'X', partRevision: 'B', lot: 'L1' },
    });
  });
});

describe('ISO/IEC 7064 MOD 37,36', () => {
  it.each([
    // arthurdejong/python-stdnum, stdnum/iso7064/mod_37_36.py, doctest; the example of the Global
    // Release Identifier (GRid), written A1-2425G-ABC1234002-M.
    ['A12425GABC1234002', 'M'],
    // ScreenStaring/grid-number, README: two more GRids of the same issuer.
    ['A12425GABC1234011', 'K'],
    ['A12425GX999150000', '3'],
    // LiosK/cdigit, test/mod37_36.js.
    ['RABD', 'A'],
    ['X0H', 'X'],
    ['TBR', '1'],
    ['9', 'J'],
    ['I', '1'],
    ['Z', '4'],
    ['OW', 'N'],
    ['1M', 'Q'],
    ['WP8Z0', '9'],
    ['B7Q3SFTUSH2QN7BIXBPMNZAM', 'I'],
    ['ROYL38YZ9TDGPNB5MT40CEWGURAOKF07XEYTV3M', '6'],
    ['UFSYYJO9FCID766EJYAEINTG43UZDD84MT6ZUDH08OM4N1K', 'N'],
    ['F3XDN7WKS3I0R54SLM50C6A00C6GKPCS54ID6HIP1ZB', '0'],
  ])('%s is followed by %s', (text, check) => {
    expect(mod37_36CheckCharacter(text)).toBe(check);
    expect(hasValidMod37_36CheckCharacter(text + check)).toBe(true);
  });

  it('refuses a GRid with a wrong check character', () => {
    // ScreenStaring/grid-number, README: A12425GABC1234011X fails.
    expect(hasValidMod37_36CheckCharacter('A12425GABC1234011X')).toBe(false);
  });
});
