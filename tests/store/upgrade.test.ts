import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addKey } from '../../src/access/actions.js';
import { databaseFile } from '../../src/config.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { migrate, readMigrations } from '../../src/store/migrate.js';
import { closeWriter, openWriter } from '../../src/store/open.js';
import { TestPlant } from '../support/plant.js';
import { Program } from '../support/program.js';
import { passing, unitDraft } from '../support/scenario.js';
import { dumpOf } from './past/dump.js';
import { live } from './past/life.js';

/**
 * `tests/store/past` keeps a small database as each past program left it, `0003.sql.gz` for
 * the one whose newest migration was the third. Every one that lies there is upgraded here.
 *
 * When a migration is released, keep the database of the program it came with:
 *
 *     SKEG_PAST=7 npx vitest run tests/store/upgrade.test.ts
 *
 * writes `0007.sql.gz` from this very tree, so while the seventh is the newest migration.
 * Once written it is never written again: it is what is out there.
 */
const past = packageFile('tests', 'store', 'past');
const wanted = process.env.SKEG_PAST;

const migrationsFolder = packageFile('migrations');
const DAY_MS = 24 * 60 * 60 * 1000;
/** The migration that brought containments. */
const CONTAINMENT_MIGRATION = 2;

let root: string;
beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'skeg-past-'));
  if (wanted !== undefined) await keep(Number(wanted));
});
afterAll(() => rmSync(root, { recursive: true, force: true }));

const dumpFile = (number: number) => join(past, `${String(number).padStart(4, '0')}.sql.gz`);

/** Writes the database of a program with so many migrations, made by this one. */
async function keep(number: number): Promise<void> {
  if (existsSync(dumpFile(number))) throw new Error(`${dumpFile(number)} is there already`);
  const plant = await TestPlant.start();
  await live(plant, number);
  const rows = new BetterSqlite3(plant.service.store.path, { readonly: true });
  const schema = new BetterSqlite3(join(root, 'schema.db'));
  migrate(schema, firstMigrations(number));
  const dump = dumpOf(schema, rows, { migrations: `number <= ${number}` });
  writeFileSync(dumpFile(number), gzipSync(dump, { level: 9 }));
  for (const db of [rows, schema]) db.close();
  await plant.stop();
}

/** A folder with the first so many migrations only. */
function firstMigrations(count: number): string {
  const folder = join(root, `first-${count}`);
  mkdirSync(folder);
  for (const { name } of readMigrations(migrationsFolder).slice(0, count)) {
    copyFileSync(join(migrationsFolder, name), join(folder, name));
  }
  return folder;
}

const kept = readdirSync(past)
  .flatMap((file) => /^(\d{4})\.sql\.gz$/.exec(file)?.[1] ?? [])
  .map(Number)
  .sort((a, b) => a - b);

/** A data folder with the database of a past program, as that left it. */
function dataOf(number: number): string {
  const data = mkdtempSync(join(root, 'data-'));
  const db = new BetterSqlite3(databaseFile(data));
  db.pragma('journal_mode = WAL');
  db.pragma('foreign_keys = OFF');
  const fill = db.transaction(() => db.exec(gunzipSync(readFileSync(dumpFile(number))).toString()));
  fill();
  db.close();
  return data;
}

/** What there is in a database and how it is made, without how the SQL that made it was written. */
function shapeOf(db: Database): unknown {
  const things = db
    .prepare<[], { type: string; name: string }>(
      `SELECT type, name, tbl_name FROM sqlite_schema
       WHERE name NOT LIKE 'sqlite_stat%' ORDER BY type, name`,
    )
    .all();
  return things.map((thing) => ({
    ...thing,
    columns: thing.type === 'table' ? db.pragma(`table_xinfo(${thing.name})`) : null,
  }));
}

function freshShape(): unknown {
  const db = openWriter(join(mkdtempSync(join(root, 'fresh-')), 'skeg.db'), migrationsFolder);
  const shape = shapeOf(db);
  closeWriter(db);
  return shape;
}

/** Gives the plant's roles keys of this program, in place of those whose secrets nobody has. */
async function newKeys(plant: TestPlant): Promise<void> {
  for (const role of ['set', 'cell', 'quality', 'configuration', 'read'] as const) {
    const draft = { name: `${role} after the upgrade`, roles: [role] };
    const token = await plant.service.store.command(
      (records) => addKey(records, draft, plant.now).token,
    );
    plant.tokens.set(role, token);
  }
}

