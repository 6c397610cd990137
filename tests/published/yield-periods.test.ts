import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import { makeDocument } from '../../src/http/document.js';
import { routes } from '../../src/routes.js';
import { addDays, isoWeek, lastDayOf, mondayOf } from '../../src/yield/rules.js';

describe('weeks', () => {
  it.each([
    // ISO 8601 writes 12 April 1985, its example throughout, as 1985-W15-5; from memory.
    ['1985-04-12', '1985-W15'],
    // Both sides of a turn of the year; recomputed from the rule of the Thursday.
    ['2008-12-29', '2009-W01'],
    ['2010-01-03', '2009-W53'],
    ['2026-11-25', '2026-W48'],
    ['2027-01-03', '2026-W53'],
  ])('have %s in %s', (day, week) => {
    expect(isoWeek(day)).toBe(week);
  });

  it('and months are those of Luxon, a library of dates', () => {
    const days = fc.date({
      min: new Date('1900-01-01'),
      max: new Date('2199-12-31'),
      noInvalidDate: true,
    });
    fc.assert(
      fc.property(days, fc.integer({ min: -400, max: 400 }), (date, more) => {
        const day = date.toISOString().slice(0, 10);
        const then = DateTime.fromISO(day, { zone: 'utc' });
        expect(isoWeek(day)).toBe(then.toFormat("kkkk-'W'WW"));
        expect(mondayOf(day)).toBe(then.startOf('week').toISODate());
        expect(lastDayOf(day)).toBe(then.endOf('month').toISODate());
        expect(addDays(day, more)).toBe(then.plus({ days: more }).toISODate());
      }),
      { numRuns: 500 },
    );
  });
});

describe('figures of the yield', () => {
  it('bear the names and formulas of ISO 22400-2, from memory', () => {
    const document = makeDocument(routes) as unknown as {
      components: {
        schemas: Record<string, { properties: Record<string, { description?: string }> }>;
      };
    };
    const { properties } = document.components.schemas.FirstPassLine ?? { properties: {} };
    expect(properties.firstPassYield?.description).toContain('first pass yield FPY = GP/IP');
    expect(properties.finalYield?.description).toContain('quality ratio GQ/PQ');
    expect(properties.reworkRatio?.description).toContain('rework ratio RQ/PQ');
  });
});
