import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { MAX_SCAN_LENGTH, parseScan } from '../../src/scan/parse.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish } from '../support/scenario.js';
import { exchange } from '../support/wire.js';
import { computing, spoiltBytes } from './support/bytes.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';
/** `SKEG_FUZZ` counts requests; a scan is far cheaper than one. */
const RUNS = Number(process.env.SKEG_FUZZ ?? 20_000);

// A GTIN of the prefix 952 that GS1 keeps for examples; example.com is kept by RFC 2606.
const GTIN = '09521234543213';
const taken = [
  'P00001',
  `]d201${GTIN}11251125${GS}10LOT-1${GS}21P00001`,
  `01${GTIN}21P00001`,
  `(01)${GTIN}(10)LOT-1(21)P00001`,
  `https://example.com/01/${GTIN}/22/2A/10/LOT%2f1/21/P00001?11=251125&linkType=all#x`,
  `[)>${RS}06${GS}1PPH-100${GS}2PA${GS}1TLOT-1${GS}SP00001${RS}05${GS}01${GTIN}21P00001${RS}${EOT}`,
];
const spoilt = spoiltBytes(taken, MAX_SCAN_LENGTH + 20);

describe('the scan parser', () => {
  it('takes every text that others are spoilt from', () => {
    expect(taken.map((text) => parseScan(text)).filter((answer) => !answer.ok)).toEqual([]);
  });

  it.each(['utf8', 'latin1', 'utf16le'] as const)(
    'answers any bytes that a scanner sends, read as %s, and never throws',
    (encoding) => {
      let accepted = 0;
      fc.assert(
        fc.property(spoilt, (bytes) => {
          const answer = parseScan(bytes.toString(encoding));
          if (answer.ok) accepted += 1;
          else expect(answer.reason).toMatch(/^[A-Z].+[a-z0-9).]$/s);
        }),
        { numRuns: RUNS },
      );
      // Spoilt so little that some stay whole, or the search would end at the first mark.
      if (encoding !== 'utf16le') expect(accepted).toBeGreaterThan(RUNS / 100);
    },
  );

  it.each([
    ...['0', '01', '21', '(', ')', '(01)', '/01/', '/', '%', '%41', '?', '&', '=', '1=1&', '#'],
    ...[GS, RS, `${RS}06${GS}`, `${GS}S1`, '[)>', ']d2', 'https://', ' ', '\r\n', '\ud800', '傷'],
  ])('takes at most twice as long for twice as much of %j', async (token) => {
    const starts = ['', ']d2', 'https://e.x/01/', '(', `[)>${RS}06${GS}`, `01${GTIN}`];
    const ofLength = (length: number) =>
      starts.map((start) => `${start}${token.repeat(length)}`.slice(0, length - 2) + RS + EOT);
    const perCharacter = async (length: number) => {
      const texts = ofLength(length);
      const rounds = 40_000 / length;
      const work = () => {
        for (let i = 0; i < rounds; i += 1) for (const text of texts) parseScan(text);
      };
      work();
      return computing(work);
    };
    // Both read 240 000 characters: alike, where time grows with length alone.
    const [short, long] = [await perCharacter(50), await perCharacter(MAX_SCAN_LENGTH)];
    expect(long).toBeLessThan(4 * short + 30);
  });

  it('does not look at a text that is too long', async () => {
    const long = '01'.repeat(5_000_000);
    expect(await computing(() => parseScan(long))).toBeLessThan(20);
  });
});

describe('a scan in a request', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await enter(plant, 'powerhead');
  });
  afterAll(() => plant.stop());

  it('is answered whatever bytes it has', async () => {
    const { seed = 0 } = fc.readConfigureGlobal();
    const before = plant.eventCount();
    const statuses = new Set<number>();
    for (const bytes of fc.sample(spoilt, { numRuns: RUNS / 50, seed })) {
      const escaped = [...bytes].map((byte) => `%${byte.toString(16).padStart(2, '0')}`).join('');
      const path = `/v1/history?serial=${escaped}`;
      const { status, text } = await exchange(plant, { path, as: 'read' });
      expect([200, 400, 404, 409, 422], `${path} ${text}`).toContain(status);
      statuses.add(status);
    }
    for (const status of [200, 404, 422]) expect([...statuses]).toContain(status);
    expect(plant.eventCount()).toBe(before);
    expect(plant.logLines.filter((line) => line.includes('"level":50'))).toEqual([]);
  }, 60_000);
});
