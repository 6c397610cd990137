import { setTimeout as sleep } from 'node:timers/promises';
import { Connections, requestOf } from '../support/connections.js';
import type { Call } from '../support/load.js';

/** One scan: when it was due, on the clock of `performance.now`, and how long after its answer came. */
export interface Scan {
  due: number;
  ms: number;
  status: number;
}

export interface Scanning {
  /** Ends the scanning, waits for the last answers, and gives every scan. */
  stop(): Promise<Scan[]>;
}

/** Status of a call that got no answer. */
const NO_ANSWER = 0;

/**
 * Sends calls at a fixed rate a second until stopped, whether or not earlier ones are
 * answered: an `openLoop` whose end is not known when it begins.
 * @throws Error from `stop` when the calls did not last
 */
export function scanSteadily(
  address: string,
  calls: readonly Call[],
  ratePerSecond: number,
): Scanning {
  const connections = new Connections(address);
  const requests = calls.map(requestOf);
  const scans: Promise<Scan>[] = [];
  let going = true;
  const scanOne = async (request: Buffer, due: number): Promise<Scan> => {
    const status = await connections.send(request).catch(() => NO_ANSWER);
    return { due, ms: performance.now() - due, status };
  };
  const scanning = (async () => {
    const begun = performance.now();
    for (const [i, request] of requests.entries()) {
      const due = begun + (i * 1000) / ratePerSecond;
      const wait = due - performance.now();
      if (wait > 0) await sleep(wait);
      if (!going) return;
      scans.push(scanOne(request, due));
    }
  })();
  return {
    async stop() {
      going = false;
      await scanning;
      const answered = await Promise.all(scans);
      connections.close();
      if (answered.length === calls.length) throw new Error('the scans ran out');
      return answered;
    },
  };
}
