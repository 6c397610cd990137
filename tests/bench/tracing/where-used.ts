import { randomUUID } from 'node:crypto';
import type { z } from 'zod';
import type { whereUsedAnswer } from '../../../src/tracing/schema.js';
import { plantOfMotors } from '../history/build.js';
import { keyTo } from '../history/history-million.js';
import { copyData, inFreshFolder } from '../support/folder.js';
import { assertStatuses, openLoop, post } from '../support/load.js';
import { cpuMs, hostNote, stolenMs } from '../support/process.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  note,
  p99Finding,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { ask } from './ask.js';
import { addLots, MOTORS_OF_A_LOT, withLot } from './lots.js';

const RATE = 4;
const GOAL_MS = 200;
/** Questions before the measured ones, so that the program is compiled and pages are read. */
const WARM_UP = 12;
/** Motors that were set one after another, as a lot is used. */
const RUN_LOT = 'BENCH-RUN';
/** As many motors over all the years: as many pages as there can be. */
const SPREAD_LOT = 'BENCH-SPREAD';

async function whereUsed(options: BenchOptions, folder: string): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 1_000_000 : 50_000);
  const count = Math.min(MOTORS_OF_A_LOT, motors);
  options.say(`a copy of a file of ${figure(motors)} motors, two lots of ${figure(count)} added`);
  copyData(await plantOfMotors(motors), folder);
  addLots(folder, [
    { lot: RUN_LOT, from: Math.floor((motors - count) / 2), step: 1, count },
    { lot: SPREAD_LOT, from: 0, step: Math.floor(motors / count), count },
  ]);
  const token = await keyTo(folder);
  const questions = options.full ? 200 : 100;
  const service = await startServiceOn(folder, { profile: options.profile });
  const call = (lot: string) =>
    post(token, '/v1/where-used', randomUUID(), { where: withLot(lot) });
  const asking = async (lot: string, times: number) => {
    const calls = Array.from({ length: times }, () => call(lot));
    const answer = await openLoop(service.address, calls, RATE);
    assertStatuses(answer.statuses, '200');
    return latencies(answer.latencies);
  };
  const measure = async (lot: string) => {
    const { body } = await ask<z.input<typeof whereUsedAnswer>>(service.address, call(lot), 200);
    if (body.items.length !== count) throw new Error(`${body.items.length} motors were picked`);
    await asking(lot, WARM_UP);
    const before = cpuMs(service.child.pid);
    const found = await asking(lot, questions);
    const cpu = (cpuMs(service.child.pid) - before) / questions;
    options.say(`${lot}: ${found.text}, processor time ${figure(cpu)} ms a question`);
    return { ...found, cpu };
  };
  const findingsOf = (what: string, found: Awaited<ReturnType<typeof measure>>): Finding[] => [
    p99Finding(what, found, GOAL_MS),
    note('  processor time of the service a question', `${figure(found.cpu)} ms`),
  ];
  try {
    const stolenBefore = stolenMs();
    const run = await measure(RUN_LOT);
    const spread = await measure(SPREAD_LOT);
    const asked = `where-used of a lot of ${figure(count)} of ${figure(motors)} motors, ${RATE}/s, ${questions} times`;
    return [
      ...findingsOf(asked, run),
      ...findingsOf('the same, the lot spread over the whole file', spread),
      hostNote(stolenBefore),
    ];
  } finally {
    await service.stop();
  }
}

export const whereUsedBench: Bench = {
  name: 'where-used',
  about: 'the motors with one lot, of a large file, over HTTP',
  run: (options) => inFreshFolder((folder) => whereUsed(options, folder)),
};
