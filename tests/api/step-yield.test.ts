import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { TestPlant } from '../support/plant.js';
import {
  enter,
  furnish,
  openRun,
  order,
  passing,
  refused,
  unitDraft,
} from '../support/scenario.js';
import { waitUntil } from '../support/shipped.js';

type Line = Record<string, unknown>;

const only = (lines: readonly Line[], ...names: string[]) =>
  lines.map((line) => names.map((name) => line[name]));

const inspect = (plant: TestPlant, unit: string, result: string, station?: string) =>
  plant.make('quality', '/v1/inspections', {
    ...{ class: 'lower-unit', unit, result },
    ...(station === undefined ? {} : { station }),
  });

/** A set that must be refused. */
async function refuse(
  plant: TestPlant,
  scans: { powerhead: string; lowerUnit: string },
  station: string,
  slug: string,
  more: object = {},
): Promise<void> {
  const answer = await plant.post('set', '/v1/sets', { ...scans, station, ...more });
  expect(answer.body.type).toBe(`/problems/${slug}`);
}

/**
 * What is counted, on 2 March 2026 but for the last two:
 *
 * | step                 | place | first attempts                        | later          |
 * | -------------------- | ----- | ------------------------------------- | -------------- |
 * | build record         | PH-1  | 3 accepted, 1 rejected                |                |
 * | paint inspection     | PAINT | 2 accepted, 1 rejected                | 1 rejected     |
 * | paint inspection     | none  |                                       | 1 accepted     |
 * | receiving inspection | none  | 1 accepted                            |                |
 * | set                  | SET-1 | 1 set; serial-unknown, wrong-class    |                |
 * | set                  | SET-2 | not-accepted                          |                |
 * | set, 3 March         | SET-2 | 1 set; serial-unknown                 |                |
 * | test, 3 March        |       | 1 pass; 1 fail on two characteristics |                |
 */
