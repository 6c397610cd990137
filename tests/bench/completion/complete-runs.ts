import { cpSync } from 'node:fs';
import { join } from 'node:path';
import { inFreshFolder } from '../support/folder.js';
import { assertStatuses, closedLoop } from '../support/load.js';
import { cpuMs } from '../support/process.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  median,
  note,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { CONNECTIONS, completionCalls, prepareRuns } from './material.js';
import { captureTransactions, Replay, type Transaction } from './statements.js';

/**
 * The service against its own statements.
 *
 * The service's side is whole: a process of its own, HTTP, the API key, the body parsed
 * and checked, the idempotency key kept with its answer, judging, the event chain, the
 * roll-up, an answer after the commit.
 *
 * The raw side executes, in this process and without a service, exactly the statements
 * and values that the service's writing connection executes for the same runs (captured
 * from it beforehand), one BEGIN IMMEDIATE and COMMIT a run, at synchronous=FULL. It does
 * not parse, check, judge, hash, serialise or answer, looks up no API key, makes no
 * savepoints, and decodes only the rows that the service reads too.
 */
async function completeRuns(options: BenchOptions, folder: string): Promise<Finding[]> {
  const rounds = options.full ? 11 : 7;
  const size = options.full ? 3200 : 1280;
  options.say(`preparing ${(rounds + 1) * size} open runs`);
  const [served, captured, raw, writes] = ['served', 'captured', 'raw', 'writes'].map((name) =>
    join(folder, name),
  ) as [string, string, string, string];
  const material = await prepareRuns(served, rounds + 1, size);
  for (const copy of [captured, raw, writes]) cpSync(served, copy, { recursive: true });
  options.say('writing the statements down');
  const transactions = await captureTransactions(captured, material.token, material.rounds.flat());
  const slices = material.rounds.map((_, i) => transactions.slice(i * size, (i + 1) * size));

  const service = await startServiceOn(served, { profile: options.profile });
  const replay = new Replay(raw);
  const writing = new Replay(writes);
  const rates = {
    served: [] as number[],
    raw: [] as number[],
    writes: [] as number[],
    cpu: [] as number[],
  };
  try {
    for (const [i, round] of material.rounds.entries()) {
      const calls = completionCalls(material.token, round);
      const slice = slices[i] ?? [];
      const before = cpuMs(service.child.pid);
      const answer = await closedLoop(service.address, calls, CONNECTIONS);
      const cpu = (cpuMs(service.child.pid) - before) / size;
      assertStatuses(answer.statuses, '200');
      const rawRate = replay.run(slice);
      const writesRate = writing.run(slice, true);
      // The first round warms both sides up.
      if (i === 0) continue;
      rates.served.push(answer.rate);
      rates.raw.push(rawRate);
      rates.writes.push(writesRate);
      rates.cpu.push(cpu);
      options.say(
        `round ${i}: service ${figure(answer.rate)}/s, raw ${figure(rawRate)}/s, its writes alone ${figure(writesRate)}/s`,
      );
    }
    const shared = await commandsACommit(service.address);
    return findingsOf(rates, transactions[0] ?? [], shared);
  } finally {
    await service.stop();
    replay.close();
    writing.close();
  }
}

/** How many commands shared a commit on average, as the service counts them itself. */
async function commandsACommit(address: string): Promise<number> {
  const text = await (await fetch(`${address}/metrics`)).text();
  const counter = (name: string) => Number(new RegExp(`^${name} (\\S+)$`, 'm').exec(text)?.[1]);
  return counter('skeg_commit_commands_sum') / counter('skeg_commit_commands_count');
}

function findingsOf(
  rates: Record<'served' | 'raw' | 'writes' | 'cpu', number[]>,
  transaction: Transaction,
  shared: number,
): Finding[] {
  const ratios = rates.served.map((rate, i) => rate / (rates.raw[i] ?? Number.NaN));
  const ratio = median(ratios);
  const written = transaction.filter((one) => one.method === 'run').length;
  const rounds = `medians of ${ratios.length} rounds`;
  return [
    note(
      `runs of 40 readings completed, ${CONNECTIONS} connections, ${rounds}`,
      `${figure(median(rates.served))}/s`,
    ),
    note('  processor time of the service a run', `${figure(median(rates.cpu))} ms`),
    note('  commands that shared a commit', figure(shared)),
    note(
      `their ${transaction.length} statements raw, one transaction each`,
      `${figure(median(rates.raw))}/s`,
    ),
    note(`only the ${written} that write`, `${figure(median(rates.writes))}/s`),
    {
      what: 'service over the same statements raw (aim 1.0)',
      measured: figure(ratio),
      goal: 'at least 0.6',
      met: ratio >= 0.6,
    },
  ];
}

export const completeRunsBench: Bench = {
  name: 'complete-runs',
  about: 'durable completion of 40-reading runs against the same statements raw',
  run: (options) => inFreshFolder((folder) => completeRuns(options, folder)),
};
