import { once } from 'node:events';
import { databaseFile } from '../../../src/config.js';
import { packageFile } from '../../../src/package-root.js';
import { plantOfMotors } from '../history/build.js';
import { copyData, inFreshFolder } from '../support/folder.js';
import { PreparedPlant } from '../support/plant.js';
import { cpuMs, residentBytes } from '../support/process.js';
import { repeatable } from '../support/readings.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
  median,
  note,
} from '../support/report.js';
import { type ServiceProcess, startServiceOn } from '../support/service.js';
import { Caller } from './client.js';
import {
  askQuestions,
  askReports,
  CELLS,
  Floor,
  MOTORS_AN_HOUR,
  ORDER,
  RUN_MS,
  runCell,
  runLines,
  TIMES,
} from './plant-day.js';

const GOAL_MS = 50;
const MINUTE_MS = 60_000;
const SAMPLES = 10;
const MEBIBYTE = 1024 * 1024;
/** Heap that may be more at the end than in the middle: what the young generation holds. */
const GOAL_GROWTH = 8 * MEBIBYTE;

interface Weight {
  heap: number;
  resident: number;
}

/** A large plant's peak ten times over, with reports one after the other. */
async function plantLoad(options: BenchOptions, folder: string): Promise<Finding[]> {
  const minutes = options.full ? 10 : 1;
  const motors = options.motors ?? 50_000;
  options.say(`a file of ${figure(motors)} motors`);
  copyData(await plantOfMotors(motors), folder);
  const { token, begun } = await prepare(folder);
  const service = await startServiceOn(folder, {
    flags: ['--expose-gc', '--import', packageFile('dist', 'tests', 'bench', 'memory', 'probe.js')],
    profile: options.profile,
  });
  const floor = new Floor();
  floor.known.push(...begun.map((one) => one.motor));
  const [lines, cells, people, reports] = Array.from(
    { length: 4 },
    () => new Caller(service.address, token),
  ) as [Caller, Caller, Caller, Caller];
  const used = cpuMs(service.child.pid);
  const work = Promise.all([
    runLines(floor, lines),
    ...begun.map((one) => runCell(floor, cells, one.cell, one)),
    askQuestions(floor, people),
    askReports(floor, reports),
  ]);
  try {
    const weights = await weighFor(minutes, service, floor, options.say);
    await work;
    const cpu = (cpuMs(service.child.pid) - used) / (minutes * MINUTE_MS);
    const facts = `${floor.motors} motors set, ${floor.runs} runs completed, ${floor.releases} released`;
    return findingsOf({ lines, cells, people, reports }, weights, minutes, [
      note(`  in ${minutes} minutes`, facts),
      note('  processor time of the service', `${figure(cpu * 100)} % of one core`),
    ]);
  } finally {
    floor.isOpen = false;
    for (const caller of [lines, cells, people, reports]) caller.end();
    await service.stop();
  }
}

/** Every cell has begun a run before, some way into it. */
async function prepare(folder: string) {
  const plant = new PreparedPlant(databaseFile(folder));
  const token = await plant.addKey(`load ${new Date().toISOString()}`);
  await plant.order(ORDER, MOTORS_AN_HOUR);
  const motors = await plant.motors(CELLS, 'BEGUN');
  const runs = await plant.startRuns(motors, 'LOAD');
  plant.close();
  const random = repeatable(17);
  const begun = motors.map((motor, i) => ({
    ...{ motor, run: runs[i] ?? 0, cell: `LOAD-${i}`, leftMs: random() * RUN_MS },
  }));
  return { token, begun };
}

/** Lets the plant run, weighs the service ten times meanwhile, then closes the floor. */
async function weighFor(
  minutes: number,
  service: ServiceProcess,
  floor: Floor,
  say: (line: string) => void,
): Promise<Weight[]> {
  const weights: Weight[] = [];
  for (let i = 1; i <= SAMPLES; i += 1) {
    await floor.pause((minutes * MINUTE_MS) / SAMPLES);
    service.child.send('weigh');
    const [heap] = (await once(service.child, 'message')) as [number];
    const resident = residentBytes(service.child.pid);
    weights.push({ heap, resident });
    say(`heap ${figure(heap / MEBIBYTE)} MiB, resident ${figure(resident / MEBIBYTE)} MiB`);
  }
  floor.isOpen = false;
  return weights;
}

function findingsOf(
  callers: { lines: Caller; cells: Caller; people: Caller; reports: Caller },
  weights: readonly Weight[],
  minutes: number,
  notes: Finding[],
): Finding[] {
  const { reports, ...short } = callers;
  const all = Object.values(short).flatMap((one) => one.latencies);
  const unwanted = Object.values(callers).flatMap((one) => one.unwanted);
  const found = latencies(all);
  const rate = all.length / (minutes * 60);
  const [middle, last] = [weights[SAMPLES / 2 - 1], weights.at(-1)];
  const growth = (last?.heap ?? 0) - (middle?.heap ?? 0);
  const about = `${TIMES} times a large plant's peak, ${figure(rate)} requests a second`;
  const perCaller = Object.entries(short).map(([name, one]) =>
    note(`  of them by ${name}`, `${one.latencies.length}: ${latencies(one.latencies).text}`),
  );
  return [
    {
      what: `${about}, ${minutes} minutes with reports`,
      measured: found.text,
      goal: `p99 under ${GOAL_MS} ms`,
      met: found.p99 < GOAL_MS,
    },
    ...perCaller,
    {
      what: '  answers that were errors',
      measured: [`${unwanted.length}`, ...unwanted.slice(0, 3)].join('; '),
      goal: 'none',
      met: unwanted.length === 0,
    },
    {
      what: '  heap after collection, the middle to the end',
      measured: `${figure((middle?.heap ?? 0) / MEBIBYTE)} to ${figure((last?.heap ?? 0) / MEBIBYTE)} MiB`,
      goal: `flat: at most ${GOAL_GROWTH / MEBIBYTE} MiB more`,
      met: growth <= GOAL_GROWTH,
    },
    note(
      '  resident memory, the middle to the end',
      `${figure((middle?.resident ?? 0) / MEBIBYTE)} to ${figure((last?.resident ?? 0) / MEBIBYTE)} MiB`,
    ),
    note(
      '  reports meanwhile',
      `${reports.latencies.length}, median ${figure(median(reports.latencies))} ms`,
    ),
    ...notes,
  ];
}

export const plantLoadBench: Bench = {
  name: 'plant-load',
  about: "ten times a large plant's peak with reports running",
  run: (options) => inFreshFolder((folder) => plantLoad(options, folder)),
};