describe('yields of the steps', () => {
  let plant: TestPlant;
  let rejectedPowerhead = '';
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 5);
    const at = (station: string) => ({ station });
    const pump = await enter(plant, 'fuel-pump');
    const ph = [
      await enter(plant, 'powerhead', {
        ...at('PH-1'),
        components: [{ class: 'fuel-pump', serial: pump }],
      }),
      await enter(plant, 'powerhead', at('PH-1')),
      await enter(plant, 'powerhead', at('PH-1')),
    ];
    const rejected = { inspection: { result: 'rejected' } };
    rejectedPowerhead = await enter(plant, 'powerhead', { ...at('PH-1'), ...rejected });
    const lu = [
      await enter(plant, 'lower-unit', at('PAINT')),
      await enter(plant, 'lower-unit', at('PAINT')),
      await enter(plant, 'lower-unit', { ...at('PAINT'), ...rejected }),
    ];
    plant.wait(1000);
    await inspect(plant, lu[2] ?? '', 'rejected', 'PAINT');
    plant.wait(1000);
    await inspect(plant, lu[2] ?? '', 'accepted');

    const pair = (i: number) => ({ powerhead: ph[i] ?? '', lowerUnit: lu[i] ?? '' });
    const set = async (i: number, station: string) =>
      (await plant.make<{ motor: string }>('set', '/v1/sets', { ...pair(i), station })).motor;
    const first = await set(0, 'SET-1');
    await refuse(plant, { ...pair(1), powerhead: 'P99999' }, 'SET-1', 'serial-unknown');
    await refuse(plant, { ...pair(1), powerhead: lu[1] ?? '' }, 'SET-1', 'wrong-class');
    await refuse(plant, { ...pair(1), powerhead: rejectedPowerhead }, 'SET-2', 'not-accepted');
    waitUntil(plant, '2026-03-03T08:00:00Z');
    const second = await set(1, 'SET-2');
    await refuse(plant, { ...pair(2), lowerUnit: 'L99999' }, 'SET-2', 'serial-unknown');

    const complete = async (motor: string, readings: readonly object[]) =>
      plant.make('cell', `/v1/runs/${await openRun(plant, motor)}/completion`, { readings });
    await complete(first, passing);
    await complete(second, [
      { code: 'idle-speed', value: 900 },
      { code: 'water-pressure', value: 20 },
      { code: 'telltale', value: true },
    ]);
  });
  afterAll(() => plant.stop());

  const ask = async (address: string): Promise<Line[]> =>
    (await plant.get('read', `/v1/yield/${address}`)).body.items;
  const opened = async ({ link }: Line): Promise<Line[]> =>
    (await plant.get('read', String(link))).body.items;

  it('are by step, first attempts apart from later inspections', async () => {
    const names = ['step', 'slice', 'attempts', 'passes', 'firstPassYield', 'later', 'laterPasses'];
    expect(only(await ask('steps'), ...names)).toEqual([
      ['build record', null, 4, 3, 0.75, 0, 0],
      ['paint inspection', null, 3, 2, 2 / 3, 2, 1],
      ['receiving inspection', null, 1, 1, 1, 0, 0],
      ['set', null, 6, 2, 2 / 6, 0, 0],
    ]);
  });

  it('come with their Wilson interval', async () => {
    const lines = await ask('steps?step=build record');
    // 3 of 4, z = 1.959964: (3 + z²/2 ± z·√(3/4 + z²/4)) / (4 + z²).
    expect(lines).toHaveLength(1);
    expect(lines[0]?.lower).toBeCloseTo(0.3006418, 6);
    expect(lines[0]?.upper).toBeCloseTo(0.9544127, 6);
  });

  it('are by station and by day', async () => {
    const names = ['step', 'slice', 'attempts', 'passes', 'later'];
    expect(only(await ask('steps?by=station'), ...names)).toEqual([
      ['build record', 'PH-1', 4, 3, 0],
      ['paint inspection', null, 0, 0, 1],
      ['paint inspection', 'PAINT', 3, 2, 1],
      ['receiving inspection', null, 1, 1, 0],
      ['set', 'SET-1', 3, 1, 0],
      ['set', 'SET-2', 3, 1, 0],
    ]);
    expect(only(await ask('steps?by=day&step=set'), ...names)).toEqual([
      ['set', '2026-03-02', 4, 1, 0],
      ['set', '2026-03-03', 2, 1, 0],
    ]);
    expect(only(await ask('steps?step=set&station=SET-2&untilDay=2026-03-02'), ...names)).toEqual([
      ['set', null, 1, 0, 0],
    ]);
    expect(only(await ask('steps?fromDay=2026-03-03&untilDay=2026-03-31'), ...names)).toEqual([
      ['set', null, 2, 1, 0],
    ]);
  });

  it('have no yield where nothing was inspected for the first time', async () => {
    const [line] = await ask('steps?by=station&step=paint inspection');
    const none = { firstPassYield: null, lower: null, upper: null, link: null };
    expect(line).toMatchObject({ slice: null, attempts: 0, later: 1, ...none });
  });

  it.each(['steps', 'steps?by=station', 'steps?by=day', 'steps?station=SET-1&step=set'])(
    '%s leads to what it counts',
    async (address) => {
      const lines = (await ask(address)).filter((one) => one.link !== null);
      expect(lines.length).toBeGreaterThan(0);
      for (const line of lines) {
        const found = await opened(line);
        expect(found).toHaveLength(Number(line.attempts) + Number(line.later));
        const passed = found.filter((one) => one.outcome === 'set' || one.result === 'accepted');
        expect(passed).toHaveLength(Number(line.passes) + Number(line.laterPasses));
      }
    },
  );

  it('say why sets were refused, largest first', async () => {
    const lines = await ask('refused-sets');
    expect(only(lines, 'category', 'refusals', 'share', 'cumulativeShare', 'rank')).toEqual([
      ['serial-unknown', 2, 0.5, 0.5, 1],
      ['not-accepted', 1, 0.25, 1, 2],
      ['wrong-class', 1, 0.25, 1, 2],
    ]);
    for (const line of lines) {
      const attempts = await opened(line);
      expect(attempts.map((one) => one.outcome)).toEqual(
        Array(Number(line.refusals)).fill(line.category),
      );
    }
  });

  it('say where sets were refused, and lead to why', async () => {
    const lines = await ask('refused-sets?by=station&untilDay=2026-03-02');
    expect(only(lines, 'category', 'refusals', 'share')).toEqual([
      ['SET-1', 2, 2 / 3],
      ['SET-2', 1, 1 / 3],
    ]);
    expect(only(await opened(lines[0] as Line), 'category', 'refusals')).toEqual([
      ['serial-unknown', 1],
      ['wrong-class', 1],
    ]);
    const unknown = await ask('refused-sets?by=station&reason=serial-unknown');
    expect(only(unknown, 'category', 'refusals')).toEqual([
      ['SET-1', 1],
      ['SET-2', 1],
    ]);
    const [there] = await ask('refused-sets?station=SET-2&fromDay=2026-03-03');
    expect(there).toMatchObject({ category: 'serial-unknown', refusals: 1 });
    expect(await opened(there as Line)).toMatchObject([{ station: 'SET-2' }]);
  });

  it('roll into one over inspections, set and first test', async () => {
    const lines = await ask('rolled-throughput');
    expect(only(lines, 'step', 'attempts', 'passes', 'stepYield', 'defects')).toEqual([
      ['build record', 4, 3, 0.75, 1],
      ['paint inspection', 3, 2, 2 / 3, 1],
      ['receiving inspection', 1, 1, 1, 0],
      ['set', 6, 2, 2 / 6, 4],
      ['first-pass test', 2, 1, 0.5, 2],
    ]);
    const last = lines.at(-1);
    // 3/4 · 2/3 · 1 · 1/3 · 1/2 = 1/12.
    expect(last?.rolledThroughputYield).toBeCloseTo(1 / 12, 15);
    // 1/4 + 1/3 + 0 + 4/6 + 2/2 = 2.25 defects a unit, and e^-2.25 = 0.1053992246.
    expect(last?.rolledDefectsPerUnit).toBeCloseTo(2.25, 15);
    expect(last?.poissonYield).toBeCloseTo(0.1053992246, 10);
    expect(lines[1]).toMatchObject({ rolledThroughputYield: 0.5, defectsPerUnit: 1 / 3 });
    const bySteps = await Promise.all(lines.map(opened));
    expect(bySteps.slice(0, 4).map((one) => one[0]?.step)).toEqual(
      lines.slice(0, 4).map((one) => one.step),
    );
    expect(bySteps[4]).toHaveLength(2);
  });

  it('roll over what a short window has, each step on its own day', async () => {
    const lines = await ask('rolled-throughput?fromDay=2026-03-03&untilDay=2026-03-03');
    expect(only(lines, 'step', 'attempts', 'rolledThroughputYield')).toEqual([
      ['set', 2, 0.5],
      ['first-pass test', 2, 0.25],
    ]);
    expect(await ask('rolled-throughput?untilDay=2026-03-01&fromDay=2026-03-01')).toEqual([]);
  });

  it('show the units of a step, first inspections apart, page by page', async () => {
    const paint = '/v1/yield/inspected-units?step=paint inspection';
    const items = async (query: string) => (await plant.get('read', paint + query)).body.items;
    expect(only(await items(''), 'first', 'result', 'station')).toEqual([
      [true, 'accepted', 'PAINT'],
      [true, 'accepted', 'PAINT'],
      [true, 'rejected', 'PAINT'],
      [false, 'rejected', 'PAINT'],
      [false, 'accepted', null],
    ]);
    expect(await items('&first=true')).toHaveLength(3);
    expect(await items('&first=false&result=accepted')).toHaveLength(1);
    expect(await items('&station=PAINT&result=rejected')).toHaveLength(2);
    expect(await items('&fromDay=2026-03-03')).toEqual([]);
    const page = await plant.get('read', `${paint}&limit=4`);
    expect((await plant.get('read', page.body.next)).body.items).toHaveLength(1);
    const [built] = await ask('inspected-units?step=build record&result=rejected');
    expect(built).toMatchObject({ class: 'powerhead', unit: rejectedPowerhead, first: true });
    const { body } = await plant.get('read', String(built?.link));
    expect(body.unit).toMatchObject({ serial: rejectedPowerhead, state: 'rejected' });
  });

  it.each([
    ['steps', 'step,slice,attempts,passes,firstPassYield,lower,upper,later,laterPasses,link'],
    ['refused-sets', 'category,refusals,share,cumulativeShare,rank,link'],
    [
      'rolled-throughput',
      'step,attempts,passes,stepYield,lower,upper,defects,defectsPerUnit,rolledThroughputYield,rolledDefectsPerUnit,poissonYield,link',
    ],
    ['inspected-units?step=set', 'class,unit,result,first,station,at,link'],
  ])('%s is to be had as CSV', async (address, header) => {
    const headers = { Accept: 'text/csv' };
    const csv = await plant.get('read', `/v1/yield/${address}`, { headers });
    expect(csv.text.split('\r\n')[0]).toBe(header);
  });

  it.each([
    'steps?by=model',
    'steps?fromDay=2026-13-01',
    'refused-sets?by=shift',
    'rolled-throughput?model=F100L',
    'inspected-units?first=perhaps',
    'inspected-units?step=set&result=good',
    'inspected-units?step=set&after=nonsense',
  ])('refuse %s', async (address) => {
    await refused(plant, 'request-invalid', () => plant.get('read', `/v1/yield/${address}`));
  });

  it('count a repeated request once', async () => {
    const before = await ask('steps?step=build record');
    const headers = { 'Idempotency-Key': 'twice' };
    const body = unitDraft('powerhead', { station: 'PH-1' });
    for (let n = 0; n < 2; n += 1) await plant.post('set', '/v1/units', body, { headers });
    const after = await ask('steps?step=build record');
    expect(Number(after[0]?.attempts) - Number(before[0]?.attempts)).toBe(1);
  });

  it('follow from the journal', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });

  it('are the same where they were recorded before the table that keeps them', async () => {
    const { db, kept } = await migratedAgain(plant, '');
    expect(kept.length).toBeGreaterThan(6);
    expect(rowsOf(db)).toEqual(kept);
    db.close();
  });
});

