import { describe, expect, it } from 'vitest';
import { dayRange, FULL_CUBE, groupingFor, isLong, mixedRanges } from '../../src/yield/rules.js';

describe('the grouping that a question reads', () => {
  it('is the smallest that tells apart what it asks', () => {
    expect(groupingFor([])).toBe(0);
    expect(groupingFor(['model'])).toBe(1);
    expect(groupingFor(['cell'])).toBe(4);
    expect(groupingFor(['station'])).toBe(8);
    expect(groupingFor(['shift'])).toBe(16);
  });

  it('is that of configurations for a model’s too, since each is of one model', () => {
    expect(groupingFor(['configuration'])).toBe(3);
    expect(groupingFor(['model', 'configuration'])).toBe(3);
  });

  it('is the full cube for any other two', () => {
    expect(groupingFor(['model', 'cell'])).toBe(FULL_CUBE);
    expect(groupingFor(['station', 'shift'])).toBe(FULL_CUBE);
  });
});

describe('the periods that a window is read by', () => {
  const [days, months] = [0, 1];
  const ranges = (fromDay: string | null, untilDay: string | null) =>
    mixedRanges({ fromDay, untilDay });

  it('are months throughout where it has no ends, or they are those of months', () => {
    expect(ranges(null, null)).toEqual([[months, '0000-01', '9999-12~']]);
    expect(ranges('2026-02-01', '2026-02-28')).toEqual([[months, '2026-02', '2026-02~']]);
    expect(ranges('2026-01-01', '2026-03-31')).toEqual([[months, '2026-01', '2026-03~']]);
  });

  it('are days before the first whole month and after the last', () => {
    expect(ranges('2026-01-10', '2026-03-05')).toEqual([
      [months, '2026-01~', '2026-03'],
      [days, '2026-01-10', '2026-01~'],
      [days, '2026-03', '2026-03-05~'],
    ]);
    expect(ranges('2026-01-10', null)).toEqual([
      [months, '2026-01~', '9999-12~'],
      [days, '2026-01-10', '2026-01~'],
    ]);
  });

  it('are days where there is no whole month', () => {
    expect(ranges('2026-02-01', '2026-02-27')).toEqual([[days, '2026-02-01', '2026-02-27~']]);
    expect(ranges('2024-02-01', '2024-02-28')).toEqual([[days, '2024-02-01', '2024-02-28~']]);
    expect(dayRange({ fromDay: null, untilDay: '2026-02-27' })).toEqual([
      days,
      '0000-01-01',
      '2026-02-27~',
    ]);
  });

  it('are none where it ends before it begins', () => {
    expect(ranges('2026-03-05', '2026-01-10')).toEqual([]);
  });

  it('are many over more than a hundred days', () => {
    expect(isLong({ fromDay: '2026-01-01', untilDay: '2026-04-11' })).toBe(false);
    expect(isLong({ fromDay: '2026-01-01', untilDay: '2026-04-12' })).toBe(true);
    expect(isLong({ fromDay: '2026-01-01', untilDay: null })).toBe(true);
    expect(isLong({ fromDay: null, untilDay: '2026-01-01' })).toBe(true);
  });
});
