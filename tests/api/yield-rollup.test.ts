import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { yieldFindings } from '../../src/journal/verify-yield.js';
import { packageFile } from '../../src/package-root.js';
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
const HOUR = 3_600_000;

interface Count {
  day: string;
  model: number;
  configuration: number;
  cell: string;
  station: string;
  firstRuns: number;
  firstPasses: number;
  finallyPassed: number;
  reworked: number;
  completedRuns: number;
  passedRuns: number;
  firstDefects: number;
  defects: number;
  abortedRuns: number;
}

/** Twelve motors over some days and two months, some aborted, some failed, some tested again. */
async function live(plant: TestPlant): Promise<void> {
  await furnish(plant);
  plant.wait(26 * 24 * HOUR);
  for (let n = 0; n < 12; n += 1) {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, `C-${n % 2}`);
    plant.wait(HOUR * 9);
    if (n % 4 === 0) {
      await plant.make('cell', `/v1/runs/${run}/abort`, { reason: 'No water' });
      await runMotor(plant, motor);
      continue;
    }
    if (n % 5 === 0) await plant.make('cell', `/v1/runs/${run}/resumption`, { cell: 'C-9' });
    const occurredAt = new Date(plant.now - HOUR * n).toISOString();
    const body = { readings: n % 3 === 0 ? failing : passing, occurredAt };
    const { repair } = await plant.make<{ repair: number | null }>(
      'cell',
      `/v1/runs/${run}/completion`,
      body,
    );
    if (n === 7) {
      await plant.make('quality', '/v1/retests', { motor, reason: 'Doubted' });
      await runMotor(plant, motor, failing);
    }
    if (repair === null) continue;
    await closeRepair(plant, repair);
    plant.wait(HOUR * 20);
    await runMotor(plant, motor, n === 6 ? failing : passing);
  }
}

describe('the roll-up', () => {
  let plant: TestPlant;
  let file: string;
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone });
    file = join(plant.folder, 'skeg.db');
    await live(plant);
  });
  afterAll(() => plant.stop());

  it('by day and every key equals a count over all runs, read from the file itself', () => {
    const db = new Database(file, { readonly: true });
    const rolledUp = db
      .prepare<[], Count>(`
        SELECT period AS day, model_id AS model, configuration_id AS configuration, cell, station,
               first_runs AS firstRuns, first_passes AS firstPasses,
               finally_passed AS finallyPassed, reworked, completed_runs AS completedRuns,
               passed_runs AS passedRuns, first_defects AS firstDefects, defects,
               aborted_runs AS abortedRuns
        FROM yield_counts
        WHERE grain = 0 AND grouping = 31`)
      .all();
    const ended = db
      .prepare<[], Omit<Count, 'day'> & { endedAtMs: number }>(`
        SELECT r.ended_at_ms AS endedAtMs, u.model_id AS model,
               s.configuration_id AS configuration, r.cell, s.station,
               r.attempt IS 1 AS firstRuns, r.first_pass IS 1 AS firstPasses,
               r.attempt IS 1 AND last.verdict IS 'pass' AS finallyPassed,
               r.first_pass IS 0 AND last.verdict IS 'pass' AS reworked,
               r.state = 'completed' AS completedRuns, r.verdict IS 'pass' AS passedRuns,
               (r.attempt IS 1) * COUNT(f.run_id) AS firstDefects, COUNT(f.run_id) AS defects,
               r.state = 'aborted' AS abortedRuns
        FROM runs r
        JOIN units u ON u.id = r.motor_id
        JOIN sets s ON s.motor_id = r.motor_id
        LEFT JOIN runs last ON last.motor_id = r.motor_id
          AND last.attempt = (SELECT MAX(attempt) FROM runs WHERE motor_id = r.motor_id)
        LEFT JOIN run_failures f ON f.run_id = r.id
        WHERE r.state <> 'open'
        GROUP BY r.id`)
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
      sum.finallyPassed += run.finallyPassed;
      sum.reworked += run.reworked;
      sum.completedRuns += run.completedRuns;
      sum.passedRuns += run.passedRuns;
      sum.firstDefects += run.firstDefects;
      sum.defects += run.defects;
      sum.abortedRuns += run.abortedRuns;
    }
    expect(ended.length).toBeGreaterThan(15);
    expect(new Map(rolledUp.map((one) => [byKey(one), one]))).toEqual(full);
    expect(rolledUp.some((one) => one.reworked > 0)).toBe(true);
  });

  it('follows from the events, and each grouping from the full cube', () => {
    expect(verifyDatabase(file).findings).toEqual([]);
  });

  /** What verify’s own count finds in a copy that was changed behind the service’s back. */
  const findingsAfter = async (name: string, change: (db: Database.Database) => void) => {
    const copy = join(plant.folder, `${name}.db`);
    const from = new Database(file, { readonly: true });
    await from.backup(copy);
    from.close();
    const db = new Database(copy);
    change(db);
    const findings = yieldFindings(db);
    db.close();
    return findings.map((one) => [one.table, one.detail.split(':')[0]]);
  };

  it.each([
    [
      'a grouping that tells more than the full cube',
      'UPDATE yield_counts SET completed_runs = completed_runs + 1 WHERE grain = 1 AND grouping = 4',
      ['yield_counts', 'grouping 4 of the roll-up differs from the full cube'],
    ],
    [
      'a missing row of a grouping',
      'DELETE FROM yield_counts WHERE grain = 0 AND grouping = 16',
      ['yield_counts', 'grouping 16 of the roll-up differs from the full cube'],
    ],
    [
      'a failure that is not counted',
      'DELETE FROM run_failures',
      ['yield_counts', 'the roll-up differs from a count over the runs'],
    ],
    [
      'an outcome that the runs do not tell',
      'UPDATE yield_motors SET finally_passed = 1 - finally_passed',
      ['yield_motors', 'a counted motor differs from its runs'],
    ],
    [
      'a motor on another day',
      "UPDATE yield_motors SET day = '2026-01-01'",
      ['yield_motors', 'the motors of a day differ from the roll-up'],
    ],
  ])('shows %s to verify', async (name, sql, expected) => {
    const found = await findingsAfter(name.replaceAll(' ', '-'), (db) => {
      expect(db.prepare(sql).run().changes).toBeGreaterThan(0);
    });
    expect(found).toContainEqual(expected);
  });

  it('is made by the migration from what was recorded before, as the events make it', () => {
    const copy = join(plant.folder, 'before.db');
    const source = new Database(file, { readonly: true });
    source.exec(`VACUUM INTO '${copy}'`);
    source.close();
    const db = new Database(copy);
    const everything = () => [
      db.prepare('SELECT * FROM yield_counts').all(),
      db.prepare('SELECT * FROM yield_motors').all(),
    ];
    const kept = everything();
    db.exec('DROP TABLE yield_counts; DROP TABLE yield_motors; DROP TABLE shift_calendars');
    const first = readFileSync(packageFile('migrations', '0001_plant.sql'), 'utf8');
    const daily = /CREATE TABLE yield_daily[^;]*;/.exec(first)?.[0] ?? '';
    db.exec(daily);
    // Events had no shift then.
    db.exec(`
      DROP TRIGGER events_are_never_changed;
      UPDATE events SET content = json_remove(content, '$.counted.shift')
      WHERE kind IN ('run.completed', 'run.aborted')`);
    db.exec(readFileSync(packageFile('migrations', '0005_yield.sql'), 'utf8'));
    expect(everything()).toEqual(kept);
    expect(kept[0]?.length).toBeGreaterThan(50);
    db.close();
  });
});
