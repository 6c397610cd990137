import { parseArgs } from 'node:util';
import { bytesPerReadingBench } from './bytes-per-reading.js';
import { completeRunsBench } from './completion/complete-runs.js';
import { historyBench } from './history/history-million.js';
import { pagesBench } from './history/pages.js';
import { overloadBench } from './load/overload.js';
import { plantLoadBench } from './load/plant-load.js';
import { memoryBench } from './memory/memory.js';
import { capabilityBench } from './numbers/capability.js';
import { yieldBench } from './numbers/yield.js';
import { pairingsBench } from './pairings-under-report.js';
import { postgresBench } from './postgres/postgres.js';
import { type Bench, type BenchOptions, type Finding, tableOf } from './support/report.js';
import { containmentBench } from './tracing/containment.js';
import { whereUsedBench } from './tracing/where-used.js';

const benches: readonly Bench[] = [
  completeRunsBench,
  postgresBench,
  pairingsBench,
  historyBench,
  pagesBench,
  whereUsedBench,
  containmentBench,
  yieldBench,
  capabilityBench,
  plantLoadBench,
  overloadBench,
  memoryBench,
  bytesPerReadingBench,
];

const usage = `npm run bench -- [NAME ...] [--full] [--motors N] [--requests N] [--profile FOLDER]
${benches.map(({ name, about }) => `  ${name.padEnd(24)}${about}`).join('\n')}`;

async function main(): Promise<void> {
  const { values, positionals } = parseArgs({
    allowPositionals: true,
    options: {
      full: { type: 'boolean', default: false },
      motors: { type: 'string' },
      requests: { type: 'string' },
      profile: { type: 'string' },
      help: { type: 'boolean', default: false },
    },
  });
  const unknown = positionals.filter((name) => !benches.some((bench) => bench.name === name));
  if (values.help || unknown.length > 0) {
    console.log(usage);
    process.exitCode = values.help ? 0 : 1;
    return;
  }
  const options = {
    full: values.full,
    motors: countOf('--motors', values.motors),
    requests: countOf('--requests', values.requests),
    profile: values.profile,
  };
  const wanted = benches.filter(
    ({ name }) => positionals.length === 0 || positionals.includes(name),
  );
  const findings: Finding[] = [];
  for (const bench of wanted) findings.push(...(await runBench(bench, options)));
  console.log(`\n${tableOf(findings)}`);
}

async function runBench(bench: Bench, options: Omit<BenchOptions, 'say'>): Promise<Finding[]> {
  console.log(`\n${bench.name}: ${bench.about}`);
  try {
    return await bench.run({ ...options, say: (line) => console.log(`  ${line}`) });
  } catch (error) {
    // The others are still worth their time.
    console.error(error);
    return [{ what: bench.name, measured: 'broke off', goal: '', met: false }];
  }
}

function countOf(option: string, text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const count = Number(text);
  if (Number.isInteger(count) && count > 0) return count;
  throw new Error(`${option} takes a whole number above 0`);
}

main().catch((error: unknown) => {
  console.error(error);
  process.exitCode = 1;
});
