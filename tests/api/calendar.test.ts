import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { connectPlant } from '../../src/plant.js';
import { openWriter } from '../../src/store/open.js';
import { START, TestPlant } from '../support/plant.js';
import { failing, furnish, openRun, passing, refused, setMotor } from '../support/scenario.js';

const HOUR = 3_600_000;
const timeZone = 'Europe/Berlin';
const workDays = [1, 2, 3, 4, 5];
const shift = (code: string, starts: string, ends: string, weekdays: number[] = workDays) => ({
  code,
  name: `Shift ${code}`,
  starts,
  ends,
  weekdays,
});
const threeShifts = [
  shift('early', '06:00', '14:00'),
  shift('late', '14:00', '22:00'),
  shift('night', '22:00', '06:00'),
];
const twoShifts = [shift('day', '07:00', '19:00'), shift('night', '19:00', '07:00')];

interface At {
  calendar: number | null;
  day: string;
  shift: { code: string } | null;
}

const record = (plant: TestPlant, body: object) =>
  plant.make<{ id: number }>('configuration', '/v1/shift-calendars', body);
const at = async (plant: TestPlant, instant: string) => {
  const { body } = await plant.get('read', `/v1/shift-calendars/at?at=${instant}`);
  const { calendar, day, shift: found } = body as At;
  return [calendar, day, found?.code ?? null];
};

