import { randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { databaseFile } from '../../../src/config.js';
import { type Call, post } from '../support/load.js';
import { PreparedPlant } from '../support/plant.js';
import { type PostedReading, readingsOf, repeatable } from '../support/readings.js';

export const CONNECTIONS = 16;

export interface Completion {
  run: number;
  body: { readings: PostedReading[]; cellVerdict: 'pass'; batches: number };
}

/** A plant with runs already started, and what completes them, in rounds. */
export interface Material {
  /** The data folder with the file in it. */
  data: string;
  token: string;
  rounds: Completion[][];
}

/**
 * Prepares `rounds` times `size` open runs. A cell has one open run, so each run has a
 * cell of its own; the roll-up's upsert therefore inserts, on either side.
 */
export async function prepareRuns(folder: string, rounds: number, size: number): Promise<Material> {
  mkdirSync(folder, { recursive: true });
  const plant = new PreparedPlant(databaseFile(folder));
  const token = await plant.furnish();
  const motors = await plant.motors(rounds * size, 'R');
  const runs = await plant.startRuns(motors, 'CELL');
  plant.close();
  const random = repeatable(40);
  const all = runs.map(
    (run): Completion => ({
      run,
      body: { readings: readingsOf(random), cellVerdict: 'pass', batches: 0 },
    }),
  );
  return {
    data: folder,
    token,
    rounds: Array.from({ length: rounds }, (_, i) => all.slice(i * size, (i + 1) * size)),
  };
}

/** The requests of a round, each under a fresh idempotency key. */
export function completionCalls(token: string, round: readonly Completion[]): Call[] {
  return round.map(({ run, body }) =>
    post(token, `/v1/runs/${run}/completion`, randomUUID(), body),
  );
}
