import BetterSqlite3, { type Database } from 'better-sqlite3';
import type { Command } from '../../src/command.js';
import { databaseFile } from '../../src/config.js';
import { completeRun, postBatch, startRun } from '../../src/testing/actions.js';
import { inFreshFolder } from './support/folder.js';
import { PreparedPlant } from './support/plant.js';
import { type PostedReading, READINGS_A_RUN, readingsOf, repeatable } from './support/readings.js';
import { type Bench, type BenchOptions, type Finding, figure, note } from './support/report.js';

const GOAL_BYTES = 32;
const CELLS = 12;

/**
 * Loads runs through the service's own actions and weighs, page by page, what holds
 * readings: the readings as posted (reading_batches, all of it) and the values as judged
 * (runs.judged, its share of the pages of runs). Beside them, not in the goal: the rest of
 * a run's row with its indexes, which a run without a reading would have too; events and
 * their index, which hold a digest and the verdict but no reading; idempotency keys with
 * their stored answers, which are forgotten after a week.
 */
async function bytesPerReading(options: BenchOptions): Promise<Finding[]> {
  const runs = options.full ? 20_000 : 5000;
  const findings: Finding[] = [];
  for (const batches of [1, 4]) {
    options.say(`loading ${figure(runs)} runs of ${READINGS_A_RUN} readings in ${batches} batches`);
    const weighed = await inFreshFolder((folder) => loadAndWeigh(folder, runs, batches));
    findings.push(...findingsOf(weighed, runs * READINGS_A_RUN, batches));
  }
  return findings;
}

interface Weighed {
  posted: number;
  judged: number;
  restOfRuns: number;
  events: number;
  file: number;
  vacuumed: number;
}

async function loadAndWeigh(folder: string, runs: number, batches: number): Promise<Weighed> {
  const path = databaseFile(folder);
  const plant = new PreparedPlant(path);
  await plant.furnish();
  const motors = await plant.motors(runs, 'B');
  const random = repeatable(batches);
  await plant.times(runs, (command, i) =>
    testMotor(command, motors[i] ?? '', `CELL-${i % CELLS}`, readingsOf(random), batches),
  );
  plant.close();
  const db = new BetterSqlite3(path);
  try {
    const weighed = weigh(db);
    db.exec('VACUUM');
    const after = weigh(db);
    return { ...weighed, vacuumed: after.posted + after.judged };
  } finally {
    db.close();
  }
}

function testMotor(
  command: Command,
  motor: string,
  cell: string,
  readings: readonly PostedReading[],
  batches: number,
): void {
  const { id } = startRun(command, { motor, cell });
  const size = readings.length / batches;
  for (let sequence = 1; sequence <= batches; sequence += 1) {
    const part = readings.slice((sequence - 1) * size, sequence * size);
    postBatch(command, id, { sequence, readings: part });
  }
  completeRun(command, id, { batches, cellVerdict: 'pass' });
}

function weigh(db: Database): Omit<Weighed, 'vacuumed'> {
  const rows = db
    .prepare<[], { name: string; bytes: number; payload: number }>(
      'SELECT name, SUM(pgsize) AS bytes, SUM(payload) AS payload FROM dbstat GROUP BY name',
    )
    .all();
  const bytesOf = (test: (name: string) => boolean) =>
    rows.filter((row) => test(row.name)).reduce((sum, row) => sum + row.bytes, 0);
  const runsTable = rows.find((row) => row.name === 'runs');
  const blobs = db
    .prepare<[], { bytes: number }>('SELECT SUM(length(judged)) AS bytes FROM runs')
    .get();
  if (!runsTable || !blobs) throw new Error('there are no runs to weigh');
  // A page's overhead and free space are borne in proportion to what stands in it.
  const judged = (runsTable.bytes * blobs.bytes) / runsTable.payload;
  const runIndexes = bytesOf((name) => /^(runs?_|sqlite_autoindex_runs_)/.test(name));
  return {
    posted: bytesOf((name) => name === 'reading_batches'),
    judged,
    restOfRuns: runsTable.bytes - judged + runIndexes,
    events: bytesOf((name) => name === 'events' || name === 'event_units'),
    file: rows.reduce((sum, row) => sum + row.bytes, 0),
  };
}

function findingsOf(weighed: Weighed, readings: number, batches: number): Finding[] {
  const each = (bytes: number) => figure(bytes / readings);
  const total = (weighed.posted + weighed.judged) / readings;
  const how = batches === 1 ? 'sent in one batch' : `sent in ${batches} batches`;
  return [
    {
      what: `bytes on disk a reading, ${how}: as posted + as judged (one round)`,
      measured: `${figure(total)} = ${each(weighed.posted)} + ${each(weighed.judged)}`,
      goal: `at most ${GOAL_BYTES}`,
      met: total <= GOAL_BYTES,
    },
    note('  the same after VACUUM', each(weighed.vacuumed)),
    note('  beside: the rest of its run, indexes and all', each(weighed.restOfRuns)),
    note('  beside: all events (units, sets and runs)', each(weighed.events)),
    note('  beside: the whole file', each(weighed.file)),
  ];
}

export const bytesPerReadingBench: Bench = {
  name: 'bytes-per-reading',
  about: 'bytes on disk a reading, every copy counted',
  run: bytesPerReading,
};
