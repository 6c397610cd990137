import { type Agent, type IncomingHttpHeaders, type IncomingMessage, request } from 'node:http';
import { text } from 'node:stream/consumers';
import { setTimeout as sleep } from 'node:timers/promises';
import autocannon from 'autocannon';
import { Connections, requestOf } from './connections.js';

export interface Call {
  method: 'GET' | 'POST';
  path: string;
  headers: Record<string, string>;
  body?: string;
}

/** A POST of a command under a fresh key of its own. */
export function post(token: string, path: string, key: string, body: unknown): Call {
  return {
    method: 'POST',
    path,
    headers: {
      authorization: `Bearer ${token}`,
      'content-type': 'application/json',
      'idempotency-key': key,
    },
    body: JSON.stringify(body),
  };
}

export function get(token: string, path: string): Call {
  return { method: 'GET', path, headers: { authorization: `Bearer ${token}` } };
}

/** Deals cards round the table. */
function deal<T>(items: readonly T[], hands: number): T[][] {
  return Array.from({ length: hands }, (_, hand) => items.filter((_, i) => i % hands === hand));
}

export interface ClosedLoop {
  /** Answers a second. */
  rate: number;
  /** Answers by status. */
  statuses: Record<string, number>;
}

/**
 * Sends each call once over a number of connections, each sending its next when it has
 * its answer. The calls must divide evenly among the connections.
 * @throws Error when an answer is missing
 */
export async function closedLoop(
  address: string,
  calls: readonly Call[],
  connections: number,
): Promise<ClosedLoop> {
  if (calls.length % connections !== 0) throw new Error('the calls do not divide evenly');
  const hands = deal(calls, connections);
  let started = 0;
  let last = 0;
  const options = {
    url: address,
    connections,
    amount: calls.length,
    timeout: 60,
    setupClient: (client: autocannon.Client) =>
      client.setRequests((hands.pop() ?? []) as autocannon.Request[]),
  };
  const result = await new Promise<autocannon.Result>((resolve, reject) => {
    const instance = autocannon(options, (error, answer) =>
      error ? reject(error) : resolve(answer),
    );
    instance.on('start', () => {
      started = performance.now();
    });
    instance.on('response', () => {
      last = performance.now();
    });
  });
  const statuses = Object.fromEntries(
    Object.entries(result.statusCodeStats ?? {}).map(([status, { count }]) => [status, count ?? 0]),
  );
  const answered = Object.values(statuses).reduce((sum, count) => sum + count, 0);
  if (answered !== calls.length || result.errors > 0) {
    throw new Error(`${answered} of ${calls.length} calls answered, ${result.errors} errors`);
  }
  return { rate: (calls.length / (last - started)) * 1000, statuses };
}

/** @throws Error unless every answer has one of these statuses */
export function assertStatuses(statuses: Record<string, number>, ...wanted: string[]): void {
  const others = Object.keys(statuses).filter((status) => !wanted.includes(status));
  if (others.length > 0) throw new Error(`unwanted answers: ${JSON.stringify(statuses)}`);
}

export interface OpenLoop {
  /** Milliseconds from the moment each call was sent to the end of its answer. */
  latencies: number[];
  statuses: Record<string, number>;
}

/**
 * Sends calls at a fixed rate a second, whether or not earlier ones are answered: no send
 * waits for the service, so that a slow answer delays no other call's beginning. (A timer
 * fires up to a millisecond late; that is the client's, and is not counted.)
 */
export async function openLoop(
  address: string,
  calls: readonly Call[],
  ratePerSecond: number,
): Promise<OpenLoop> {
  const connections = new Connections(address);
  const requests = calls.map(requestOf);
  const latencies = new Float64Array(calls.length);
  const statuses: Record<string, number> = {};
  const interval = 1000 / ratePerSecond;
  const begun = performance.now();
  const sendOne = async (request: Buffer, i: number): Promise<void> => {
    const sentAt = performance.now();
    const status = await connections.send(request);
    latencies[i] = performance.now() - sentAt;
    statuses[status] = (statuses[status] ?? 0) + 1;
  };
  const answers: Promise<void>[] = [];
  for (const [i, request] of requests.entries()) {
    const wait = begun + i * interval - performance.now();
    if (wait > 0) await sleep(wait);
    answers.push(sendOne(request, i));
  }
  await Promise.all(answers);
  connections.close();
  return { latencies: [...latencies], statuses };
}

export interface Answer {
  status: number;
  headers: IncomingHttpHeaders;
  body: string;
  /** Milliseconds from the moment it was sent to the end of its answer. */
  ms: number;
}

/** The same with all that was answered. */
export async function ask(address: string, call: Call, agent: Agent): Promise<Answer> {
  const sentAt = performance.now();
  const answer = await answerTo(address, call, agent);
  const body = await text(answer);
  const ms = performance.now() - sentAt;
  return { status: answer.statusCode ?? 0, headers: answer.headers, body, ms };
}

const GIVE_UP_MS = 60_000;

/** The head of a call's answer. @throws Error where none comes within a minute */
function answerTo(address: string, call: Call, agent: Agent): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    const { method, path, headers, body } = call;
    const length = body === undefined ? {} : { 'content-length': Buffer.byteLength(body) };
    const sent = request(
      new URL(path, address),
      { method, agent, headers: { ...headers, ...length }, timeout: GIVE_UP_MS },
      resolve,
    );
    sent.once('timeout', () => sent.destroy(new Error('no answer within a minute')));
    sent.once('error', reject);
    sent.end(body);
  });
}