describe('a shift calendar', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone });
  });
  afterAll(() => plant.stop());

  it('is none at first: days are calendar days of the plant’s time zone', async () => {
    expect(await at(plant, '2026-03-02T22:59:59Z')).toEqual([null, '2026-03-02', null]);
    expect(await at(plant, '2026-03-02T23:00:00Z')).toEqual([null, '2026-03-03', null]);
    const { body } = await plant.get('read', '/v1/shift-calendars/at');
    expect(body).toMatchObject({ at: new Date(START).toISOString(), timeZone, shift: null });
    expect((await plant.get('read', '/v1/shift-calendars')).body.items).toEqual([]);
  });

  it('is recorded with the time zone, and is in force at once where no time is said', async () => {
    const answer = await plant.post('configuration', '/v1/shift-calendars', {
      code: 'THREE-SHIFT',
      shifts: threeShifts,
    });
    expect(answer.status).toBe(201);
    const now = new Date(plant.now).toISOString();
    expect(answer.body).toEqual({
      id: 1,
      code: 'THREE-SHIFT',
      timeZone,
      effectiveFrom: now,
      shifts: threeShifts,
      recordedAt: now,
      recordedBy: 'configuration key',
    });
    expect((await plant.get('read', '/v1/shift-calendars')).body.items).toEqual([answer.body]);
  });

  it('says which shift and plant day an instant lies in', async () => {
    // The plant is an hour ahead of UTC in March.
    expect(await at(plant, '2026-03-02T12:59:59Z')).toEqual([1, '2026-03-02', 'early']);
    expect(await at(plant, '2026-03-02T13:00:00Z')).toEqual([1, '2026-03-02', 'late']);
    expect(await at(plant, '2026-03-03T04:59:59Z')).toEqual([1, '2026-03-02', 'night']);
    expect(await at(plant, '2026-03-07T12:00:00Z')).toEqual([1, '2026-03-07', null]);
    const { body } = await plant.get('read', '/v1/shift-calendars/at?at=2026-03-02T12:00:00Z');
    expect(body.shift).toEqual(threeShifts[0]);
  });

  it('is superseded by the next from its moment on, and by nothing before', async () => {
    const { id } = await record(plant, {
      code: 'TWO-SHIFT',
      effectiveFrom: '2026-03-16T00:00:00+01:00',
      shifts: twoShifts,
    });
    expect(await at(plant, '2026-03-13T12:00:00Z')).toEqual([1, '2026-03-13', 'early']);
    expect(await at(plant, '2026-03-16T12:00:00Z')).toEqual([id, '2026-03-16', 'day']);
    // Sunday night was in neither.
    expect(await at(plant, '2026-03-15T23:00:00Z')).toEqual([id, '2026-03-16', null]);
  });

  it('takes effect neither in the past nor before the one before it', async () => {
    const send = (effectiveFrom: string, key = 'configuration') =>
      plant.post(key, '/v1/shift-calendars', { code: 'X', effectiveFrom, shifts: [] });
    const problem = await refused(plant, 'effective-date-past', () =>
      send('2026-03-15T23:00:00.000Z'),
    );
    expect(problem.earliest).toBe('2026-03-15T23:00:00.001Z');
    await refused(plant, 'effective-date-past', () => send('2026-03-01T00:00:00Z', 'admin'));
    expect((await send('2026-03-15T23:00:00.001Z', 'admin')).status).toBe(201);
    expect(await at(plant, '2026-03-16T12:00:00Z')).toEqual([3, '2026-03-16', null]);
  });

  it('is refused with words where it cannot be right', async () => {
    const send = (shifts: object[]) => () =>
      plant.post('configuration', '/v1/shift-calendars', { code: 'X', shifts });
    const problem = await refused(
      plant,
      'shift-calendar-faulty',
      send([shift('early', '06:00', '14:30'), shift('late', '14:00', '22:00')]),
    );
    expect(problem).toMatchObject({
      detail: 'late overlaps early on Monday at 14:00: end one before the other starts.',
      errors: [{ pointer: '/shifts/1/starts' }],
    });
    await refused(plant, 'shift-calendar-faulty', send([shift('none', '06:00', '14:00')]));
    await refused(plant, 'request-invalid', send([shift('early', '24:00', '06:00')]));
    await refused(plant, 'request-invalid', send([shift('early', '6:00', '14:00')]));
    await refused(plant, 'request-invalid', send([shift('early', '06:00', '14:00', [0])]));
    await refused(plant, 'request-invalid', send([shift('early', '06:00', '14:00', [])]));
    await refused(plant, 'forbidden', () =>
      plant.post('quality', '/v1/shift-calendars', { code: 'X', shifts: [] }),
    );
    await refused(plant, 'request-invalid', () =>
      plant.get('read', '/v1/shift-calendars/at?at=today'),
    );
  });

  it('stays as it is: the database itself refuses to change, remove or precede one', () => {
    const db = new Database(join(plant.folder, 'skeg.db'));
    expect(() => db.exec("UPDATE shift_calendars SET shifts = '[]'")).toThrow('never changed');
    expect(() => db.exec('DELETE FROM shift_calendars')).toThrow('never removed');
    const earlier = `
      INSERT INTO shift_calendars
      SELECT 9, code, time_zone, effective_from_ms + 1, shifts, recorded_at_ms, recorded_by
      FROM shift_calendars WHERE id = 1`;
    expect(() => db.exec(earlier)).toThrow('takes effect after the one before it');
    db.close();
  });

  it('follows from its event again', () => {
    expect(verifyDatabase(join(plant.folder, 'skeg.db')).findings).toEqual([]);
  });
});

describe('a calendar whose recording was undone', () => {
  it('is not remembered as the next one with its number', () => {
    const folder = mkdtempSync(join(tmpdir(), 'skeg-calendar-'));
    const db = openWriter(join(folder, 'skeg.db'), packageFile('migrations'));
    db.pragma('foreign_keys = OFF');
    const { calendar } = connectPlant(db);
    const add = (shifts: typeof threeShifts) => {
      const times = { effectiveFromMs: START, recordedAtMs: START, recordedById: 1 };
      calendar.add({ id: 1, code: 'X', timeZone: 'UTC', shifts, ...times });
    };
    const noon = () => calendar.shiftAt(START + 6 * HOUR, 'UTC').shift?.code;
    db.exec('BEGIN');
    add(threeShifts);
    expect(noon()).toBe('early');
    db.exec('ROLLBACK');
    expect(noon()).toBeUndefined();
    add(twoShifts);
    expect(noon()).toBe('day');
    db.close();
    rmSync(folder, { recursive: true, force: true });
  });
});

