import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, passing, setMotor } from '../support/scenario.js';

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
