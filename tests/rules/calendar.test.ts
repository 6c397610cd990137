import { describe, expect, it } from 'vitest';
import {
  type Calendar,
  type Shift,
  shiftAt,
  shiftFaults,
  slotAt,
} from '../../src/calendar/rules.js';

const everyDay = [1, 2, 3, 4, 5, 6, 7];
const workDays = [1, 2, 3, 4, 5];

function shift(code: string, starts: string, ends: string, weekdays = workDays): Shift {
  return { code, name: `Shift ${code}`, starts, ends, weekdays };
}

const threeShifts = [
  shift('early', '06:00', '14:00'),
  shift('late', '14:00', '22:00'),
  shift('night', '22:00', '06:00'),
];
const HOUR = 3_600_000;

describe('the shift of an instant', () => {
  const calendar: Calendar = { timeZone: 'UTC', shifts: threeShifts };
  const at = (instant: string) => {
    const { day, shift: found } = shiftAt(calendar, Date.parse(instant));
    return [day, found?.code ?? null];
  };

  // 2 March 2026 is a Monday.
  it.each([
    ['its first instant', '2026-03-02T06:00:00.000Z', ['2026-03-02', 'early']],
    ['its last', '2026-03-02T13:59:59.999Z', ['2026-03-02', 'early']],
    ['the next one’s first', '2026-03-02T14:00:00.000Z', ['2026-03-02', 'late']],
    ['before midnight', '2026-03-02T23:59:59.999Z', ['2026-03-02', 'night']],
    ['after midnight the day before still', '2026-03-03T00:00:00.000Z', ['2026-03-02', 'night']],
    ['to the night’s end', '2026-03-03T05:59:59.999Z', ['2026-03-02', 'night']],
    ['none before Monday’s first', '2026-03-02T05:59:59.999Z', ['2026-03-02', null]],
    ['Friday’s night on Saturday', '2026-03-07T05:00:00.000Z', ['2026-03-06', 'night']],
    ['none after it, on the calendar day', '2026-03-07T06:00:00.000Z', ['2026-03-07', null]],
    ['none on a Sunday', '2026-03-08T12:00:00.000Z', ['2026-03-08', null]],
  ])('is %s', (_what, instant, expected) => {
    expect(at(instant)).toEqual(expected);
  });

  it('is known for the whole stretch around it', () => {
    const night = slotAt(calendar, Date.parse('2026-03-03T01:00:00Z'));
    expect([night.fromMs, night.untilMs]).toEqual([
      Date.parse('2026-03-02T22:00:00Z'),
      Date.parse('2026-03-03T06:00:00Z'),
    ]);
    const saturday = slotAt(calendar, Date.parse('2026-03-07T12:00:00Z'));
    expect([saturday.fromMs, saturday.untilMs]).toEqual([
      Date.parse('2026-03-07T06:00:00Z'),
      Date.parse('2026-03-08T00:00:00Z'),
    ]);
  });

  it('may last a whole day, from one start to the next', () => {
    const round = { timeZone: 'UTC', shifts: [shift('watch', '07:00', '07:00', everyDay)] };
    expect(shiftAt(round, Date.parse('2026-03-03T06:59:00Z')).day).toBe('2026-03-02');
    expect(shiftAt(round, Date.parse('2026-03-03T07:00:00Z')).day).toBe('2026-03-03');
    expect(shiftFaults(round.shifts)).toEqual([]);
  });

  it('is asked for in a time zone that there is', () => {
    expect(() => shiftAt({ timeZone: 'Mars/Base', shifts: [] }, 0)).toThrow(RangeError);
  });
});

