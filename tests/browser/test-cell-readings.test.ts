import { describe, expect, it } from 'vitest';
import { formatIn } from '../../src/pages/format.js';
import { gaugeLine } from '../../src/pages/parts-gauge.js';
import {
  limitsShown,
  type ReadingShown,
  readingInWords,
  readingsShown,
  stateOf,
  valueShown,
} from '../../src/pages/parts-reading.js';
import { wordsOf } from '../../src/pages/words/words.js';
import { presentJudgement } from '../../src/testing/present.js';
import { type Characteristic, judgeValue } from '../../src/testing/rules.js';

const words = wordsOf('en');
const format = formatIn(words, 'UTC');

/** Limits 50 to 150 kPa, guard band 5: accepted 55 to 145. Invented. */
const pressure: Characteristic = {
  kind: 'measured',
  code: 'pressure',
  name: 'Water pressure',
  required: true,
  unit: 'kPa',
  decimals: 0,
  lower: 50,
  upper: 150,
  guardBand: 5,
  nominal: null,
  standardUncertainty: null,
};
const leak: Characteristic = {
  kind: 'attribute',
  code: 'leak',
  name: 'Leaks',
  required: true,
  expected: false,
};

function read(c: Characteristic, value: number | boolean | null): ReadingShown {
  const [shown] = readingsShown([c], [presentJudgement(c, judgeValue(c, value))]);
  if (!shown) throw new Error('nothing is shown');
  return shown;
}
const drawn = (c: Characteristic, value: number | null) => {
  const { value: _, ...reading } = read(c, value);
  return gaugeLine({ ...reading, value })?.text ?? '';
};

describe('a reading beside its limits', () => {
  it.each([
    [null, 'waiting'],
    [49.9, 'below'],
    [50, 'guard-band'],
    [54.9, 'guard-band'],
    [55, 'accepted'],
    [145, 'accepted'],
    [146, 'guard-band'],
    [150, 'guard-band'],
    [150.1, 'above'],
  ])('of %s is %s: a value on a limit is within it', (value, state) => {
    expect(stateOf(read(pressure, value))).toBe(state);
  });

  it('of an answer, of an optional one and without limits has a state of its own', () => {
    expect(stateOf(read(leak, false))).toBe('accepted');
    expect(stateOf(read(leak, true))).toBe('unexpected');
    expect(stateOf(read({ ...pressure, required: false }, null))).toBe('optional');
    const free = { ...pressure, lower: null, upper: null, guardBand: 0 };
    expect(stateOf(read(free, 3))).toBe('unlimited');
    expect(drawn(free, 3)).toBe('');
  });

  it('is written with its decimals, but never rounded across a limit', () => {
    expect(valueShown(read(pressure, 100.4), words, format)).toBe('100\u00a0kPa');
    expect(valueShown(read(pressure, 54.6), words, format)).toBe('54.6\u00a0kPa');
    expect(valueShown(read(pressure, 145.4), words, format)).toBe('145.4\u00a0kPa');
    expect(valueShown(read({ ...pressure, lower: -5, guardBand: 0 }, -0.2), words, format)).toBe(
      '0\u00a0kPa',
    );
  });

  it('names acceptance and specification apart where a guard band is between them', () => {
    const guarded = 'accepted 55 to 145, specification 50 to 150\u00a0kPa';
    expect(limitsShown(read(pressure, 100), words, format)).toBe(guarded);
    const plain = { ...pressure, guardBand: 0 };
    expect(limitsShown(read(plain, 100), words, format)).toBe('accepted 50 to 150\u00a0kPa');
    const atLeast = { ...pressure, upper: null, nominal: 100 };
    expect(limitsShown(read(atLeast, 100), words, format)).toBe(
      'accepted at least 55, specification at least 50\u00a0kPa',
    );
    expect(readingInWords(read(leak, true), words, format)).toBe(
      'Yes; Not as it has to be; has to be: No',
    );
  });

  it('is drawn by shape: a wedge accepted, a cross not, an arrow beyond the scale', () => {
    expect(drawn(pressure, 100)).toContain('class="wedge"');
    expect(drawn(pressure, 52)).toContain('class="cross"');
    expect(drawn(pressure, 1000)).toContain('class="arrow" d="M220');
    expect(drawn(pressure, -1000)).toContain('class="arrow" d="M0');
    expect(drawn(pressure, null)).not.toMatch(/wedge|cross|arrow|needle/);
  });

  it('is drawn on a scale of its limits alone, the middle in the middle', () => {
    // The line is 220 wide, so that its middle is 110; three fifths of 202 lie between the limits.
    expect(drawn(pressure, 100)).toContain('M110 13V34');
    expect(drawn(pressure, null)).toContain('M49.4 14H170.6');
    const oneSided = drawn({ ...pressure, upper: null, nominal: 100 }, 100);
    expect(oneSided).toContain('M49.4 14H211');
    expect(oneSided).toContain('M110 13V34');
  });
});
