import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  gtinCheckDigit,
  hasValidGtinCheckDigit,
  hasValidMod37_36CheckCharacter,
  mod37_36CheckCharacter,
} from '../../src/scan/check-character.js';
import { isBareElementString } from '../../src/scan/element-string.js';
import { parseScan, type Scan } from '../../src/scan/parse.js';
import { isSerial } from '../../src/scan/serial.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';

const SERIAL_CHARACTERS = [
  ...'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._/+',
];
const PRINTABLE = Array.from({ length: 95 }, (_, offset) => String.fromCharCode(32 + offset));
// GS1 character set 82: printable ASCII without space # $ @ [ \ ] ^ ` { | } ~.
const SET_82 = PRINTABLE.filter((character) => !' #$@[\\]^`{|}~'.includes(character));
const ALPHANUMERIC = [...'0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ'];

const textOf = (characters: readonly string[], minLength: number, maxLength: number) =>
  fc.string({ unit: fc.constantFrom(...characters), minLength, maxLength });

const digits = (length: number) => textOf([...'0123456789'], length, length);
const gtin14 = digits(13).map((body) => body + gtinCheckDigit(body));
const gs1Serial = textOf(SERIAL_CHARACTERS, 1, 20);
const gs1Lot = textOf(SET_82, 1, 20);
const field = textOf(PRINTABLE, 1, 30);
const alphanumeric = textOf(ALPHANUMERIC, 1, 30);

/** AIs that carry nothing for us, some of predefined length and some not. */
const otherElement = fc.oneof(
  fc.constantFrom('11', '17').chain((code) => digits(6).map((value) => ({ code, value }))),
  fc.constant('20').chain((code) => digits(2).map((value) => ({ code, value }))),
  fc.constantFrom('3103', '3922').chain((code) => digits(6).map((value) => ({ code, value }))),
  fc.constantFrom('22', '240', '99').chain((code) => gs1Lot.map((value) => ({ code, value }))),
);
const PREDEFINED = ['01', '11', '17', '20', '3103'];

/** A GTIN with serial, lot or both, and others between them in any order, each AI once. */
const elementList = fc
  .tuple(
    gtin14,
    fc.option(gs1Serial),
    gs1Lot,
    fc.boolean(),
    fc.uniqueArray(otherElement, { maxLength: 4, selector: (element) => element.code }),
  )
  .chain(([gtin, serial, lotText, hasLot, others]) => {
    const lot = serial === null || hasLot ? lotText : null;
    const elements = [{ code: '01', value: gtin }, ...others];
    if (serial !== null) elements.push({ code: '21', value: serial });
    if (lot !== null) elements.push({ code: '10', value: lot });
    return fc
      .shuffledSubarray(elements, { minLength: elements.length })
      .map((shuffled) => ({ gtin, serial, lot, elements: shuffled }));
  });

const scan = (carrier: Scan['carrier'], parts: Partial<Scan>) => ({
  ok: true,
  scan: {
    carrier,
    serial: null,
    gtin: null,
    partNumber: null,
    partRevision: null,
    lot: null,
    ...parts,
  },
});

function elementString(elements: readonly { code: string; value: string }[]): string {
  const last = elements.length - 1;
  return elements
    .map(({ code, value }, at) =>
      PREDEFINED.includes(code) || at === last ? code + value : code + value + GS,
    )
    .join('');
}

const scannerPrefix = fc.constantFrom('', ' ', '  ');
const scannerSuffix = fc.constantFrom('', ' ', '\r', '\n', '\r\n', ' \r\n');

