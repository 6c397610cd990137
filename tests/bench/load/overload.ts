import { randomUUID } from 'node:crypto';
import { Agent } from 'node:http';
import { databaseFile } from '../../../src/config.js';
import { inFreshFolder } from '../support/folder.js';
import { type Answer, ask, get, post } from '../support/load.js';
import { PreparedPlant } from '../support/plant.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  note,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';

/** Callers that send at one moment: more than may wait for a commit. */
const CALLERS = 6_000;
const WAVES = 3;
/** Longer than this no caller waits for an answer, whatever it is. */
const GOAL_S = 10;
const AFTERWARDS = 100;
const GOAL_AFTER_MS = 50;

/** Far more commands at once than the service can take: each is answered, with 503 where it is too many. */
async function overload(options: BenchOptions, folder: string): Promise<Finding[]> {
  const plant = new PreparedPlant(databaseFile(folder));
  const token = await plant.furnish();
  const motors = await plant.motors(200, 'M');
  plant.close();
  const service = await startServiceOn(folder, { profile: options.profile });
  const agent = new Agent({ keepAlive: true, maxSockets: CALLERS });
  try {
    const answers: Answer[] = [];
    let slowest = 0;
    for (let wave = 1; wave <= WAVES; wave += 1) {
      const found = await Promise.all(
        Array.from({ length: CALLERS }, (_, i) => {
          const holding = {
            class: 'motor',
            unit: motors[i % motors.length],
            cause: 'quality',
            reason: 'Overload',
          };
          return ask(service.address, post(token, '/v1/holds', randomUUID(), holding), agent);
        }),
      );
      answers.push(...found);
      slowest = Math.max(slowest, ...found.map((one) => one.ms));
      options.say(`wave ${wave}: ${countsOf(found)}, slowest ${figure(slowest)} ms`);
    }
    const after: number[] = [];
    for (let i = 0; i < AFTERWARDS; i += 1) {
      const calm = await ask(
        service.address,
        get(token, `/v1/release-gate?motor=${motors[0]}`),
        agent,
      );
      after.push(calm.ms);
    }
    return findingsOf(answers, slowest, latencies(after));
  } finally {
    agent.destroy();
    await service.stop();
  }
}

function countsOf(answers: readonly Answer[]): string {
  const counts = new Map<number, number>();
  for (const { status } of answers) counts.set(status, (counts.get(status) ?? 0) + 1);
  return [...counts].map(([status, count]) => `${count} answered ${status}`).join(', ');
}

function findingsOf(
  answers: readonly Answer[],
  slowestMs: number,
  after: { p99: number; text: string },
): Finding[] {
  const shed = answers.filter((one) => one.status === 503);
  const untold = shed.filter((one) => !/^[1-9]\d*$/.test(String(one.headers['retry-after'])));
  const strange = answers.filter((one) => one.status !== 201 && one.status !== 503);
  return [
    {
      what: `${figure(CALLERS)} commands at one moment, ${WAVES} times`,
      measured: countsOf(answers),
      goal: 'carried out, or 503 where it is too many',
      met: strange.length === 0 && shed.length > 0,
    },
    {
      what: '  of the 503 without Retry-After',
      measured: `${untold.length}`,
      goal: 'none',
      met: untold.length === 0,
    },
    {
      what: '  the slowest answer',
      measured: `${figure(slowestMs / 1000)} s`,
      goal: `under ${GOAL_S} s`,
      met: slowestMs < GOAL_S * 1000,
    },
    {
      what: `  ${AFTERWARDS} questions right afterwards`,
      measured: after.text,
      goal: `p99 under ${GOAL_AFTER_MS} ms`,
      met: after.p99 < GOAL_AFTER_MS,
    },
    note('  carried out', `${answers.filter((one) => one.status === 201).length}`),
  ];
}

export const overloadBench: Bench = {
  name: 'overload',
  about: 'many more commands at once than can be taken',
  run: (options) => inFreshFolder((folder) => overload(options, folder)),
};
