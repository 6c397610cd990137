import { createContext, Script } from 'node:vm';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { documentedPatterns, type Found, patternsOf, sourceFiles } from './support/patterns.js';

/** Characters of the long texts. A pattern that is slow by the square takes 200 000 000 steps for them. */
const LENGTH = 20_000;
/** One that looks at each character a few times needs a hundredth of this. */
const PATIENCE_MS = 60;
const usual = ['a', 'A', '0', ' ', '\t', '-', '.', '/', '_', '"', "'", '=', ',', '<', '\n', 'é'];

const files = sourceFiles();
const inSource = files.flatMap(({ name, text }) => patternsOf(name, text));
const all = [
  ...new Map(
    [...documentedPatterns(), ...inSource].map((one) => [`${one.source} ${one.flags}`, one]),
  ).values(),
];

/** Texts that a pattern takes, cut into pieces: what to repeat, and what to begin with. */
function piecesOf({ source, flags }: Found): { pumps: string[]; starts: string[] } {
  const samples = fc.sample(matching(new RegExp(source, flags)), { numRuns: 6, seed: 1 });
  const cut = samples.flatMap((text) =>
    [1, 2, 3].flatMap((length) =>
      Array.from({ length: Math.min(text.length, 8) }, (_, at) => text.slice(at, at + length)),
    ),
  );
  const pumps = [...new Set([...usual, ...cut])].filter((text) => text !== '').slice(0, 50);
  return { pumps, starts: ['', samples[0]?.slice(0, 40) ?? ''] };
}

/** Texts that match; for what fast-check cannot invert, the usual characters do. */
function matching(expression: RegExp): fc.Arbitrary<string> {
  try {
    return fc.stringMatching(expression);
  } catch {
    return fc.constantFrom(...usual);
  }
}

const context = createContext({});
const look = new Script('expression.test(text)');

/** Whether a pattern looks at a text for too long; one that would do so for ever is stopped. */
function isSlow({ source, flags }: Found, text: string): boolean {
  Object.assign(context, { expression: new RegExp(source, flags), text });
  const began = process.cpuUsage();
  try {
    look.runInContext(context, { timeout: 300 });
  } catch {
    return true;
  }
  const { user, system } = process.cpuUsage(began);
  return (user + system) / 1000 > PATIENCE_MS;
}

/** The first text on which a pattern takes too long, tried again lest something else was slow. */
function slowText(found: Found): string | undefined {
  const { pumps, starts } = piecesOf(found);
  // First few characters, which is enough for an exponential pattern, then many.
  for (const length of [30, LENGTH]) {
    for (const pump of pumps) {
      const body = pump.repeat(length / pump.length);
      const texts = starts.flatMap((start) => [start + body, `${start}${body}\u0000!`]);
      const slow = texts.find((text) => isSlow(found, text) && isSlow(found, text));
      if (slow !== undefined) return `${JSON.stringify(slow.slice(0, 60))} of ${slow.length}`;
    }
  }
  return undefined;
}

describe('regular expressions (API4)', () => {
  it('are found: as many as there are, and none that is made while the service runs', () => {
    expect(inSource.length).toBeGreaterThan(50);
    for (const { source, flags } of all) expect(() => new RegExp(source, flags)).not.toThrow();
    const made = files.filter(({ text }) => /\bnew RegExp\(|\bRegExp\(/.test(text));
    expect(made.map((one) => one.name)).toEqual([]);
  });

  it('are looked at by a search that finds a slow one', () => {
    const slow = (source: string) => slowText({ place: 'here', source, flags: '' });
    expect(slow('^(a+)+$')).toBeDefined();
    expect(slow('^(a|aa)+$')).toBeDefined();
    expect(slow('\\s+$')).toBeDefined();
    expect(slow('^[a-z]+$')).toBeUndefined();
  });

  it.each(all.map((one): [string, string, Found] => [one.place, one.source, one]))(
    'of %s take time that grows with the text alone: %s',
    (_place, _source, found) => {
      expect(slowText(found)).toBeUndefined();
    },
    60_000,
  );
});
