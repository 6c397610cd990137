import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { FuzzClient } from './support/client.js';
import { LivedIn } from './support/lived-in.js';
import { type Operation, operations } from './support/operations.js';
import { Oracle } from './support/oracle.js';
import { requestsOf } from './support/requests.js';
import type { FuzzRequest } from './support/twists.js';

/** Requests in all; `SKEG_FUZZ=200000` goes on longer. */
const WANTED = Number(process.env.SKEG_FUZZ ?? 20_000);
/** Each round has a plant of its own: a fuzzer uses one up. */
const REQUESTS_A_ROUND = 10_000;
/** What is there is looked up again so often in a round. */
const PARTS = 4;
/** As many as the queue of long questions holds, so that none is turned away. */
const IN_FLIGHT = 20;
/** Faults told at the most: the first ones tell the most. */
const FAULTS_TOLD = 25;

const rounds = Array.from({ length: Math.ceil(WANTED / REQUESTS_A_ROUND) }, (_, i) => i + 1);
const perOperation = Math.ceil(WANTED / rounds.length / PARTS / operations.length);

/** After these most else is refused, so they come when a round ends. */
const poison = [
  'POST /v1/containments',
  'POST /v1/configurations/{configuration}/approval',
  'POST /v1/specifications/{specification}/approval',
];
const [poisonous, harmless] = [true, false].map((wanted) =>
  operations.filter((one) => poison.includes(one.name) === wanted),
) as [Operation[], Operation[]];

/**
 * So many requests of each operation, in turns, so that each finds what the others have left.
 * They are the same for the same seed, part and plant.
 */
function requestsFor(
  some: readonly Operation[],
  ofEach: number,
  part: number,
  { plant, known, corpus }: LivedIn,
): FuzzRequest[] {
  const { seed = 0 } = fc.readConfigureGlobal();
  const stock = { known, now: plant.now };
  const sampled = some.map((operation) =>
    fc.sample(requestsOf(operation, stock, corpus), {
      numRuns: ofEach,
      seed: seed + part * 1000 + operations.indexOf(operation),
    }),
  );
  return Array.from({ length: ofEach }, (_, turn) => sampled.map((one) => one[turn]))
    .flat()
    .filter((one) => one !== undefined);
}

describe('every operation of the API document', () => {
  const statuses = new Map<string, Map<number, number>>();

  function count({ operation }: FuzzRequest, status: number): void {
    const counted = statuses.get(operation) ?? new Map<number, number>();
    statuses.set(operation, counted.set(status, (counted.get(status) ?? 0) + 1));
  }

  async function sendAll(
    requests: readonly FuzzRequest[],
    { plant }: LivedIn,
    client: FuzzClient,
    oracle: Oracle,
  ): Promise<void> {
    for (let i = 0; i < requests.length; i += IN_FLIGHT) {
      const batch = requests.slice(i, i + IN_FLIGHT);
      await Promise.all(batch.map((sent) => sendOne(sent, client, oracle)));
      oracle.lookBehind(batch);
      plant.wait(100);
      if (oracle.faults.length > FAULTS_TOLD) return;
    }
  }

  async function sendOne(sent: FuzzRequest, client: FuzzClient, oracle: Oracle): Promise<void> {
    const answer = await client.send(sent);
    if (!answer) return;
    oracle.judge(sent, answer);
    count(sent, answer.status);
    if (!sent.twice) return;
    const again = await client.send(sent);
    if (again) oracle.judgeTwin(sent, answer, again);
  }

  /** A round on a plant, with all that is to be said against it. */
  async function play(round: number, life: LivedIn, oracle: Oracle): Promise<void> {
    const client = new FuzzClient(life.plant, IN_FLIGHT);
    const send = async (some: readonly Operation[], ofEach: number, part: number) => {
      await sendAll(requestsFor(some, ofEach, part, life), life, client, oracle);
      await life.lookAround();
    };
    for (let i = 0; i < PARTS; i += 1) await send(harmless, perOperation, round * PARTS + i);
    await send(poisonous, perOperation * PARTS, round * PARTS);
    client.close();
  }

  it.each(rounds)(
    'answers as is documented, and writes nothing that it refuses: round %i',
    async (round) => {
      const life = await LivedIn.start();
      const oracle = new Oracle(life.plant);
      try {
        await play(round, life, oracle);
        const told = oracle.faults.slice(0, FAULTS_TOLD).join('\n\n');
        const { seed } = fc.readConfigureGlobal();
        expect(oracle.faults.length, `PROPERTY_SEED=${seed}\n${told}`).toBe(0);
        const found = verifyDatabase(life.plant.service.store.path);
        expect(found.findings).toEqual([]);
        expect(found.events).toBe(oracle.expectedEvents);
      } finally {
        oracle.close();
        await life.plant.stop();
      }
    },
    300_000,
  );

  it('was, but for a few at the most, reached with something that it takes', () => {
    const isReached = ({ name }: Operation) =>
      [...(statuses.get(name)?.keys() ?? [])].some((status) => status < 300);
    const unreached = operations.filter((one) => !isReached(one)).map((one) => one.name);
    expect(unreached.length, unreached.join('\n')).toBeLessThan(operations.length / 10);
  });

  it('neither took all nor refused all, which would tell nothing', () => {
    const answers = [...statuses.values()].flatMap((one) => [...one]);
    const sumOf = (isOf: (status: number) => boolean) =>
      answers.reduce((sum, [status, times]) => sum + (isOf(status) ? times : 0), 0);
    const all = sumOf(() => true);
    expect(all).toBeGreaterThan(WANTED * 0.95);
    expect(sumOf((status) => status < 300)).toBeGreaterThan(all / 5);
    expect(sumOf((status) => status >= 400)).toBeGreaterThan(all / 5);
  });
});