describe('runs in shifts', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone });
    await furnish(plant);
    await record(plant, { code: 'THREE-SHIFT', shifts: threeShifts });
  });
  afterAll(() => plant.stop());

  const waitUntil = (instant: string) => plant.wait(Date.parse(instant) - plant.now);
  /** Completes a fresh motor’s first run now, or says that it was then. */
  const complete = async (cell: string, readings: readonly object[], occurredAt?: string) => {
    const { motor } = await setMotor(plant);
    const when = occurredAt === undefined ? {} : { occurredAt };
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell, ...when });
    await plant.make('cell', `/v1/runs/${id}/completion`, { readings, ...when });
    return motor;
  };
  const lines = async (query: string) => {
    const { body } = await plant.get('read', `/v1/yield/first-pass?${query}`);
    return body.items.map(
      (one: { slice: string; firstPasses: number; firstRuns: number; abortedRuns: number }) => [
        one.slice,
        one.firstPasses,
        one.firstRuns,
        one.abortedRuns,
      ],
    );
  };

  it('count to the day on which their shift began', async () => {
    waitUntil('2026-03-02T20:00:00Z');
    await complete('C-1', passing);
    waitUntil('2026-03-02T22:00:00Z');
    await complete('C-1', passing);
    waitUntil('2026-03-03T02:00:00Z');
    await complete('C-1', failing);
    const run = await openRun(plant, (await setMotor(plant)).motor, 'C-1');
    await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
    waitUntil('2026-03-03T05:00:00Z');
    await complete('C-1', passing);
    expect(await lines('by=shift')).toEqual([
      ['early', 1, 1, 0],
      ['late', 1, 1, 0],
      ['night', 1, 2, 1],
    ]);
    expect(await lines('by=day')).toEqual([
      ['2026-03-02', 2, 3, 1],
      ['2026-03-03', 1, 1, 0],
    ]);
    expect(await lines('by=day&shift=night')).toEqual([['2026-03-02', 1, 2, 1]]);
  });

  it('outside any shift count as none, on the calendar day', async () => {
    waitUntil('2026-03-07T12:00:00Z');
    await complete('C-2', passing);
    expect(await lines('by=shift&cell=C-2')).toEqual([['none', 1, 1, 0]]);
    expect(await lines('by=day&shift=none')).toEqual([['2026-03-07', 1, 1, 0]]);
  });

  it('stay counted as they were when another calendar comes', async () => {
    const before = await lines('by=shift');
    await record(plant, { code: 'TWO-SHIFT', shifts: twoShifts });
    expect(await lines('by=shift')).toEqual(before);
    waitUntil('2026-03-09T12:00:00Z');
    await complete('C-3', passing);
    expect(await lines('by=shift&cell=C-3')).toEqual([['day', 1, 1, 0]]);
  });

  it('that are told late count by the calendar of their time', async () => {
    await complete('C-4', passing, '2026-03-06T12:00:00Z');
    expect(await lines('by=shift&cell=C-4')).toEqual([['early', 1, 1, 0]]);
    expect(await lines('by=day&cell=C-4')).toEqual([['2026-03-06', 1, 1, 0]]);
  });

  it('may be without shifts again, by a calendar that has none', async () => {
    await record(plant, { code: 'NO-SHIFTS', shifts: [] });
    plant.wait(HOUR);
    await complete('C-5', passing);
    expect(await lines('by=shift&cell=C-5')).toEqual([['none', 1, 1, 0]]);
  });

  it('and all of that follows from the events again', () => {
    expect(verifyDatabase(join(plant.folder, 'skeg.db')).findings).toEqual([]);
  });

  it('keep the calendar’s time zone where the service is started with another', async () => {
    const other = await TestPlant.start(undefined, { timeZone: 'UTC' });
    await furnish(other);
    await record(other, { code: 'THREE-SHIFT', shifts: threeShifts });
    await other.service.stop();
    const moved = await TestPlant.start(other.folder, { timeZone: 'America/New_York' });
    for (const [role, token] of other.tokens) moved.tokens.set(role, token);
    const { body } = await moved.get('read', '/v1/shift-calendars/at?at=2026-03-03T01:00:00Z');
    expect(body).toMatchObject({ timeZone: 'UTC', day: '2026-03-02', shift: { code: 'night' } });
    await moved.stop();
  });
});
