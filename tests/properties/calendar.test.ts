import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type Calendar,
  type Shift,
  shiftAt,
  shiftFaults,
  slotAt,
} from '../../src/calendar/rules.js';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;

/** What the wall clock shows, by the JavaScript engine's own time-zone data: `2026-03-29 03:00`. */
function wallClock(timeZone: string): (ms: number) => string {
  // Swedish writes dates and times as ISO 8601 does.
  const format = new Intl.DateTimeFormat('sv-SE', {
    timeZone,
    dateStyle: 'short',
    timeStyle: 'short',
  });
  return (ms) => format.format(ms);
}

/** Every minute around a change of the clock, with what the clock shows then. */
function minutesAround(timeZone: string, change: string): { ms: number; shown: string }[] {
  const show = wallClock(timeZone);
  const from = Date.parse(change) - 5 * DAY;
  return Array.from({ length: (10 * DAY) / MINUTE }, (_, i) => {
    const ms = from + i * MINUTE;
    return { ms, shown: show(ms) };
  });
}

// Directive 2000/84/EC, and section 110 of the Energy Policy Act of 2005.
const changes = [
  ['Europe/Berlin', '2026-03-29T01:00:00Z'],
  ['Europe/Berlin', '2026-10-25T01:00:00Z'],
  ['America/New_York', '2026-03-08T07:00:00Z'],
  ['America/New_York', '2026-11-01T06:00:00Z'],
] as const;

const clockText = (minute: number) =>
  `${String(Math.floor(minute / 60)).padStart(2, '0')}:${String(minute % 60).padStart(2, '0')}`;

/** Up to five shifts that lie behind each other on the clock, round midnight too. */
const shifts: fc.Arbitrary<Shift[]> = fc
  .record({
    bounds: fc.uniqueArray(fc.integer({ min: 0, max: 1439 }), { minLength: 2, maxLength: 6 }),
    near: fc.boolean(),
    weekdays: fc.array(fc.uniqueArray(fc.integer({ min: 1, max: 7 }), { minLength: 1 }), {
      minLength: 6,
      maxLength: 6,
    }),
    gap: fc.nat({ max: 6 }),
  })
  .map(({ bounds, near, weekdays, gap }) => {
    // Half of the calendars have their bounds in the hours in which clocks are changed.
    const minutes = [...new Set(bounds.map((one) => (near ? 60 + (one % 180) : one)))].sort(
      (a, b) => a - b,
    );
    return minutes
      .map((start, i) => ({
        code: `S${i}`,
        name: `Shift ${i}`,
        starts: clockText(start),
        ends: clockText(minutes[(i + 1) % minutes.length] ?? start),
        weekdays: weekdays[i] ?? [1],
      }))
      .filter((_, i) => i !== gap);
  });

describe('the shift calendar over a change of the clock', () => {
  const windows = changes.map(([timeZone, change]) => ({
    timeZone,
    minutes: minutesAround(timeZone, change),
  }));
  const window = fc.constantFrom(...windows);

  /** The plainest way: the first minute that shows a time or a later one, found by looking. */
  function naive(
    { minutes }: (typeof windows)[number],
    all: readonly Shift[],
    ms: number,
  ): [string, string | null] {
    const firstAt = (text: string) => minutes.find((one) => one.shown >= text)?.ms ?? Infinity;
    const now = minutes.findLast((one) => one.ms <= ms);
    if (!now) throw new Error('outside the window');
    const today = Date.parse(now.shown.slice(0, 10));
    for (const date of [today - DAY, today, today + DAY]) {
      const day = new Date(date).toISOString().slice(0, 10);
      const weekday = new Date(date).getUTCDay() || 7;
      for (const { code, starts, ends, weekdays } of all) {
        if (!weekdays.includes(weekday)) continue;
        const lastDay = ends > starts ? day : new Date(date + DAY).toISOString().slice(0, 10);
        if (firstAt(`${day} ${starts}`) <= ms && ms < firstAt(`${lastDay} ${ends}`)) {
          return [day, code];
        }
      }
    }
    return [now.shown.slice(0, 10), null];
  }

  it('agrees with a search through every minute that the clock shows', () => {
    fc.assert(
      fc.property(window, shifts, fc.double({ min: -1, max: 1, noNaN: true }), (at, all, days) => {
        const middle = at.minutes[at.minutes.length / 2]?.ms ?? 0;
        // Cubed, so that most instants lie in the hours around the change.
        const ms = Math.floor(middle + days ** 3 * 3 * DAY);
        const { day, shift } = shiftAt({ timeZone: at.timeZone, shifts: all }, ms);
        expect([day, shift?.code ?? null]).toEqual(naive(at, all, ms));
      }),
      { numRuns: 400 },
    );
  });

  it('cuts time into stretches without a gap, each with one answer', () => {
    fc.assert(
      fc.property(window, shifts, fc.double({ min: 0, max: 1, noNaN: true }), (at, all, share) => {
        const calendar: Calendar = { timeZone: at.timeZone, shifts: all };
        let ms = (at.minutes[0]?.ms ?? 0) + DAY;
        let last = slotAt(calendar, ms);
        const end = ms + 7 * DAY;
        while (ms < end) {
          ms = last.untilMs;
          const next = slotAt(calendar, ms);
          expect(next.fromMs).toBe(ms);
          expect(next.untilMs).toBeGreaterThan(ms);
          const inside = Math.floor(ms + share * (next.untilMs - 1 - ms));
          expect(slotAt(calendar, inside)).toEqual(next);
          last = next;
        }
      }),
      { numRuns: 60 },
    );
  });
});

