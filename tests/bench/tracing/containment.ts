import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { plantOfMotors } from '../history/build.js';
import { keyTo } from '../history/history-million.js';
import { copyData, inFreshFolder } from '../support/folder.js';
import { assertStatuses, openLoop, post } from '../support/load.js';
import type { Pair } from '../support/plant.js';
import { hostNote, stolenMs } from '../support/process.js';
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
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { AFFECTED_LOT, ORDER, prepareAffected } from './affected.js';
import { ask } from './ask.js';
import { MOTORS_OF_A_LOT, withLot } from './lots.js';
import { type Scan, scanSteadily } from './scans.js';

const RATE = 200;
const GOAL_OPEN_MS = 2000;
const GOAL_SCAN_MS = 20;
const ROUNDS = 3;
/** Seconds of sets before the measured ones: for most of a minute the engine still compiles. */
const WARM_UP_S = { full: 45, short: 3 };
/** The window begins so long before the containment is sent, and ends so long after its answer. */
const AROUND_S = 5;
/** Longer than this no containment is waited for: the scans run out. */
const PATIENCE_S = 5;
const SCANS_A_ROUND = RATE * (2 * AROUND_S + PATIENCE_S);

interface Containment {
  id: number;
  units: number;
  held: number;
}

/** A service under test, and what a round sends to it. */
interface Bout {
  address: string;
  token: string;
  motors: readonly string[];
  pairs: Pair[];
}

interface Round {
  openMs: number;
  disposeMs: number;
  /** Milliseconds of the scans due before the containment was sent, until its answer, and after. */
  before: number[];
  during: number[];
  after: number[];
}

/** Opens a containment of the motors of one lot while pairs are set at a fixed rate. */
async function containment(options: BenchOptions, folder: string): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 1_000_000 : 50_000);
  const affected = Math.min(MOTORS_OF_A_LOT, motors);
  options.say(`a copy of a file of ${figure(motors)} motors, ${figure(affected)} more set`);
  copyData(await plantOfMotors(motors), folder);
  const token = await keyTo(folder);
  const warmUp = RATE * (options.full ? WARM_UP_S.full : WARM_UP_S.short);
  const prepared = await prepareAffected(folder, affected, warmUp + ROUNDS * SCANS_A_ROUND);
  const service = await startServiceOn(folder, { profile: options.profile });
  const bout: Bout = { address: service.address, token, ...prepared };
  try {
    const warm = await openLoop(bout.address, setsOf(bout, warmUp), RATE);
    assertStatuses(warm.statuses, '201');
    const rounds: Round[] = [];
    const stolenBefore = stolenMs();
    for (let number = 1; number <= ROUNDS; number += 1) {
      const round = await measure(bout);
      options.say(`round ${number}: opened in ${figure(round.openMs)} ms, sets ${textOf(round)}`);
      rounds.push(round);
    }
    return [...findingsOf(rounds, affected, motors), hostNote(stolenBefore)];
  } finally {
    await service.stop();
  }
}

function setsOf({ token, pairs }: Bout, count: number) {
  return pairs
    .splice(0, count)
    .map((pair) =>
      post(token, '/v1/sets', randomUUID(), { ...pair, order: ORDER, station: 'SET-1' }),
    );
}

/** One containment from opening to closing; the scans go on around its opening alone. */
async function measure(bout: Bout): Promise<Round> {
  const { address, token, motors } = bout;
  const draft = { title: 'Benchmark', where: withLot(AFFECTED_LOT) };
  const scanning = scanSteadily(address, setsOf(bout, SCANS_A_ROUND), RATE);
  await sleep(AROUND_S * 1000);
  const sent = performance.now();
  const opening = ask<Containment>(
    address,
    post(token, '/v1/containments', randomUUID(), draft),
    201,
  );
  const opened = await opening.catch(async (error: unknown) => {
    await scanning.stop();
    throw error;
  });
  const answered = performance.now();
  await sleep(AROUND_S * 1000);
  const scans = await scanning.stop();
  assertAllSet(scans);
  const { id, units, held } = opened.body;
  if (units !== motors.length || held !== units) throw new Error(`${held} of ${units} are held`);
  const due = (from: number, until: number) =>
    scans.filter((one) => one.due >= from && one.due < until).map((one) => one.ms);
  return {
    openMs: opened.ms,
    disposeMs: await letGo(bout, id),
    before: due(0, sent),
    during: due(sent, answered),
    after: due(answered, Number.POSITIVE_INFINITY),
  };
}

function assertAllSet(scans: readonly Scan[]): void {
  const others = scans.filter((one) => one.status !== 201);
  if (others.length > 0) throw new Error(`${others.length} sets were answered otherwise`);
}

/** Clears every unit of a containment and closes it; gives the milliseconds of the clearing. */
async function letGo({ address, token, motors }: Bout, id: number): Promise<number> {
  const command = (what: string, body: object) =>
    ask(address, post(token, `/v1/containments/${id}/${what}`, randomUUID(), body), 200);
  const { ms } = await command('dispositions', {
    units: motors.map((serial) => ({ class: 'motor', serial })),
    disposition: 'clear',
    evidence: 'Benchmark',
  });
  await command('closure', { reason: 'Benchmark' });
  return ms;
}

function windowOf({ before, during, after }: Round): number[] {
  return [...before, ...during, ...after];
}

function textOf(round: Round): string {
  return latencies(windowOf(round)).text;
}

function findingsOf(rounds: readonly Round[], affected: number, motors: number): Finding[] {
  const openMs = median(rounds.map((one) => one.openMs));
  const scans = medianLatency(rounds.map((one) => latencies(windowOf(one))));
  const part = (of: (round: Round) => number[]) => latencies(rounds.flatMap(of)).text;
  return [
    {
      what: `containment of ${figure(affected)} of ${figure(motors)} motors opened, all held, median of ${ROUNDS} rounds`,
      measured: `${figure(openMs)} ms`,
      goal: `under ${figure(GOAL_OPEN_MS)} ms`,
      met: openMs < GOAL_OPEN_MS,
    },
    p99Finding(
      `  sets offered at ${RATE}/s, ${AROUND_S} s before to ${AROUND_S} s after`,
      scans,
      GOAL_SCAN_MS,
    ),
    note(
      '    those due before',
      part((one) => one.before),
    ),
    note(
      '    those due while it opened',
      part((one) => one.during),
    ),
    note(
      '    those due after, with it open',
      part((one) => one.after),
    ),
    note(
      '  all cleared in one request',
      `${figure(median(rounds.map((one) => one.disposeMs)))} ms`,
    ),
  ];
}

export const containmentBench: Bench = {
  name: 'containment',
  about: 'a containment of many motors opened while pairs are set',
  run: (options) => inFreshFolder((folder) => containment(options, folder)),
};
