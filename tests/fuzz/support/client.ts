import { Agent, request } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { TestPlant } from '../../support/plant.js';
import { type FuzzRequest, shown } from './twists.js';

export interface FuzzAnswer {
  status: number;
  headers: Record<string, string>;
  text: string;
}

/** Answers that do not come within this are a failure. */
const PATIENCE_MS = 20_000;

/** Sends requests over connections that stay open, as many at a time as are asked for. */
export class FuzzClient {
  readonly #agent: Agent;
  readonly #port: number;

  constructor(
    private readonly plant: TestPlant,
    connections: number,
  ) {
    this.#agent = new Agent({ keepAlive: true, maxSockets: connections });
    this.#port = (plant.service.server.address() as AddressInfo).port;
  }

  /** The answer; undefined for a request that was broken off on purpose. */
  send(sent: FuzzRequest): Promise<FuzzAnswer | undefined> {
    const isWhole = sent.breakOffAt === undefined && sent.headers['Content-Length'] === undefined;
    return new Promise((resolve, reject) => {
      const outgoing = request(
        {
          host: '127.0.0.1',
          port: this.#port,
          method: sent.method,
          path: sent.path,
          headers: this.#headersOf(sent),
          // What was not sent whole leaves a connection that is of no further use.
          agent: isWhole ? this.#agent : false,
        },
        (incoming) => {
          const parts: Buffer[] = [];
          incoming.on('data', (part: Buffer) => parts.push(part));
          incoming.on('error', reject);
          incoming.on('end', () => {
            resolve({
              status: incoming.statusCode ?? 0,
              headers: incoming.headers as Record<string, string>,
              text: Buffer.concat(parts).toString('utf8'),
            });
            if (!isWhole) outgoing.destroy();
          });
        },
      );
      outgoing.setTimeout(PATIENCE_MS, () =>
        outgoing.destroy(new Error(`no answer came to ${shown(sent)}`)),
      );
      outgoing.on('error', (error) => {
        if (sent.breakOffAt === undefined) reject(error);
        else resolve(undefined);
      });
      if (sent.breakOffAt !== undefined) {
        outgoing.write(sent.body?.subarray(0, sent.breakOffAt), () => outgoing.destroy());
      } else if (isWhole) {
        outgoing.end(sent.body);
      } else {
        outgoing.write(sent.body ?? '');
      }
    });
  }

  #headersOf(sent: FuzzRequest): Record<string, string | string[]> {
    const token = sent.as === undefined ? undefined : this.plant.tokens.get(sent.as);
    const chunked = sent.headers['Transfer-Encoding'] !== undefined;
    return {
      ...(token ? { Authorization: `Bearer ${token}` } : {}),
      ...(sent.body && !chunked ? { 'Content-Length': String(sent.body.length) } : {}),
      ...sent.headers,
    };
  }

  close(): void {
    this.#agent.destroy();
  }
}
