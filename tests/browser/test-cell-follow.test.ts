import { describe, expect, it } from 'vitest';
import { follow } from '../../src/pages/scripts/test-cell/follow.js';

/** Warming up reads nothing; the others read what stands there. */
const prompts = [[], ['speed', 'pressure'], ['telltale'], []];
const all = ['speed', 'pressure', 'telltale'];
const next = (at: number, before: string[], now: string[]) =>
  follow(at, prompts, new Set(before), new Set(now));

describe('the prompt in hand', () => {
  it('stays where nothing was read, also at a prompt that reads nothing', () => {
    expect(next(0, all, all)).toBe(0);
    expect(next(1, all, all)).toBe(1);
    expect(next(3, [], [])).toBe(3);
  });

  it('stays until all of it was read, then gives way to the next', () => {
    expect(next(1, all, ['pressure', 'telltale'])).toBe(1);
    expect(next(1, ['pressure', 'telltale'], ['telltale'])).toBe(2);
    expect(next(2, ['telltale'], [])).toBe(3);
  });

  it('goes along where the cell is ahead, but never away from what is still open', () => {
    expect(next(0, all, ['pressure', 'telltale'])).toBe(1);
    expect(next(0, all, [])).toBe(3);
    expect(next(1, all, ['speed', 'pressure'])).toBe(1);
  });

  it('does not go back to a prompt that is read once more or late', () => {
    expect(next(3, ['speed'], [])).toBe(3);
    expect(next(2, ['speed', 'telltale'], ['telltale'])).toBe(2);
  });

  it('stays at the last', () => {
    expect(follow(0, [['speed']], new Set(['speed']), new Set())).toBe(0);
  });
});
