import { databaseFile } from '../../../src/config.js';
import type { Plant } from '../../../src/plant.js';
import { RUNS_A_BLOCK } from '../../../src/series/block.js';
import type { JudgedRunRow } from '../../../src/series/records.js';
import { completeRun } from '../../../src/testing/actions.js';
import { packJudged } from '../../../src/testing/packing.js';
import type { Characteristic } from '../../../src/testing/rules.js';
import { MODEL, type Pair, PreparedPlant } from '../support/plant.js';
import { readingsOf, repeatable } from '../support/readings.js';

/** The order under which the scans set pairs. */
export const ORDER = 'BENCH';
/** The first of ten years over which the runs are spread. */
const FROM = Date.UTC(2015, 0, 1);
const YEARS_MS = 10 * 365 * 24 * 60 * 60 * 1000;
/** The day from which a tenth of the runs is left. */
export const LAST_YEAR = new Date(FROM + 0.9 * YEARS_MS).toISOString().slice(0, 10);
/** Real runs; the blocks' runs bear their ids in turn, so that every one names a motor. */
const REAL_RUNS = 50;
const CELLS = ['CELL-1', 'CELL-2', 'CELL-3', 'CELL-4'];
const BLOCKS_A_TRANSACTION = 20;

export interface Prepared {
  token: string;
  pairs: Pair[];
}

/**
 * A furnished plant with blocks of series for so many runs, forty characteristics each, and
 * with pairs that can be set.
 */
export async function buildSeries(
  folder: string,
  blocks: number,
  pairs: number,
): Promise<Prepared> {
  const plant = new PreparedPlant(databaseFile(folder));
  const token = await plant.furnish();
  const runIds = await realRuns(plant);
  const random = repeatable(11);
  for (let from = 0; from < blocks; from += BLOCKS_A_TRANSACTION) {
    const until = Math.min(from + BLOCKS_A_TRANSACTION, blocks);
    await plant.store.command((records) => {
      for (let number = from; number < until; number += 1) {
        addBlock(records, runIds, random, { number, blocks });
      }
    });
  }
  await plant.order(ORDER, pairs);
  const made = await plant.pairs(pairs, 'X');
  plant.close();
  return { token, pairs: made };
}

async function realRuns(plant: PreparedPlant): Promise<number[]> {
  const random = repeatable(3);
  const motors = await plant.motors(REAL_RUNS, 'R');
  const runs = await plant.startRuns(motors, 'REAL');
  await plant.times(runs.length, (command, i) =>
    completeRun(command, runs[i] ?? 0, { readings: readingsOf(random) }),
  );
  return runs;
}

function addBlock(
  plant: Plant,
  runIds: readonly number[],
  random: () => number,
  { number, blocks }: { number: number; blocks: number },
): void {
  const [specificationId = 0] = plant.series.specificationsOf(MODEL);
  const characteristics = plant.specifications.specification(specificationId)?.characteristics;
  if (!characteristics) throw new Error('there is no specification');
  const rows = Array.from({ length: RUNS_A_BLOCK }, (_, i): JudgedRunRow => {
    const index = number * RUNS_A_BLOCK + i;
    return {
      runId: runIds[index % runIds.length] ?? 0,
      endedAtMs: FROM + Math.floor((index / (blocks * RUNS_A_BLOCK)) * YEARS_MS),
      cell: CELLS[index % CELLS.length] ?? '',
      attempt: 1,
      passed: true,
      firstPass: true,
      judged: packJudged(characteristics.map((one) => readingOf(one, random))),
    };
  });
  plant.series.addBlock(specificationId, rows);
}

/** A normal value about the middle of the limits, with three decimals as a gauge shows it. */
function readingOf(one: Characteristic, random: () => number): number | boolean {
  if (one.kind === 'attribute') return true;
  const [lower, upper] = [one.lower ?? 0, one.upper ?? 0];
  // Box and Muller's; the generator never gives 1.
  const normal = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const value = (lower + upper) / 2 + (normal * (upper - lower)) / 8;
  return Math.round(value * 1000) / 1000;
}
