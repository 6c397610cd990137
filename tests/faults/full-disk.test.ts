import { mkdtempSync, rmSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import { pino } from 'pino';
import supertest from 'supertest';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addKey } from '../../src/access/actions.js';
import { makeApp } from '../../src/app.js';
import { makeMetrics } from '../../src/http/metrics.js';
import { packageFile } from '../../src/package-root.js';
import { connectPlant, type Plant } from '../../src/plant.js';
import { Store } from '../../src/store/store.js';
import { START, settings } from '../support/plant.js';

let folder: string;
let writer: Database;
let store: Store<Plant>;
let server: Server;
let token: string;

// The application on a store whose writing connection can be told how large the file may be.
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'skeg-full-'));
  const connections: Database[] = [];
  store = new Store<Plant>({
    path: join(folder, 'skeg.db'),
    migrationsFolder: packageFile('migrations'),
    connect: (db) => {
      connections.push(db);
      return connectPlant(db);
    },
  });
  const found = connections.find((db) => !db.readonly);
  if (!found) throw new Error('no writing connection');
  writer = found;
  const app = makeApp({
    store,
    clock: () => START,
    settings,
    log: pino({ level: 'silent' }),
    metrics: makeMetrics({
      queue: () => store.waiting,
      logBytes: () => store.logBytes(),
      questions: () => 0,
      lastBackupMs: () => 0,
    }),
    ready: () => store.writable,
    inWorker: () => Promise.reject(new Error('no workers here')),
    trustedProxies: 0,
  });
  server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const draft = { name: 'owner', roles: ['configuration' as const] };
  token = await store.command((plant) => addKey(plant, draft, START).token);
});
afterAll(async () => {
  await new Promise((resolve) => server.close(resolve));
  store.close();
  rmSync(folder, { recursive: true, force: true });
});

let keys = 0;
function addPart(number: string, key?: string) {
  keys += 1;
  return supertest(server)
    .post('/v1/parts')
    .set('Authorization', `Bearer ${token}`)
    .set('Idempotency-Key', key ?? `key-${keys}`)
    .send({ number, revision: 'A', name: 'x'.repeat(80), tracking: 'lot' });
}
const ask = (path: string) => supertest(server).get(path).set('Authorization', `Bearer ${token}`);
const ready = async () => (await supertest(server).get('/health/ready')).status;

/** Adds parts until the file may not grow any more; returns the refused number. */
async function fill(): Promise<string> {
  for (let i = 0; i < 500; i += 1) {
    const number = `F-${keys}`;
    const answer = await addPart(number);
    if (answer.status !== 201) {
      expect(answer.status).toBe(503);
      return number;
    }
  }
  throw new Error('the disk never became full');
}

describe('a full disk', () => {
  it('refuses commands with 503, answers questions, and is over without a restart', async () => {
    expect((await addPart('P-1')).status).toBe(201);
    const pages = Number(writer.pragma('page_count', { simple: true }));
    writer.pragma(`max_page_count = ${pages + 2}`);
    const lost = await fill();
    const events = store.reading.journal.count();

    const refused = await addPart('P-2', 'kept-trying');
    expect(refused.status).toBe(503);
    expect(refused.type).toBe('application/problem+json');
    expect(refused.body.type).toBe('/problems/storage-unavailable');
    expect(refused.headers['retry-after']).toBe('1');
    expect(refused.text).not.toMatch(/sqlite|full/i);
    expect(await ready()).toBe(503);

    const parts = await ask('/v1/parts?limit=1000');
    expect(parts.status).toBe(200);
    const numbers = (parts.body.items as { number: string }[]).map((one) => one.number);
    expect(numbers).toContain('P-1');
    expect(numbers).not.toContain(lost);
    expect(numbers).not.toContain('P-2');
    expect(store.reading.journal.count()).toBe(events);
    expect((await supertest(server).get('/health/live')).status).toBe(200);

    writer.pragma('max_page_count = 1000000');
    const again = await addPart('P-2', 'kept-trying');
    expect(again.status).toBe(201);
    expect(again.headers['idempotency-replayed']).toBeUndefined();
    expect(await ready()).toBe(200);
    expect((await addPart(lost)).status).toBe(201);
    expect(store.reading.journal.count()).toBe(events + 2);
  });

  it('loses no command that was answered, and none half', async () => {
    const pages = Number(writer.pragma('page_count', { simple: true }));
    writer.pragma(`max_page_count = ${pages + 1}`);
    const numbers = Array.from({ length: 120 }, (_, i) => `B-${i}`);
    const answers = await Promise.all(numbers.map((number) => addPart(number)));
    writer.pragma('max_page_count = 1000000');
    expect(new Set(answers.map((one) => one.status))).toEqual(new Set([201, 503]));
    const acknowledged = numbers.filter((_, i) => answers[i]?.status === 201);
    const parts = await ask('/v1/parts?limit=1000');
    const kept = (parts.body.items as { number: string }[])
      .map((one) => one.number)
      .filter((number) => number.startsWith('B-'));
    expect(kept.toSorted()).toEqual(acknowledged.toSorted());
    const events = store.reading.journal
      .after(0, 10_000)
      .filter((row) => row.kind === 'part.added');
    expect(events).toHaveLength(Number(writer.prepare('SELECT COUNT(*) FROM parts').pluck().get()));
    expect(writer.pragma('integrity_check', { simple: true })).toBe('ok');
  });
});