describe('a database of a past program', () => {
  it('is kept for each migration, that of the newest once it is released', () => {
    const { length } = readMigrations(migrationsFolder);
    const all = Array.from({ length }, (_, i) => i + 1);
    expect([all, all.slice(0, -1)]).toContainEqual(kept);
  });

  it.each(kept)(
    'of migration %i is upgraded, verifies, tells its histories and goes on',
    async (number) => {
      const data = dataOf(number);
      const before = new BetterSqlite3(databaseFile(data), { readonly: true });
      expect(before.prepare('SELECT MAX(number) FROM migrations').pluck().get()).toBe(number);
      const motors = before
        .prepare<[], { serial: string; state: string; events: number }>(
          `SELECT u.serial, u.state, COUNT(*) AS events
         FROM units u JOIN event_units e ON e.unit_id = u.id
         WHERE u.class = 'motor' GROUP BY u.id`,
        )
        .all();
      const reasonsThen = number < CONTAINMENT_MIGRATION ? [] : keptReasons(before);
      before.close();
      expect(motors.map((one) => one.state)).toEqual(
        expect.arrayContaining(['released', 'scrapped', 'torn-down', 'in-test']),
      );

      const plant = await TestPlant.start(data);
      try {
        plant.wait(30 * DAY_MS);
        await newKeys(plant);
        const db = new BetterSqlite3(plant.service.store.path, { readonly: true });
        expect(shapeOf(db)).toEqual(freshShape());
        db.close();
        expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
        for (const { serial, state, events } of motors) {
          const { body } = await plant.get('read', `/v1/history?serial=${serial}`);
          expect(body.unit).toMatchObject({ serial, state });
          expect(body.timeline.length).toBeGreaterThanOrEqual(events);
        }
        expect(await reasonsNow(plant)).toEqual(reasonsThen);
        expect(await madeNow(plant)).toBe('pass');
        expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
      } finally {
        await plant.stop();
      }
    },
  );

  /** Why each contained unit was picked, as a past program kept it: in words. */
  function keptReasons(db: Database): string[][] {
    const found = db
      .prepare<[], string>('SELECT reasons FROM contained_units ORDER BY containment_id, unit_id')
      .pluck()
      .all()
      .map((text) => JSON.parse(text) as string[]);
    expect(found.flat()).not.toEqual([]);
    return found;
  }

  async function reasonsNow(plant: TestPlant): Promise<string[][]> {
    const { body } = await plant.get('read', '/v1/containments');
    const found: string[][] = [];
    for (const { id } of body.items) {
      const units = await plant.get('read', `/v1/containments/${id}/units`);
      found.push(...units.body.items.map((one: { reasons: string[] }) => one.reasons));
    }
    return found;
  }

  /** Sets and runs a motor from what the past catalogue says. */
  async function madeNow(plant: TestPlant): Promise<string> {
    const order = { number: 'NOW', model: 'F100L', quantity: 1, dueOn: '2026-05-01' };
    await plant.make('configuration', '/v1/orders', order);
    const powerhead = unitDraft('powerhead', { serial: 'NOW-P' });
    const lowerUnit = unitDraft('lower-unit', { serial: 'NOW-L' });
    for (const unit of [powerhead, lowerUnit]) await plant.make('set', '/v1/units', unit);
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', {
      ...{ powerhead: 'NOW-P', lowerUnit: 'NOW-L', order: 'NOW', station: 'SET-1' },
    });
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'NOW' });
    const run = await plant.make<{ verdict: string }>('cell', `/v1/runs/${id}/completion`, {
      readings: passing,
    });
    await plant.make('quality', '/v1/releases', { motors: [motor] });
    return run.verdict;
  }
});

describe('the program', () => {
  /** Starts on a database that was changed, and returns what it said as it ended. */
  async function refusal(change: (db: Database) => void): Promise<string> {
    const data = dataOf(kept.at(-1) ?? 0);
    const db = new BetterSqlite3(databaseFile(data));
    change(db);
    db.close();
    const file = readFileSync(databaseFile(data));
    const program = Program.serve(data);
    await expect(program.address()).rejects.toThrow('the service ended');
    expect(readFileSync(databaseFile(data)).equals(file)).toBe(true);
    return program.output;
  }

  it('refuses a database of a newer one in words, and leaves it as it was', async () => {
    const { length } = readMigrations(migrationsFolder);
    const said = await refusal((db) => {
      const add = db.prepare("INSERT OR IGNORE INTO migrations VALUES (?, ?, '')");
      const known = readMigrations(migrationsFolder);
      for (const { number, name, checksum } of known) {
        db.prepare('INSERT OR IGNORE INTO migrations VALUES (?, ?, ?)').run(number, name, checksum);
      }
      add.run(length + 1, 'later.sql');
    });
    expect(said).toMatch(
      new RegExp(`migration ${length + 1}, which this program does not know: .+ newer Skeg`),
    );
    expect(said).not.toMatch(/\n\s+at /);
  });

  it('refuses a database whose migration was another, and leaves it as it was', async () => {
    const said = await refusal((db) =>
      db.exec("UPDATE migrations SET checksum = 'another' WHERE number = 2"),
    );
    expect(said).toMatch(/0002_.+ was changed after it had been applied here/);
    expect(said).not.toMatch(/\n\s+at /);
  });
});
