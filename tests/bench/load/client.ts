import { randomUUID } from 'node:crypto';
import { Agent } from 'node:http';
import { ask, type Call, get, post } from '../support/load.js';

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
