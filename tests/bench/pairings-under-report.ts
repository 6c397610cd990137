import { randomUUID } from 'node:crypto';
import { databaseFile } from '../../src/config.js';
import { plantOfMotors } from './history/build.js';
import { keyTo } from './history/history-million.js';
import { Connections, requestOf } from './support/connections.js';
import { copyData, inFreshFolder } from './support/folder.js';
import { assertStatuses, get, openLoop, post } from './support/load.js';
import { type Pair, PreparedPlant } from './support/plant.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  median,
  medianLatency,
  note,
  p99Finding,
} from './support/report.js';
import { startServiceOn } from './support/service.js';

const RATE = 200;
const GOAL_MS = 10;
const ROUNDS = 3;
/** Sets before the measured ones, so that the program is compiled. */
const WARM_UP = 400;
const ORDER = 'BENCH';

/** Sets at a fixed rate while the rework-loop report is asked again and again. */
async function pairingsUnderReport(options: BenchOptions, folder: string): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 200_000 : 50_000);
  const roundSize = RATE * (options.full ? 20 : 8);
  options.say(`a file of ${figure(motors)} motors`);
  copyData(await plantOfMotors(motors), folder);
  const token = await keyTo(folder);
  options.say(`entering ${figure(WARM_UP + ROUNDS * roundSize)} pairs`);
  const pairs = await enterPairs(folder, WARM_UP + ROUNDS * roundSize);
  const service = await startServiceOn(folder, { profile: options.profile });
  const set = async (count: number) => {
    const calls = pairs
      .splice(0, count)
      .map((pair) =>
        post(token, '/v1/sets', randomUUID(), { ...pair, order: ORDER, station: 'SET-1' }),
      );
    const answer = await openLoop(service.address, calls, RATE);
    assertStatuses(answer.statuses, '201');
    return latencies(answer.latencies);
  };
  try {
    await set(WARM_UP);
    const report = askAgainAndAgain(service.address, token);
    const rounds: { p50: number; p99: number; text: string }[] = [];
    for (let round = 1; round <= ROUNDS; round += 1) {
      const found = await set(roundSize);
      options.say(`round ${round}: ${found.text}`);
      rounds.push(found);
    }
    return findingsOf(rounds, motors, await report.stop());
  } finally {
    await service.stop();
  }
}

async function enterPairs(folder: string, count: number): Promise<Pair[]> {
  const plant = new PreparedPlant(databaseFile(folder));
  await plant.order(ORDER, count);
  const pairs = await plant.pairs(count, 'X');
  plant.close();
  return pairs;
}

/** Asks for the report, and again when it is there, until stopped; then says how long each took. */
function askAgainAndAgain(address: string, token: string): { stop(): Promise<number[]> } {
  const connections = new Connections(address);
  const report = requestOf(get(token, '/v1/yield/rework-loops'));
  const took: number[] = [];
  let going = true;
  const asking = (async () => {
    while (going) {
      const started = performance.now();
      const status = await connections.send(report);
      if (status !== 200) throw new Error(`the report was answered with ${status}`);
      took.push(performance.now() - started);
    }
  })();
  return {
    async stop() {
      going = false;
      await asking;
      connections.close();
      return took;
    },
  };
}

function findingsOf(
  rounds: readonly { p50: number; p99: number; text: string }[],
  motors: number,
  reports: readonly number[],
): Finding[] {
  return [
    p99Finding(
      `sets offered at ${RATE}/s under a report, medians of ${ROUNDS} rounds`,
      medianLatency(rounds),
      GOAL_MS,
    ),
    note(
      `  meanwhile the report over ${figure(motors)} motors`,
      `${reports.length} times, median ${figure(median(reports))} ms`,
    ),
  ];
}

export const pairingsBench: Bench = {
  name: 'pairings-under-report',
  about: 'latency of sets at a fixed rate while a long question runs',
  run: (options) => inFreshFolder((folder) => pairingsUnderReport(options, folder)),
};