describe('a composed carrier gives back its parts', () => {
  it('plain serials', () => {
    fc.assert(
      fc.property(
        textOf(SERIAL_CHARACTERS, 1, 40),
        scannerPrefix,
        scannerSuffix,
        (serial, before, behind) => {
          fc.pre(!isBareElementString(serial));
          expect(parseScan(before + serial + behind)).toEqual(scan('plain', { serial }));
        },
      ),
    );
  });

  it('GS1 element strings, whatever marks them', () => {
    fc.assert(
      fc.property(
        elementList,
        fc.constantFrom(']d2', ']C1', ']Q3', ']e0', GS, `]d2${GS}`),
        fc.constantFrom('', GS),
        scannerSuffix,
        ({ gtin, serial, lot, elements }, mark, end, behind) => {
          expect(parseScan(mark + elementString(elements) + end + behind)).toEqual(
            scan('gs1-element-string', { gtin, serial, lot }),
          );
        },
      ),
    );
  });

  it('GS1 element strings in human-readable form', () => {
    fc.assert(
      fc.property(elementList, ({ gtin, serial, lot, elements }) => {
        fc.pre(elements.every(({ value }) => !value.includes('(')));
        const text = elements.map(({ code, value }) => `(${code})${value}`).join('');
        expect(parseScan(text)).toEqual(scan('gs1-element-string', { gtin, serial, lot }));
      }),
    );
  });

  it('GS1 Digital Links', () => {
    const everyCharacterEncoded = (text: string) =>
      [...text].map((one) => `%${one.charCodeAt(0).toString(16).padStart(2, '0')}`).join('');
    fc.assert(
      fc.property(
        elementList,
        fc.constantFrom('https://example.com', 'HTTP://example.com/a/01', 'https://example.com/21'),
        fc.constantFrom(encodeURIComponent, everyCharacterEncoded),
        fc.constantFrom('', '#x', '#/21/9'),
        ({ gtin, serial, lot, elements }, base, encode, fragment) => {
          const inPath = ['01', '22', '10', '21'];
          const pairs = inPath.flatMap((code) => elements.filter((one) => one.code === code));
          const path = pairs.map(({ code, value }) => `/${code}/${encode(value)}`).join('');
          const query = elements
            .filter(({ code }) => !inPath.includes(code))
            .map(({ code, value }) => `${code}=${encode(value)}`)
            .join('&');
          const text = `${base}${path}?${query}${fragment}`;
          fc.pre(text.length <= 500);
          expect(parseScan(text)).toEqual(scan('gs1-digital-link', { gtin, serial, lot }));
        },
      ),
    );
  });

  it('ISO/IEC 15434 messages in format 06', () => {
    fc.assert(
      fc.property(
        textOf(SERIAL_CHARACTERS, 1, 40),
        fc.record({ P: fc.option(field), '1P': fc.option(field) }),
        fc.option(field),
        fc.option(field),
        fc.array(
          fc.constantFrom('Q', '17V', '3S', 'T', '30P').chain((di) => field.map((v) => di + v)),
          { maxLength: 3 },
        ),
        (serial, numbers, revision, lot, others) => {
          const fields = [`S${serial}`, ...others];
          for (const [code, value] of Object.entries({ ...numbers, '2P': revision, '1T': lot })) {
            if (value !== null) fields.unshift(code + value);
          }
          expect(parseScan(`[)>${RS}06${GS}${fields.join(GS)}${RS}${EOT}`)).toEqual(
            scan('iso-15434', {
              serial,
              partNumber: numbers.P ?? numbers['1P'],
              partRevision: revision,
              lot,
            }),
          );
        },
      ),
    );
  });
});

