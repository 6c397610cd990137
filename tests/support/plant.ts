import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import supertest, { type Response } from 'supertest';
import { addKey } from '../../src/access/actions.js';
import type { Role } from '../../src/access/schema.js';
import type { RunningService } from '../../src/service.js';
import { startService } from '../../src/service.js';
import type { Settings } from '../../src/settings.js';
import { assertDocumented } from './document-check.js';

/** 2 March 2026, 06:00 UTC: an invented Monday. */
export const START = Date.UTC(2026, 2, 2, 6);

export const settings: Settings = {
  timeZone: 'UTC',
  serialFormat: { prefix: 'T', digits: 6, withYear: true },
};

const roles: Role[] = ['set', 'cell', 'repair', 'quality', 'configuration', 'admin', 'read'];

export interface Sent {
  headers?: Record<string, string>;
  /** Skip the check against the API document, for requests that no route describes. */
  undocumented?: boolean;
}

/** A real service on a fresh database file, with a clock of its own and a key for each role. */
export class TestPlant {
  now = START;
  readonly tokens = new Map<string, string>();
  logLines: string[] = [];

  private constructor(
    readonly service: RunningService,
    readonly folder: string,
    /** Shared with the service: the one place where time passes. */
    private readonly time: { now: number },
  ) {}

  /** @param own settings that differ from the usual ones of tests */
  static async start(
    folder = mkdtempSync(join(tmpdir(), 'skeg-test-')),
    own: Partial<Settings> = {},
  ): Promise<TestPlant> {
    const time = { now: START };
    const lines: string[] = [];
    const log = pino({ level: 'debug' }, { write: (line: string) => void lines.push(line) });
    const service = await startService({
      path: join(folder, 'skeg.db'),
      host: '127.0.0.1',
      port: 0,
      settings: { ...settings, ...own },
      clock: () => time.now,
      log,
    });
    const plant = new TestPlant(service, folder, time);
    plant.logLines = lines;
    await plant.makeKeys();
    return plant;
  }

  /** Lets time pass. */
  wait(ms: number): void {
    this.time.now += ms;
    this.now = this.time.now;
  }

  private async makeKeys(): Promise<void> {
    for (const role of [...roles, 'configuration 2', 'quality 2']) {
      const name = `${role} key`;
      const token = await this.service.store.command((plant) => {
        const known = plant.access.byName(name);
        if (known) return undefined;
        return addKey(plant, { name, roles: [role.split(' ')[0] as Role] }, START).token;
      });
      if (token) this.tokens.set(role, token);
    }
  }

  get(as: string, address: string, sent: Sent = {}): Promise<Response> {
    return this.send('get', as, address, undefined, sent);
  }

  /** Posts with a fresh Idempotency-Key unless `sent` brings one. */
  post(as: string, address: string, body: unknown, sent: Sent = {}): Promise<Response> {
    const headers = { 'Idempotency-Key': randomUUID(), ...sent.headers };
    return this.send('post', as, address, body, { ...sent, headers });
  }

  put(as: string, address: string, body: unknown, sent: Sent = {}): Promise<Response> {
    const headers = { 'Idempotency-Key': randomUUID(), ...sent.headers };
    return this.send('put', as, address, body, { ...sent, headers });
  }

  /** Posts and throws unless the answer is a success: for arranging. */
  async make<T = Record<string, never>>(as: string, address: string, body: unknown): Promise<T> {
    const answer = await this.post(as, address, body);
    if (answer.status >= 300) throw new Error(`${address}: ${answer.status} ${answer.text}`);
    return answer.body as T;
  }

  private async send(
    method: 'get' | 'post' | 'put',
    as: string,
    address: string,
    body: unknown,
    sent: Sent,
  ): Promise<Response> {
    let request = supertest(this.service.server)[method](address);
    const token = this.tokens.get(as);
    if (token) request = request.set('Authorization', `Bearer ${token}`);
    for (const [name, value] of Object.entries(sent.headers ?? {})) {
      request = request.set(name, value);
    }
    const answer = await (body === undefined ? request : request.send(body as object));
    if (!sent.undocumented) assertDocumented(method, address, answer);
    return answer;
  }

  eventCount(): number {
    return this.service.store.reading.journal.count();
  }

  async stop(): Promise<void> {
    await this.service.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
