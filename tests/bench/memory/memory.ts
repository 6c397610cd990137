import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { packageFile } from '../../../src/package-root.js';
import { inFreshFolder } from '../support/folder.js';
import { assertStatuses, closedLoop } from '../support/load.js';
import { residentBytes } from '../support/process.js';
import { type Bench, type BenchOptions, type Finding, figure, note } from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { Mix } from './mix.js';

const CONNECTIONS = 16;
const SAMPLES = 20;
/** The first half fills caches and compiles, and is left out of the slope. */
const SETTLED = SAMPLES / 2;
/** Bytes of heap a request that may stay: fewer than any object kept for each would take. */
const GOAL_BYTES = 16;
const MEBIBYTE = 1024 * 1024;

interface Sample {
  requests: number;
  heap: number;
  resident: number;
}

/** Sends a mix of requests in equal portions and weighs the service after each. */
async function memory(options: BenchOptions, folder: string): Promise<Finding[]> {
  const wanted = options.requests ?? (options.full ? 1_000_000 : 50_000);
  const portion = Math.ceil(wanted / SAMPLES / CONNECTIONS) * CONNECTIONS;
  options.say(`preparing for ${figure(portion * SAMPLES)} requests`);
  const mix = await Mix.prepare(folder, portion * SAMPLES);
  const service = await startServiceOn(folder, {
    flags: ['--expose-gc', '--import', packageFile('dist', 'tests', 'bench', 'memory', 'probe.js')],
  });
  const samples: Sample[] = [];
  try {
    for (let i = 1; i <= SAMPLES; i += 1) {
      const { statuses } = await closedLoop(service.address, mix.calls(portion), CONNECTIONS);
      // 404: the refused sets, of a serial that nobody knows.
      assertStatuses(statuses, '200', '201', '404');
      const sample = { requests: i * portion, ...(await weigh(service.child)) };
      samples.push(sample);
      if (i === 1 || i % 5 === 0) options.say(textOf(sample));
    }
  } finally {
    await service.stop();
  }
  return findingsOf(samples);
}

/** Bytes of heap after a collection, and of the whole process as the system counts them. */
async function weigh(child: ChildProcess): Promise<Omit<Sample, 'requests'>> {
  child.send('weigh');
  const [heap] = (await once(child, 'message')) as [number];
  return { heap, resident: residentBytes(child.pid) };
}

function textOf({ requests, heap, resident }: Sample): string {
  return `after ${figure(requests)}: heap ${figure(heap / MEBIBYTE)} MiB, resident ${figure(resident / MEBIBYTE)} MiB`;
}

/** Slope of the least-squares line through the samples: bytes a request. */
function slope(samples: readonly Sample[], of: (sample: Sample) => number): number {
  const mean = (values: number[]) => values.reduce((sum, one) => sum + one, 0) / values.length;
  const x = mean(samples.map((one) => one.requests));
  const y = mean(samples.map(of));
  const products = samples.map((one) => (one.requests - x) * (of(one) - y));
  const squares = samples.map((one) => (one.requests - x) ** 2);
  return mean(products) / mean(squares);
}

function findingsOf(samples: readonly Sample[]): Finding[] {
  const settled = samples.slice(SETTLED);
  const heap = slope(settled, (one) => one.heap);
  const resident = slope(settled, (one) => one.resident);
  const [first, last] = [settled[0], settled.at(-1)];
  const span = (of: (sample: Sample) => number) =>
    `${figure((first ? of(first) : 0) / MEBIBYTE)} to ${figure((last ? of(last) : 0) / MEBIBYTE)} MiB`;
  const about = `over ${figure(last?.requests ?? 0)} requests, one round`;
  return [
    {
      what: `heap after collection ${about}`,
      measured: `${figure(heap)} bytes a request (${span((one) => one.heap)})`,
      goal: `flat: at most ${GOAL_BYTES}`,
      met: heap <= GOAL_BYTES,
    },
    note(
      '  resident memory',
      `${figure(resident)} bytes a request (${span((one) => one.resident)})`,
    ),
  ];
}

export const memoryBench: Bench = {
  name: 'memory',
  about: 'memory of the service over many requests',
  run: (options) => inFreshFolder((folder) => memory(options, folder)),
};