describe('shifts that overlap', () => {
  const any: fc.Arbitrary<Shift> = fc
    .record({
      starts: fc.integer({ min: 0, max: 1439 }),
      ends: fc.integer({ min: 0, max: 1439 }),
      weekdays: fc.uniqueArray(fc.integer({ min: 1, max: 7 }), { minLength: 1, maxLength: 3 }),
    })
    .map(({ starts, ends, weekdays }) => ({
      code: `S${starts}-${ends}`,
      name: 'Any',
      starts: clockText(starts),
      ends: clockText(ends),
      weekdays,
    }));

  it('are found where some minute of the week has two of them, and only there', () => {
    const seen = { overlapping: 0, apart: 0 };
    fc.assert(
      fc.property(fc.uniqueArray(any, { minLength: 2, maxLength: 4 }), (all) => {
        const taken = new Map<number, number>();
        const minuteOf = (text: string) => Number(text.slice(0, 2)) * 60 + Number(text.slice(3));
        for (const { starts, ends, weekdays } of all) {
          const length = (minuteOf(ends) - minuteOf(starts) + 1440) % 1440 || 1440;
          for (const weekday of weekdays) {
            for (let minute = 0; minute < length; minute += 1) {
              const at = ((weekday - 1) * 1440 + minuteOf(starts) + minute) % (7 * 1440);
              taken.set(at, (taken.get(at) ?? 0) + 1);
            }
          }
        }
        const overlaps = [...taken.values()].some((n) => n > 1);
        seen[overlaps ? 'overlapping' : 'apart'] += 1;
        expect(shiftFaults(all).some((one) => one.field === 'starts')).toBe(overlaps);
      }),
      { numRuns: 200 },
    );
    expect(Math.min(seen.overlapping, seen.apart)).toBeGreaterThan(10);
  });

  it('are none of those that lie behind each other on the clock', () => {
    fc.assert(fc.property(shifts, (all) => shiftFaults(all).length === 0));
  });
});

describe('days without shifts', () => {
  const zones = [
    'UTC',
    'Europe/Berlin',
    'America/New_York',
    'Australia/Lord_Howe',
    'Asia/Kathmandu',
    'America/Sao_Paulo',
    'Asia/Beirut',
    'Pacific/Apia',
    'Pacific/Auckland',
  ];

  it('are the dates that the wall clock shows, also where a whole day was skipped', () => {
    const instant = fc.integer({ min: Date.UTC(2005, 0, 1), max: Date.UTC(2035, 0, 1) });
    fc.assert(
      fc.property(fc.constantFrom(...zones), instant, (timeZone, ms) => {
        const { day, fromMs, untilMs } = slotAt({ timeZone, shifts: [] }, ms);
        const show = wallClock(timeZone);
        expect(day).toBe(show(ms).slice(0, 10));
        expect(show(fromMs).slice(0, 10)).toBe(day);
        expect(show(fromMs - 1).slice(0, 10) < day).toBe(true);
        expect(show(untilMs - 1).slice(0, 10)).toBe(day);
        expect(show(untilMs).slice(0, 10) > day).toBe(true);
      }),
      { numRuns: 300 },
    );
  });

  it('end in Apia on 29 December 2011, after which came the 31st', () => {
    // IANA time zone database, file australasia: Samoa moved west of the date line.
    const { day, untilMs } = slotAt(
      { timeZone: 'Pacific/Apia', shifts: [] },
      Date.parse('2011-12-30T09:59:59Z'),
    );
    expect([day, untilMs]).toEqual(['2011-12-29', Date.parse('2011-12-30T10:00:00Z')]);
    expect(shiftAt({ timeZone: 'Pacific/Apia', shifts: [] }, untilMs).day).toBe('2011-12-31');
  });

  it('do not end twice: St John’s put its clocks back from 00:01 to 23:01 in 2010', () => {
    // IANA time zone database, file northamerica: 2:31 UTC on 7 November 2010.
    const calendar = { timeZone: 'America/St_Johns', shifts: [] };
    const days = ['02:29', '02:30', '02:31', '03:31'].map(
      (time) => shiftAt(calendar, Date.parse(`2010-11-07T${time}:00Z`)).day,
    );
    expect(days).toEqual(['2010-11-06', '2010-11-07', '2010-11-07', '2010-11-07']);
  });
});