const migration = readFileSync(packageFile('migrations', '0006_steps.sql'), 'utf8');

const rowsOf = (db: Database) =>
  db.prepare<[], Line>('SELECT * FROM step_daily ORDER BY day, step, place').all();

/** A copy of the file as it was before the steps were counted, to which the migration is applied. */
async function migratedAgain(
  plant: TestPlant,
  change: string,
): Promise<{ db: Database; kept: Line[] }> {
  const file = join(plant.folder, 'before.db');
  const source = new BetterSqlite3(plant.service.store.path, { readonly: true });
  await source.backup(file);
  source.close();
  const db = new BetterSqlite3(file);
  const kept = rowsOf(db);
  db.exec(`DROP TRIGGER events_are_never_changed;
    ${change};
    DROP TABLE step_daily;
    DROP INDEX set_attempts_refused;
    DROP INDEX repairs_by_opening;`);
  db.exec(migration);
  return { db, kept };
}

describe('the day on which a step counts', () => {
  let plant: TestPlant;
  let unit = '';
  beforeAll(async () => {
    plant = await TestPlant.start(undefined, { timeZone: 'America/New_York' });
    await furnish(plant);
    unit = await enter(plant, 'lower-unit');
  });
  afterAll(() => plant.stop());

  const lines = async (query: string): Promise<Line[]> =>
    (await plant.get('read', `/v1/yield/steps?by=day&${query}`)).body.items;
  const attempt = (more: object = {}) =>
    refuse(plant, { powerhead: 'P99999', lowerUnit: unit }, 'SET-1', 'serial-unknown', more);

  it('is the plant’s, where UTC has begun the next', async () => {
    // 21:30 on 2 March in New York, then 23:59 on 1 March.
    waitUntil(plant, '2026-03-03T02:30:00Z');
    await attempt();
    await attempt({ occurredAt: '2026-03-02T04:59:00Z' });
    const found = await lines('step=set');
    expect(only(found, 'slice', 'attempts')).toEqual([
      ['2026-03-01', 1],
      ['2026-03-02', 1],
    ]);
    for (const line of found) {
      expect((await plant.get('read', String(line.link))).body.items).toHaveLength(1);
    }
  });

  it('is that on which a night shift began', async () => {
    const night = { code: 'N', name: 'Night', starts: '22:00', ends: '06:00' };
    await plant.make('configuration', '/v1/shift-calendars', {
      code: 'NIGHTS',
      shifts: [{ ...night, weekdays: [1, 2, 3, 4, 5, 6, 7] }],
    });
    // 05:59 and 06:00 on 5 March in New York: the night of 4 March, and then the day.
    waitUntil(plant, '2026-03-05T10:59:00Z');
    await attempt();
    waitUntil(plant, '2026-03-05T11:00:00Z');
    await attempt();
    await inspect(plant, unit, 'rejected');
    const found = await lines('fromDay=2026-03-04');
    expect(only(found, 'step', 'slice', 'attempts', 'later')).toEqual([
      ['paint inspection', '2026-03-05', 0, 1],
      ['set', '2026-03-04', 1, 0],
      ['set', '2026-03-05', 1, 0],
    ]);
    for (const line of found) {
      expect((await plant.get('read', String(line.link))).body.items).toHaveLength(1);
    }
    const { body } = await plant.get('read', '/v1/yield/refused-sets?untilDay=2026-03-04');
    // Two in New York's first days, and that of the night shift.
    expect(body.items).toMatchObject([{ category: 'serial-unknown', refusals: 3 }]);
  });

  it('is the UTC date of events that state no day, in the migration as in their appliers', async () => {
    const undated = "UPDATE events SET content = json_remove(content, '$.day')";
    const { db, kept } = await migratedAgain(plant, undated);
    const sets = (rows: Line[]) =>
      only(
        rows.filter((one) => one.step === 'set'),
        'day',
        'attempts',
      );
    expect(sets(kept)).toEqual([
      ['2026-03-01', 1],
      ['2026-03-02', 1],
      ['2026-03-04', 1],
      ['2026-03-05', 1],
    ]);
    // 04:59 UTC on 2 March, 02:30 on 3 March, 10:59 and 11:00 on 5 March.
    expect(sets(rowsOf(db))).toEqual([
      ['2026-03-02', 1],
      ['2026-03-03', 1],
      ['2026-03-05', 2],
    ]);
    // The changed events themselves show; the tables follow from them as migrated.
    const { findings } = verifyDatabase(db.name);
    expect(findings.filter((one) => one.table !== undefined)).toEqual([]);
    db.close();
  });

  it('follows from the journal', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
