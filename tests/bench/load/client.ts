import { randomUUID } from 'node:crypto';
import { Agent, request } from 'node:http';
import { type Call, get, post } from '../support/load.js';

export interface Answer {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  body: string;
  ms: number;
}

const GIVE_UP_MS = 60_000;

/** Sends a call and reads its whole answer. @throws Error where none comes within a minute */
export function ask(address: string, call: Call, agent: Agent): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const { method, path, headers, body } = call;
    const length = body === undefined ? {} : { 'content-length': Buffer.byteLength(body) };
    const begun = performance.now();
    const sent = request(
      new URL(path, address),
      { method, agent, headers: { ...headers, ...length }, timeout: GIVE_UP_MS },
      (answer) => {
        const parts: Buffer[] = [];
        answer.on('data', (part: Buffer) => parts.push(part));
        answer.once('end', () =>
          resolve({
            status: answer.statusCode ?? 0,
            headers: answer.headers,
            body: Buffer.concat(parts).toString(),
            ms: performance.now() - begun,
          }),
        );
      },
    );
    sent.once('timeout', () => sent.destroy(new Error('no answer within a minute')));
    sent.once('error', reject);
    sent.end(body);
  });
}

/** A caller that keeps how long each of its calls took, and every answer that it did not want. */
export class Caller {
  readonly #agent = new Agent({ keepAlive: true });
  readonly latencies: number[] = [];
  readonly unwanted: string[] = [];

  constructor(
    private readonly address: string,
    private readonly token: string,
  ) {}

  /** A command; its answer's body. */
  post<T>(path: string, body: unknown): Promise<T> {
    return this.#send(post(this.token, path, randomUUID(), body));
  }

  /** A question; its answer's body where it is JSON. */
  get<T>(path: string): Promise<T> {
    return this.#send(get(this.token, path));
  }

  end(): void {
    this.#agent.destroy();
  }

  async #send<T>(call: Call): Promise<T> {
    const { status, headers, body, ms } = await ask(this.address, call, this.#agent);
    this.latencies.push(ms);
    if (status >= 300) {
      this.unwanted.push(`${call.method} ${call.path} answered ${status}: ${body.slice(0, 300)}`);
    }
    const isJson = String(headers['content-type']).includes('json');
    return (isJson ? JSON.parse(body) : body) as T;
  }
}