describe('days on which the clock is changed', () => {
  // Directive 2000/84/EC: the last Sundays of March and October, at 01:00 UTC.
  const berlin: Calendar = {
    timeZone: 'Europe/Berlin',
    shifts: threeShifts.map((one) => ({ ...one, weekdays: everyDay })),
  };
  // Energy Policy Act of 2005, section 110: second Sunday of March, first of November, at 02:00.
  const newYork: Calendar = { ...berlin, timeZone: 'America/New_York' };
  const hoursOf = (calendar: Calendar, instant: string) => {
    const { fromMs, untilMs, day, shift: found } = slotAt(calendar, Date.parse(instant));
    return [day, found?.code, (untilMs - fromMs) / HOUR];
  };

  it('shorten the night of spring to seven hours, which all count to the day before', () => {
    const expected = ['2026-03-28', 'night', 7];
    expect(hoursOf(berlin, '2026-03-29T00:59:59.999Z')).toEqual(expected);
    expect(hoursOf(berlin, '2026-03-29T01:00:00.000Z')).toEqual(expected);
    expect(hoursOf(newYork, '2026-03-08T07:00:00.000Z')).toEqual(['2026-03-07', 'night', 7]);
  });

  it('lengthen the night of autumn to nine, and the doubled hour is in it twice', () => {
    const expected = ['2026-10-24', 'night', 9];
    // 02:30 by the clock, the first time and the second.
    expect(hoursOf(berlin, '2026-10-25T00:30:00.000Z')).toEqual(expected);
    expect(hoursOf(berlin, '2026-10-25T01:30:00.000Z')).toEqual(expected);
    expect(hoursOf(newYork, '2026-11-01T06:30:00.000Z')).toEqual(['2026-10-31', 'night', 9]);
  });

  it('let a shift that starts in the missing hour start at the change', () => {
    const shifts = [
      shift('first', '00:00', '02:45', everyDay),
      shift('second', '02:45', '08:00', everyDay),
    ];
    const calendar = { timeZone: 'Europe/Berlin', shifts };
    const change = Date.parse('2026-03-29T01:00:00Z');
    expect(slotAt(calendar, change - 1)).toMatchObject({ untilMs: change, day: '2026-03-29' });
    expect(slotAt(calendar, change)).toMatchObject({ fromMs: change, shift: shifts[1] });
  });

  it('leave no time for a shift that lies in the missing hour', () => {
    const lost = shift('lost', '02:10', '02:50', everyDay);
    const calendar = { timeZone: 'Europe/Berlin', shifts: [lost] };
    for (const minute of [-1, 0, 1, 30]) {
      const ms = Date.parse('2026-03-29T01:00:00Z') + minute * 60_000;
      expect(shiftAt(calendar, ms).shift).toBeNull();
    }
    expect(shiftAt(calendar, Date.parse('2026-03-28T01:30:00Z')).shift).toEqual(lost);
  });

  it('let a shift that starts in the doubled hour start the first time', () => {
    const shifts = [shift('day', '02:30', '12:00', everyDay)];
    const calendar = { timeZone: 'Europe/Berlin', shifts };
    expect(hoursOf(calendar, '2026-10-25T01:15:00Z')).toEqual(['2026-10-25', 'day', 10.5]);
    expect(shiftAt(calendar, Date.parse('2026-10-25T00:29:59Z')).shift).toBeNull();
  });

  it('are 23 and 25 hours long where there are no shifts', () => {
    const plain = { timeZone: 'Europe/Berlin', shifts: [] };
    expect(hoursOf(plain, '2026-03-29T12:00:00Z')).toEqual(['2026-03-29', undefined, 23]);
    expect(hoursOf(plain, '2026-10-25T12:00:00Z')).toEqual(['2026-10-25', undefined, 25]);
  });
});

describe('shifts of one calendar', () => {
  const faults = (...shifts: Shift[]) =>
    shiftFaults(shifts).map(({ index, field, detail }) => `${index}/${field}: ${detail}`);

  it('may lie beside each other and leave gaps', () => {
    expect(faults(...threeShifts)).toEqual([]);
    expect(faults(shift('one', '06:00', '10:00'), shift('two', '12:00', '14:00'))).toEqual([]);
    expect(faults(shift('week', '06:00', '14:00'), shift('end', '07:00', '15:00', [6]))).toEqual(
      [],
    );
  });

  it('do not overlap, and it is said when they would', () => {
    expect(faults(shift('early', '06:00', '14:30'), shift('late', '14:00', '22:00'))).toEqual([
      '1/starts: late overlaps early on Monday at 14:00: end one before the other starts',
    ]);
    expect(faults(shift('night', '22:00', '06:00'), shift('end', '05:00', '13:00', [6]))).toEqual([
      '1/starts: end overlaps night on Saturday at 05:00: end one before the other starts',
    ]);
  });

  it('do not overlap over the end of the week either', () => {
    const sunday = shift('sunday-night', '22:00', '06:00', [7]);
    expect(faults(sunday, shift('early', '05:00', '13:00', [1]))).toEqual([
      '1/starts: early overlaps sunday-night on Monday at 05:00: end one before the other starts',
    ]);
    expect(faults(shift('early', '05:00', '13:00', [1]), sunday)).toHaveLength(1);
    expect(faults(sunday, shift('early', '06:00', '13:00', [1]))).toEqual([]);
  });

  it('have a code each, and none is called as time without a shift is', () => {
    expect(faults(shift('a', '06:00', '07:00'), shift('a', '08:00', '09:00'))).toEqual([
      '1/code: a is used above already',
    ]);
    expect(faults(shift('none', '06:00', '07:00'))).toEqual([
      '0/code: none stands for time outside any shift: choose another code',
    ]);
    expect(faults(shift('a', '06:00', '07:00', [1, 2, 1]))[0]).toBe(
      '0/weekdays: a day of the week is named twice',
    );
  });
});
