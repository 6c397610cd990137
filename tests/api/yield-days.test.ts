import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  failing,
  furnish,
  openRun,
  passing,
  runMotor,
  setMotor,
} from '../support/scenario.js';

const timeZone = 'America/New_York';

describe('days of the plant in its own time zone', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone });
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  /** Completes the first run of a fresh motor at an instant, or states that it was then. */
  const completeAt = async (instant: string, cell: string, late = false) => {
    const { motor } = await setMotor(plant);
    const at = Date.parse(instant);
    const startedAt = new Date(at - 60_000).toISOString();
    if (!late) plant.wait(at - plant.now);
    const start = { motor, cell, ...(late ? { occurredAt: startedAt } : {}) };
    const run = await plant.make<{ id: number }>('cell', '/v1/runs', start);
    const occurredAt = late ? { occurredAt: instant } : {};
    const body = { readings: passing, ...occurredAt };
    await plant.make('cell', `/v1/runs/${run.id}/completion`, body);
  };
  const daysOf = async (query: string) => {
    const answer = await plant.get('read', `/v1/yield/first-pass?by=day&${query}`);
    return answer.body.items.map((one: { slice: string; firstRuns: number }) => [
      one.slice,
      one.firstRuns,
    ]);
  };
  const loopsOf = async (query: string) => {
    const answer = await plant.get('read', `/v1/yield/rework-loops?${query}`);
    return answer.body.items;
  };

  it('begin at midnight there: 05:00 UTC in winter', async () => {
    await completeAt('2026-03-03T04:59:59.999Z', 'C-1');
    await completeAt('2026-03-03T05:00:00.000Z', 'C-1');
    expect(await daysOf('cell=C-1')).toEqual([
      ['2026-03-02', 1],
      ['2026-03-03', 1],
    ]);
    expect(await loopsOf('untilDay=2026-03-02')).toEqual([{ loops: 0, motors: 1, passed: 1 }]);
    expect(await loopsOf('fromDay=2026-03-03&untilDay=2026-03-03')).toEqual([
      { loops: 0, motors: 1, passed: 1 },
    ]);
  });

  it('may have 23 hours: clocks go forward on 8 March 2026, and the next begins at 04:00 UTC', async () => {
    await completeAt('2026-03-08T04:59:59.999Z', 'C-2');
    await completeAt('2026-03-08T05:00:00.000Z', 'C-2');
    await completeAt('2026-03-09T03:59:59.999Z', 'C-2');
    await completeAt('2026-03-09T04:00:00.000Z', 'C-2');
    expect(await daysOf('cell=C-2')).toEqual([
      ['2026-03-07', 1],
      ['2026-03-08', 2],
      ['2026-03-09', 1],
    ]);
    expect(await loopsOf('fromDay=2026-03-08&untilDay=2026-03-08')).toEqual([
      { loops: 0, motors: 2, passed: 2 },
    ]);
  });

  it('are those on which a run ended, not on which that was recorded', async () => {
    await completeAt('2026-03-05T12:00:00.000Z', 'C-3', true);
    expect(await daysOf('cell=C-3')).toEqual([['2026-03-05', 1]]);
  });
});

interface Count {
  day: string;
  model: number;
  configuration: number;
  cell: string;
  station: string;
  firstRuns: number;
  firstPasses: number;
  completedRuns: number;
  passedRuns: number;
  abortedRuns: number;
}

describe('the daily roll-up', () => {
  it('equals a count over all runs, read from the file itself', async () => {
    const plant = await TestPlant.start(undefined, { timeZone });
    await furnish(plant);
    for (let n = 0; n < 12; n += 1) {
      const { motor } = await setMotor(plant);
      const run = await openRun(plant, motor, `C-${n % 2}`);
      plant.wait(3_600_000 * 3);
      if (n % 4 === 0) {
        await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
        await runMotor(plant, motor);
        continue;
      }
      if (n % 5 === 0) await plant.make('cell', `/v1/runs/${run}/resumption`, { cell: 'C-9' });
      const occurredAt = new Date(plant.now - 3_600_000 * n).toISOString();
      const body = { readings: n % 3 === 0 ? failing : passing, occurredAt };
      const { repair } = await plant.make<{ repair: number | null }>(
        'cell',
        `/v1/runs/${run}/completion`,
        body,
      );
      if (repair === null) continue;
      await closeRepair(plant, repair);
      await runMotor(plant, motor);
    }
    const db = new Database(join(plant.folder, 'skeg.db'), { readonly: true });
    const rolledUp = db
      .prepare<[], Count>(`
        SELECT day, model_id AS model, configuration_id AS configuration, cell, station,
               first_runs AS firstRuns, first_passes AS firstPasses,
               completed_runs AS completedRuns, passed_runs AS passedRuns,
               aborted_runs AS abortedRuns
        FROM yield_daily`)
      .all();
    const ended = db
      .prepare<[], Omit<Count, 'day'> & { endedAtMs: number }>(`
        SELECT r.ended_at_ms AS endedAtMs, u.model_id AS model,
               s.configuration_id AS configuration, r.cell, s.station,
               r.attempt IS 1 AS firstRuns, r.first_pass IS 1 AS firstPasses,
               r.state = 'completed' AS completedRuns, r.verdict IS 'pass' AS passedRuns,
               r.state = 'aborted' AS abortedRuns
        FROM runs r
        JOIN units u ON u.id = r.motor_id
        JOIN sets s ON s.motor_id = r.motor_id
        WHERE r.state <> 'open'`)
      .all();
    db.close();
    const byKey = (one: Count) =>
      [one.day, one.model, one.configuration, one.cell, one.station].join(' ');
    const full = new Map<string, Count>();
    for (const { endedAtMs, ...run } of ended) {
      // Canadian English writes a date as ISO 8601 does.
      const day = new Intl.DateTimeFormat('en-CA', { timeZone }).format(endedAtMs);
      const key = byKey({ day, ...run });
      const sum = full.get(key);
      if (!sum) {
        full.set(key, { day, ...run });
        continue;
      }
      sum.firstRuns += run.firstRuns;
      sum.firstPasses += run.firstPasses;
      sum.completedRuns += run.completedRuns;
      sum.passedRuns += run.passedRuns;
      sum.abortedRuns += run.abortedRuns;
    }
    expect(ended.length).toBeGreaterThan(12);
    expect(new Map(rolledUp.map((one) => [byKey(one), one]))).toEqual(full);
    await plant.stop();
  });
});
