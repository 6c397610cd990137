import { describe, expect, it } from 'vitest';
import { fisherExact } from '../../src/statistics/fisher-exact.js';

describe('Fisher, The Design of Experiments (1935), chapter II: the lady tasting tea', () => {
  // R's fisher.test output for this table, as printed in course notes: two-sided 0.4857, greater 0.2429.
  it('with three of four cups named rightly is 0.4857 two-sided and 0.2429 one-sided', () => {
    const { twoSided, greater } = fisherExact(3, 1, 1, 3);
    expect(Number(twoSided.toFixed(4))).toBe(0.4857);
    expect(Number(greater.toFixed(4))).toBe(0.2429);
  });

  // Fisher's own figure: one chance in 70 of naming all eight.
  it('with all cups named rightly is one chance in 70', () => {
    expect(fisherExact(4, 0, 0, 4).greater).toBeCloseTo(1 / 70, 15);
    expect(fisherExact(4, 0, 0, 4).twoSided).toBeCloseTo(2 / 70, 15);
  });
});

describe('published 2 by 2 tables', () => {
  // Fagerland, Lydersen and Laake, Statistical Analysis of Contingency Tables, chapter 4
  // (Ritland 2007), by the expected output of the book's own R package: P = 0.06287.
  // No case in row 1, so the lower tail is the short one and the two sides differ.
  it('0/16 against 15/72 is 0.06287', () => {
    expect(Number(fisherExact(0, 16, 15, 57).twoSided.toFixed(5))).toBe(0.06287);
  });

  // Left- and right-handed by sex, R's fisher.test output in an open R course: p-value = 0.2392.
  it('43, 9 against 44, 4 is 0.2392', () => {
    expect(Number(fisherExact(43, 9, 44, 4).twoSided.toFixed(4))).toBe(0.2392);
  });

  // SAS/STAT, FREQ procedure, example "Analysis of a 2x2 Contingency Table" (table read there;
  // right-sided 0.0367 and two-sided 0.0393 from memory, and recomputed with SciPy 1.17.1).
  it('11, 4 against 2, 6 is 0.0393 two-sided and 0.0367 one-sided', () => {
    const { twoSided, greater } = fisherExact(11, 4, 2, 6);
    expect(Number(twoSided.toFixed(4))).toBe(0.0393);
    expect(Number(greater.toFixed(4))).toBe(0.0367);
  });
});

describe('a general-purpose reference library, SciPy 1.17.1, fisher_exact', () => {
  it.each([
    [3, 1, 1, 3, 0.48571428571428565, 0.24285714285714283],
    [43, 9, 44, 4, 0.2391569568222429, 0.9504538830701105],
    [11, 4, 2, 6, 0.03930542468703729, 0.036680576120608425],
  ])('agrees on %d, %d, %d, %d', (a, b, c, d, twoSided, greater) => {
    const ours = fisherExact(a, b, c, d);
    expect(ours.twoSided / twoSided).toBeCloseTo(1, 12);
    expect(ours.greater / greater).toBeCloseTo(1, 12);
  });
});

describe('tables of a million motors and more', () => {
  // 60-digit arithmetic by another program, ours.
  it.each([
    [40, 160, 150_000, 849_800, 0.0590282310201976, 0.03365541420886426],
    [1_000_500, 999_500, 999_000, 1_001_000, 0.1338736098043218, 0.0669368049021609],
  ])('keep twelve digits on %d, %d, %d, %d', (a, b, c, d, twoSided, greater) => {
    const ours = fisherExact(a, b, c, d);
    expect(ours.twoSided / twoSided).toBeCloseTo(1, 12);
    expect(ours.greater / greater).toBeCloseTo(1, 12);
  });
});
