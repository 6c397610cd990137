import { databaseFile } from '../../../src/config.js';
import { keepInMemory } from '../support/file-cache.js';
import { assertStatuses, get, openLoop } from '../support/load.js';
import { PreparedPlant } from '../support/plant.js';
import { cpuMs, hostNote, stolenMs } from '../support/process.js';
import { repeatable } from '../support/readings.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  medianLatency,
  note,
  p99Finding,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { plantOfMotors, serialIn } from './build.js';

const RATE = 200;
const GOAL_MS = 3;
const ROUNDS = 3;
/**
 * Seconds of calls before the measured ones. For most of a minute the engine compiles what it
 * finds to be hot, in threads that take the two cores from the calls: p99 5 to 12 ms were
 * measured in it that were 2.6 to 3 after.
 */
const WARM_UP_S = { full: 60, short: 10 };
const questions = { history: '/v1/history', tree: '/v1/tree' };

async function historyMillion(options: BenchOptions): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 1_000_000 : 50_000);
  options.say(`a file of ${figure(motors)} motors`);
  const data = await plantOfMotors(motors);
  const token = await keyTo(data);
  const kept = await keepInMemory(databaseFile(data));
  const random = repeatable(7);
  const asking = (path: string, count: number) =>
    Array.from({ length: count }, () => {
      const serial = serialIn(motors, Math.floor(random() * motors));
      return get(token, `${path}?serial=${serial}`);
    });
  const service = await startServiceOn(data, { profile: options.profile });
  const seconds = options.full ? 20 : 8;
  const measured = async (path: string) => {
    const answer = await openLoop(service.address, asking(path, RATE * seconds), RATE);
    assertStatuses(answer.statuses, '200');
    return latencies(answer.latencies);
  };
  try {
    const findings: Finding[] = [];
    for (const [what, path] of Object.entries(questions)) {
      const warmUp = RATE * (options.full ? WARM_UP_S.full : WARM_UP_S.short);
      const warm = await openLoop(service.address, asking(path, warmUp), RATE);
      assertStatuses(warm.statuses, '200');
      const before = cpuMs(service.child.pid);
      const stolenBefore = stolenMs();
      const rounds: { p50: number; p99: number; text: string }[] = [];
      for (let round = 1; round <= ROUNDS; round += 1) {
        const found = await measured(path);
        options.say(`${what}, round ${round}: ${found.text}`);
        rounds.push(found);
      }
      const cpu = (cpuMs(service.child.pid) - before) / (ROUNDS * RATE * seconds);
      findings.push(
        p99Finding(
          `${what} of one of ${figure(motors)} motors, ${RATE}/s, medians of ${ROUNDS} rounds`,
          medianLatency(rounds),
          GOAL_MS,
        ),
        note('  processor time of the service a question', `${figure(cpu)} ms`),
        hostNote(stolenBefore),
      );
    }
    const floor = await floorOf(service.address);
    return [
      ...findings,
      note(`  ${RATE}/s of an address that does nothing`, floor),
      note('  the file', kept.how),
    ];
  } finally {
    await service.stop();
    kept.letGo();
  }
}

/** The same load on an address that does nothing: what the machine and the client take by themselves. */
async function floorOf(address: string): Promise<string> {
  const calls = Array.from({ length: RATE * 5 }, () => get('none', '/health/live'));
  return latencies((await openLoop(address, calls, RATE)).latencies).text;
}

/** A key for a file whose first token nobody kept; ends when the file does. */
export async function keyTo(data: string): Promise<string> {
  const plant = new PreparedPlant(databaseFile(data));
  const token = await plant.addKey(`bench ${new Date().toISOString()}`);
  plant.close();
  return token;
}

export const historyBench: Bench = {
  name: 'history-million',
  about: 'one motor of a large file, over HTTP',
  run: historyMillion,
};
