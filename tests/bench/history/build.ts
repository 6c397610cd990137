import { createHash } from 'node:crypto';
import { existsSync, readdirSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { Presets, SingleBar } from 'cli-progress';
import { databaseFile } from '../../../src/config.js';
import { packageFile } from '../../../src/package-root.js';
import { connectPlant } from '../../../src/plant.js';
import { seriesRecords } from '../../../src/series/records.js';
import { readMigrations } from '../../../src/store/migrate.js';
import { yieldRecords } from '../../../src/yield/records.js';
import { benchFolder } from '../support/folder.js';
import { PreparedPlant } from '../support/plant.js';
import type { Builder, Finished } from './builder.js';
import { stripIndexes } from './bulk.js';
import { readCatalogue } from './catalogue.js';
import { BulkJournal, KEY } from './journal.js';
import { MOTORS_A_TRUCK, MOTORS_AN_ORDER, motorSerial, writeMotor } from './motor.js';
import { bulkTables, type Tables } from './tables.js';

/** Raised when the rows that are built change, so that an older file is not used again. */
const BUILD = 3;
/** Ten years of production end before the benchmark's own day. */
const FROM = Date.UTC(2015, 0, 1);
const YEARS_MS = 10 * 365 * 24 * 60 * 60 * 1000;
const MOTORS_A_TRANSACTION = 5000;
const CACHE_KIB = 1024 * 1024;
/** Files up to this size have every reference checked; beyond it that takes minutes. */
const MOTORS_CHECKED = 100_000;

/** A data folder with a file of so many motors; built where it is not there already. */
export async function plantOfMotors(motors: number): Promise<string> {
  const name = `motors-${motors}-${version()}`;
  const folder = join(benchFolder(), name);
  if (existsSync(databaseFile(folder))) return folder;
  discardOthers(`motors-${motors}-`);
  const building = benchFolder(`building-${name}`);
  await build(databaseFile(building), motors);
  renameSync(building, folder);
  return folder;
}

/** The serial of a motor of such a file by its index from 0. */
export function serialIn(motors: number, index: number): string {
  return motorSerial(index, new Date(timeOf(motors, index)).getUTCFullYear());
}

function timeOf(motors: number, index: number): number {
  return FROM + Math.floor((index / motors) * YEARS_MS);
}

function version(): string {
  const sums = readMigrations(packageFile('migrations')).map((one) => one.checksum);
  return createHash('sha256')
    .update(`${BUILD} ${sums.join(' ')}`)
    .digest('hex')
    .slice(0, 8);
}

function discardOthers(prefix: string): void {
  const found = readdirSync(benchFolder()).filter(
    (name) => name.startsWith(prefix) || name.startsWith(`building-${prefix}`),
  );
  for (const name of found) rmSync(join(benchFolder(), name), { recursive: true, force: true });
}

/**
 * Furnishes the file through the service's actions, then writes the motors straight into
 * the tables: unsynchronised, in large transactions, indexes and triggers last.
 */
async function build(path: string, motors: number): Promise<void> {
  const plant = new PreparedPlant(path);
  await plant.furnish();
  plant.close();
  const db = new BetterSqlite3(path);
  try {
    db.pragma('foreign_keys = OFF');
    // Without any journal would be faster still, but better-sqlite3 refuses that.
    db.pragma('journal_mode = MEMORY');
    db.pragma('synchronous = OFF');
    db.pragma(`cache_size = -${CACHE_KIB}`);
    db.pragma('temp_store = MEMORY');
    await fill(db, motors);
    if (motors <= MOTORS_CHECKED) assertSound(db);
  } finally {
    db.close();
  }
}

/** A builder that names a row which is not there would measure something else. */
function assertSound(db: Database): void {
  const broken = db.pragma('foreign_key_check') as { table: string }[];
  if (broken.length > 0)
    throw new Error(`the built file has broken references in ${broken[0]?.table}`);
}

async function fill(db: Database, motors: number): Promise<void> {
  const { journal } = connectPlant(db);
  const last = journal.last();
  const catalogue = readCatalogue(db);
  const restore = stripIndexes(db);
  const tables = bulkTables(db);
  const builder: Builder = {
    tables,
    journal: new BulkJournal(tables, last?.seq ?? 0, last?.hash),
    catalogue,
    counts: new Map(),
    series: seriesRecords(db),
    recent: [],
    runs: 0,
    repairs: 0,
  };
  const bar = new SingleBar(
    {
      format: '  {bar} {percentage}% | {value} of {total} motors | {duration} s',
      noTTYOutput: true,
      notTTYSchedule: 20_000,
    },
    Presets.shades_classic,
  );
  bar.start(motors, 0);
  const truck: Finished[] = [];
  for (let from = 0; from < motors; from += MOTORS_A_TRANSACTION) {
    const until = Math.min(from + MOTORS_A_TRANSACTION, motors);
    db.exec('BEGIN');
    for (let index = from; index < until; index += 1) writeOne(builder, motors, index, truck);
    db.exec('COMMIT');
    bar.update(until);
    // The bar is drawn by a timer, which wants its turn.
    await nextTurn();
  }
  db.exec('BEGIN');
  finish(db, builder, motors);
  db.exec('COMMIT');
  bar.stop();
  console.log('  indexing');
  restore();
  db.pragma('analysis_limit = 1000');
  db.exec('ANALYZE');
}

function writeOne(builder: Builder, motors: number, index: number, truck: Finished[]): void {
  const atMs = timeOf(motors, index);
  const released = index < motors - (motors % MOTORS_A_TRUCK);
  truck.push(writeMotor(builder, index, atMs, released));
  if (index % MOTORS_AN_ORDER === 0) writeOrder(builder, motors, index, atMs);
  if (truck.length === MOTORS_A_TRUCK) releaseAll(builder, truck.splice(0), atMs);
}

function writeOrder(builder: Builder, motors: number, index: number, atMs: number): void {
  const id = Math.floor(index / MOTORS_AN_ORDER) + 1;
  const quantity = Math.min(MOTORS_AN_ORDER, motors - index);
  const { modelId } = builder.catalogue;
  const dueOn = new Date(atMs).toISOString().slice(0, 10);
  builder.tables.orders.add(id, `O-${id}`, modelId, quantity, quantity, dueOn, 5, 'open', atMs);
}

function releaseAll({ tables, journal }: Builder, motors: Finished[], setAtMs: number): void {
  const atMs = setAtMs + 24 * 60 * 60 * 1000;
  for (const { motorId, runId } of motors) tables.releases.add(motorId, runId, KEY, atMs);
  const units = motors.map((one) => one.motorId);
  journal.add('motor.released', { motors }, { units, atMs, station: 'SHIPPING-1' });
}

function finish(db: Database, builder: Builder, motors: number): void {
  const { tables, counts } = builder;
  const { count } = yieldRecords(db);
  for (const line of counts.values()) count(line.key, line.counts);
  flushAll(tables);
  const { specificationId } = builder.catalogue;
  for (const { runId } of builder.recent) builder.series.append(specificationId, runId);
  db.prepare('UPDATE serial_sequence SET next = ?').run(motors + 1);
}

function flushAll(tables: Tables): void {
  for (const table of Object.values(tables)) table.flush();
}
