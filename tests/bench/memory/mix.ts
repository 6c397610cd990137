import { randomUUID } from 'node:crypto';
import { databaseFile } from '../../../src/config.js';
import { type Call, get, post } from '../support/load.js';
import { type Pair, PreparedPlant } from '../support/plant.js';
import { readingsOf, repeatable } from '../support/readings.js';

/** Of each 25 requests one sets a pair, one is a refused set, one posts a batch; the rest ask. */
const CYCLE = 25;
const BATCHES_A_RUN = 20;
const MOTORS = 200;
const ORDER = 'BENCH';

/** A plant with enough pairs and open runs for so many requests, and the requests. */
export class Mix {
  #sent = 0;
  #batches = 0;
  readonly #random = repeatable(5);

  private constructor(
    private readonly token: string,
    private readonly motors: readonly string[],
    private readonly runs: readonly number[],
    private readonly pairs: Pair[],
  ) {}

  static async prepare(folder: string, requests: number): Promise<Mix> {
    const plant = new PreparedPlant(databaseFile(folder));
    const token = await plant.furnish();
    const cycles = Math.ceil(requests / CYCLE);
    const motors = await plant.motors(Math.max(MOTORS, Math.ceil(cycles / BATCHES_A_RUN)), 'M');
    const runs = await plant.startRuns(motors, 'CELL');
    await plant.order(ORDER, cycles);
    const pairs = await plant.pairs(cycles, 'X');
    plant.close();
    return new Mix(token, motors, runs, pairs);
  }

  /** The next requests. */
  calls(count: number): Call[] {
    return Array.from({ length: count }, () => {
      const place = this.#sent % CYCLE;
      this.#sent += 1;
      return this.#call(place);
    });
  }

  #call(place: number): Call {
    const motor = this.#any(this.motors.slice(0, MOTORS));
    if (place === 0) return this.#set(this.pairs.pop());
    if (place === 1) return this.#set({ powerhead: 'UNKNOWN', lowerUnit: 'UNKNOWN' });
    if (place === 2) return this.#batch();
    if (place < 8) return get(this.token, `/v1/history?serial=${motor}`);
    if (place < 12) return get(this.token, '/v1/yield/first-pass');
    if (place < 15) return get(this.token, `/v1/runs/${this.#any(this.runs.slice(0, MOTORS))}`);
    if (place < 18) return get(this.token, '/health/live');
    return get(this.token, '/v1/units?limit=5&class=motor');
  }

  #set(pair: Pair | undefined): Call {
    const body = { ...pair, order: ORDER, station: 'SET-1' };
    return post(this.token, '/v1/sets', randomUUID(), body);
  }

  #batch(): Call {
    const run = this.runs[Math.floor(this.#batches / BATCHES_A_RUN)];
    const sequence = 1 + (this.#batches % BATCHES_A_RUN);
    this.#batches += 1;
    const readings = readingsOf(this.#random).slice(0, 2);
    return post(this.token, `/v1/runs/${run}/batches`, randomUUID(), { sequence, readings });
  }

  #any<T>(items: readonly T[]): T {
    const item = items[Math.floor(this.#random() * items.length)];
    if (item === undefined) throw new Error('there is nothing to choose from');
    return item;
  }
}