describe('any text at all', () => {
  const TOKENS = [
    '01',
    '21',
    '10',
    '11',
    GS,
    RS,
    EOT,
    '[)>',
    '06',
    '05',
    'S',
    '1P',
    '(',
    ')',
    ']d2',
  ];
  const MORE_TOKENS = ['https://', '/', '?', '=', '&', '%', '%1d', '+', '#', ' ', '\r\n', '\ud800'];
  const anyText = fc.oneof(
    fc.string({ unit: 'binary', maxLength: 520 }),
    fc.string({ unit: 'grapheme', maxLength: 60 }),
    fc.uint8Array({ maxLength: 520 }).map((bytes) => Buffer.from(bytes).toString('latin1')),
    fc
      .array(fc.oneof(fc.constantFrom(...TOKENS, ...MORE_TOKENS), gtin14, gs1Serial), {
        maxLength: 25,
      })
      .map((tokens) => tokens.join('')),
  );
  /** A right carrier with one character replaced, dropped or added. */
  const damagedText = fc
    .tuple(elementList, fc.nat(), fc.string({ unit: 'binary', maxLength: 1 }), fc.nat(1))
    .map(([{ elements }, at, added, dropped]) => {
      const text = `]d2${elementString(elements)}`;
      const position = at % text.length;
      return text.slice(0, position) + added + text.slice(position + dropped);
    });

  it('is answered without a throw, and what is accepted is sound', () => {
    fc.assert(
      fc.property(fc.oneof(anyText, damagedText), (text) => {
        const answer = parseScan(text);
        if (!answer.ok) {
          expect(answer.reason).toMatch(/^[A-Z].*[a-z0-9).]$/);
          return;
        }
        const { serial, gtin, lot } = answer.scan;
        expect(serial !== null || lot !== null).toBe(true);
        if (serial !== null) expect(isSerial(serial)).toBe(true);
        if (gtin !== null) expect(gtin.length === 14 && hasValidGtinCheckDigit(gtin)).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });

  it('that gives a serial gives the same when that serial is typed', () => {
    fc.assert(
      fc.property(elementList, ({ serial, elements }) => {
        fc.pre(serial !== null && !isBareElementString(serial));
        const scanned = parseScan(`]d2${elementString(elements)}`);
        const typed = parseScan(serial ?? '');
        expect(scanned).toMatchObject({ scan: { serial } });
        expect(typed).toEqual(scan('plain', { serial }));
      }),
    );
  });

  it.each([
    ' ',
    '(',
    ')',
    '(01)',
    '/',
    '/01',
    '%',
    '?',
    '&',
    '=1&',
    '#',
    GS,
    RS,
    '0',
    '01',
    '[)>',
    ']d2',
    'S1\u001d',
  ])('of the greatest length made of %j is answered within 20 ms', (token) => {
    const hostile = ['', ']d2', 'https://', '(', `[)>${RS}06${GS}`].map((start) =>
      (start + token.repeat(500)).slice(0, 500),
    );
    for (const text of hostile) parseScan(text);
    const started = performance.now();
    for (const text of hostile) parseScan(text);
    expect(performance.now() - started).toBeLessThan(20);
  });
});

describe('check characters', () => {
  it('a GTIN with one digit replaced is never valid', () => {
    fc.assert(
      fc.property(gtin14, fc.nat(13), fc.integer({ min: 1, max: 9 }), (gtin, at, shift) => {
        const digit = String((Number(gtin[at]) + shift) % 10);
        expect(hasValidGtinCheckDigit(gtin.slice(0, at) + digit + gtin.slice(at + 1))).toBe(false);
      }),
    );
  });

  it('a GTIN with two neighbours swapped is valid only when they are five apart or equal', () => {
    // The weights 3 and 1 differ by 2, so a swap changes the sum by 2 * (a - b).
    fc.assert(
      fc.property(gtin14, fc.nat(12), (gtin, at) => {
        const [left = '', right = ''] = gtin.slice(at, at + 2);
        const swapped = gtin.slice(0, at) + right + left + gtin.slice(at + 2);
        const isUnseen = Math.abs(Number(left) - Number(right)) % 5 === 0;
        expect(hasValidGtinCheckDigit(swapped)).toBe(isUnseen);
      }),
    );
  });

  it('MOD 37,36 accepts its own character and no text with one character replaced', () => {
    fc.assert(
      fc.property(alphanumeric, fc.nat(), fc.integer({ min: 1, max: 35 }), (text, where, shift) => {
        const whole = text + mod37_36CheckCharacter(text);
        expect(hasValidMod37_36CheckCharacter(whole)).toBe(true);
        const at = where % whole.length;
        const replaced = ALPHANUMERIC[(ALPHANUMERIC.indexOf(whole[at] ?? '') + shift) % 36];
        expect(
          hasValidMod37_36CheckCharacter(whole.slice(0, at) + replaced + whole.slice(at + 1)),
        ).toBe(false);
      }),
    );
  });

  it('MOD 37,36 misses a swap of neighbours only when they are neighbours in the alphabet', () => {
    // Which swaps those are, and that they are 1 in 630, is counted in scan-check-character.test.ts.
    fc.assert(
      fc.property(alphanumeric, fc.nat(), (text, where) => {
        const whole = text + mod37_36CheckCharacter(text);
        const at = where % (whole.length - 1);
        const [left = '', right = ''] = whole.slice(at, at + 2);
        const swapped = whole.slice(0, at) + right + left + whole.slice(at + 2);
        const apart = Math.abs(ALPHANUMERIC.indexOf(left) - ALPHANUMERIC.indexOf(right));
        if (![0, 1, 35].includes(apart)) {
          expect(hasValidMod37_36CheckCharacter(swapped)).toBe(false);
        }
      }),
    );
  });
});
