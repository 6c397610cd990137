import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import type { z } from 'zod';
import type { capabilityAnswer } from '../../../src/capability/capability-schema.js';
import { RUNS_A_BLOCK } from '../../../src/series/block.js';
import { inFreshFolder } from '../support/folder.js';
import { type Call, get, post } from '../support/load.js';
import { MODEL, type Pair } from '../support/plant.js';
import { cpuMs, hostNote, stolenMs } from '../support/process.js';
import { READINGS_A_RUN } from '../support/readings.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  median,
  note,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { ask } from '../tracing/ask.js';
import { scanSteadily } from '../tracing/scans.js';
import { buildSeries, LAST_YEAR, ORDER } from './build.js';

const READINGS = 1_000_000;
const GOAL_MS = 1000;
const GOAL_RATIO = 1.5;
const RATE = 200;
const ROUNDS = 5;
/** Seconds of sets before the measured ones: for most of a minute the engine still compiles. */
const WARM_UP_S = { full: 45, short: 3 };
const QUESTIONS = 9;

const pathOf = (route: string) => `/v1/${route}?model=${MODEL}&characteristic=half-oil-pressure`;

/** The capability of a million readings, alone and while pairs are set at a fixed rate. */
async function capability(options: BenchOptions, folder: string): Promise<Finding[]> {
  const readings = options.motors ?? READINGS;
  const seconds = options.full ? 20 : 8;
  // A round is idle and then under the question; a second more lets no scans run out.
  const warmUp = options.full ? WARM_UP_S.full : WARM_UP_S.short;
  const scans = RATE * (warmUp + 1) + RATE * (seconds + 1) * 2 * ROUNDS;
  options.say(`building ${figure(readings)} readings of each of forty characteristics`);
  const { token, pairs } = await buildSeries(folder, readings / RUNS_A_BLOCK, scans);
  const service = await startServiceOn(folder, { profile: options.profile });
  const question = get(token, pathOf('capability'));
  const asking = () => ask<z.output<typeof capabilityAnswer>>(service.address, question, 200);
  try {
    const first = await asking();
    if (first.body.count < readings) throw new Error(`${first.body.count} readings were found`);
    const before = cpuMs(service.child.pid);
    const alone = await timesOf(asking, QUESTIONS);
    const cpu = (cpuMs(service.child.pid) - before) / QUESTIONS;
    options.say(`alone: ${alone.map(figure).join(', ')} ms, ${figure(cpu)} ms of processor each`);
    const scan = (count: number) => setCalls(token, pairs.splice(0, count));
    await scanFor(service.address, scan(RATE * (warmUp + 1)), warmUp);
    const stolenBefore = stolenMs();
    const rounds: Round[] = [];
    for (let round = 1; round <= ROUNDS; round += 1) {
      const idle = await scanFor(service.address, scan(RATE * (seconds + 1)), seconds);
      const asked = askAgainAndAgain(asking);
      const under = await scanFor(service.address, scan(RATE * (seconds + 1)), seconds);
      rounds.push({ idle, under, asked: await asked.stop() });
      options.say(`round ${round}: idle ${idle.text}; under the question ${under.text}`);
    }
    const host = hostNote(stolenBefore);
    const others = await otherQuestions(service.address, token);
    return [...findingsOf(readings, { first: first.ms, alone, cpu }, rounds), host, ...others];
  } finally {
    await service.stop();
  }
}

interface Round {
  idle: ReturnType<typeof latencies>;
  under: ReturnType<typeof latencies>;
  /** Milliseconds of the questions asked meanwhile. */
  asked: number[];
}

function setCalls(token: string, pairs: readonly Pair[]): Call[] {
  return pairs.map((pair) =>
    post(token, '/v1/sets', randomUUID(), { ...pair, order: ORDER, station: 'SET-1' }),
  );
}

async function scanFor(service: string, calls: readonly Call[], seconds: number) {
  const scanning = scanSteadily(service, calls, RATE);
  await sleep(seconds * 1000);
  const scans = await scanning.stop();
  const refused = scans.filter((one) => one.status !== 201);
  if (refused.length > 0) throw new Error(`${refused.length} sets were not made`);
  return latencies(scans.map((one) => one.ms));
}

async function timesOf(asking: () => Promise<{ ms: number }>, times: number): Promise<number[]> {
  const took: number[] = [];
  for (let i = 0; i < times; i += 1) took.push((await asking()).ms);
  return took;
}

function askAgainAndAgain(asking: () => Promise<{ ms: number }>): { stop(): Promise<number[]> } {
  const took: number[] = [];
  let going = true;
  const all = (async () => {
    while (going) took.push((await asking()).ms);
  })();
  return {
    async stop() {
      going = false;
      await all;
      return took;
    },
  };
}

/** How long the neighbouring questions take over the same file. */
async function otherQuestions(service: string, token: string): Promise<Finding[]> {
  const once = async (path: string) =>
    median(await timesOf(() => ask(service, get(token, path), 200), 3));
  const comparison = await once(pathOf('cells/comparison'));
  const subgroups = await once(`${pathOf('capability')}&subgroup=5`);
  const overview = await once(`/v1/capability/overview?model=${MODEL}&fromDay=${LAST_YEAR}`);
  return [
    note('  the same in subgroups of five', `${figure(subgroups)} ms`),
    note('  test cells compared', `${figure(comparison)} ms`),
    note(
      `  overview of all ${READINGS_A_RUN - 1} characteristics, the last year of the ten`,
      `${figure(overview)} ms`,
    ),
  ];
}

function findingsOf(
  readings: number,
  { first, alone, cpu }: { first: number; alone: readonly number[]; cpu: number },
  rounds: readonly Round[],
): Finding[] {
  const ms = median(alone);
  const asked = rounds.flatMap((one) => one.asked);
  // Each round beside its own idle time: whatever else the machine does then is in both.
  const ratio = median(rounds.map(({ idle, under }) => under.p99 / idle.p99));
  return [
    {
      what: `capability over ${figure(readings)} readings, over HTTP, median of ${alone.length}`,
      measured: `${figure(ms)} ms`,
      goal: `under ${GOAL_MS} ms`,
      met: ms < GOAL_MS,
    },
    note('  processor time of the service a question', `${figure(cpu)} ms`),
    note('  the first one, with its thread', `${figure(first)} ms`),
    {
      what: `sets offered at ${RATE}/s meanwhile, p99 over that of idle, median of ${ROUNDS} rounds`,
      measured: figure(ratio),
      goal: `under ${GOAL_RATIO}`,
      met: ratio < GOAL_RATIO,
    },
    note('  idle, median of p99', `${figure(median(rounds.map((one) => one.idle.p99)))} ms`),
    note('  the questions meanwhile', `${asked.length} times, median ${figure(median(asked))} ms`),
  ];
}

export const capabilityBench: Bench = {
  name: 'capability',
  about: 'capability of a million readings, and scans while it is asked',
  run: (options) => inFreshFolder((folder) => capability(options, folder)),
};
