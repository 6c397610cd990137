import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { LivedIn } from '../fuzz/support/lived-in.js';
import { type Operation, operations } from '../fuzz/support/operations.js';
import type { TestPlant } from '../support/plant.js';
import { commandHeaders, exchange, exchangeText, portOf } from '../support/wire.js';

/** Text that would end a literal, a comment or a statement where values were pasted into SQL. */
const payloads = [
  "' OR '1'='1",
  "x' OR 1=1 --",
  "x'; DROP TABLE api_keys; --",
  'x" OR "1"="1',
  "x' UNION SELECT id, secret_hash, name FROM api_keys --",
  '1 OR 1=1',
  "x%' OR 1 LIKE '%",
  '0); DELETE FROM events; --',
  "char(39)||(SELECT hex(secret_hash) FROM api_keys)||'",
];

let life: LivedIn;
let plant: TestPlant;
beforeAll(async () => {
  life = await LivedIn.start();
  plant = life.plant;
});
afterAll(() => plant.stop());

/** The shape of the database, and the keys in it: what no request may change. */
function foundations(): unknown {
  const db = new Database(plant.service.store.path, { readonly: true });
  const shape = db.prepare('SELECT type, name, sql FROM sqlite_master ORDER BY name').all();
  const keys = db.prepare('SELECT id, name, hex(secret_hash), roles FROM api_keys').all();
  db.close();
  return { shape, keys };
}

function assertHarmless(told: string, { status, text }: { status: number; text: string }): void {
  expect(status, `${told}\n${text.slice(0, 300)}`).toBeLessThan(500);
  expect(text, told).not.toMatch(/SQLITE|syntax error|secret_hash.{3}[0-9A-F]{10}/i);
}

/** A question's address with what it must have, each parameter with something known. */
function addressOf(operation: Operation, own: Record<string, string> = {}): string {
  const path = operation.path.replaceAll(/\{(\w+)\}/g, (_, name: string) =>
    encodeURIComponent(own[name] ?? life.known.ofPath(name)[0] ?? '1'),
  );
  const query = new URLSearchParams();
  for (const { in: place, name, required } of operation.parameters) {
    if (place !== 'query') continue;
    if (own[name] !== undefined) query.set(name, own[name]);
    else if (required) query.set(name, String(life.known.of(name)[0] ?? 'F100L'));
  }
  return `${path}?${query}`;
}

const asks = operations.filter((one) => one.method === 'get');
const keyOf = ({ roles }: Operation) => (roles === 'any' ? 'read' : (roles[0] ?? 'read'));

describe('SQL in what is asked for (API8)', () => {
  it.each(asks.map((one): [string, Operation] => [one.name, one]))(
    '%s finds nothing by it',
    async (_name, operation) => {
      for (const { in: place, name } of operation.parameters) {
        if (place === 'header') continue;
        for (const payload of payloads) {
          const path = addressOf(operation, { [name]: payload });
          const answer = await exchange(plant, { path, as: keyOf(operation) });
          assertHarmless(path, answer);
          const rows = (answer.body.items ?? []) as unknown[];
          if (answer.status === 200) expect(rows, path).toEqual([]);
        }
      }
    },
  );

  it('has left the database as it was', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

type Path = readonly (string | number)[];

/** The places of every text in a body. */
function textsIn(value: unknown, at: Path = []): Path[] {
  if (typeof value === 'string') return [at];
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([name, one]) =>
    textsIn(one, [...at, Array.isArray(value) ? Number(name) : name]),
  );
}

function withText(value: unknown, at: Path, text: string): unknown {
  const [first, ...rest] = at;
  if (first === undefined) return text;
  const copy = structuredClone(value) as Record<string | number, unknown>;
  copy[first] = withText(copy[first], rest, text);
  return copy;
}

const commands = operations.filter((one) => one.body?.media === 'application/json');

describe('SQL in what is sent (API8)', () => {
  let before: unknown;
  beforeAll(() => {
    before = foundations();
  });

  it.each(commands.map((one): [string, Operation] => [one.name, one]))(
    '%s keeps it as text or refuses it, in every member',
    async (_name, operation) => {
      const [taken] = life.corpus.get(operation.name) ?? [];
      // Every command is in the plant's life: without a body that is taken this would try nothing.
      expect(taken).toBeDefined();
      const method = operation.method.toUpperCase();
      for (const [i, at] of textsIn(taken?.body).entries()) {
        const payload = payloads[i % payloads.length] ?? '';
        // Names of keys are looked at below, and must not be new.
        if (operation.path === '/v1/keys' && at[0] === 'name') continue;
        const body = JSON.stringify(withText(taken?.body, at, payload));
        const headers = commandHeaders({ 'If-Match': '"v1"' });
        const sent = { method, path: taken?.path ?? '', as: keyOf(operation), headers, body };
        assertHarmless(`${operation.name} ${body}`, await exchange(plant, sent));
      }
    },
  );

  it('comes out again letter by letter, and into the next question as text', async () => {
    for (const [i, name] of payloads.entries()) {
      const part = { number: `SQL-${i}`, revision: 'A', name, tracking: 'lot' };
      await plant.make('configuration', '/v1/parts', part);
    }
    const parts = await plant.get('read', '/v1/parts?limit=1000');
    const names = (parts.body.items as { name: string }[]).map((one) => one.name);
    for (const payload of payloads) expect(names).toContain(payload);
  });

  it('has left the tables, the keys and the evidence as they were', () => {
    expect(foundations()).toEqual(before);
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

describe('text that would break a line of the log or a header (API8)', () => {
  const marks = ['\r\n', '\n', '\r', '\u001b[2J', '\u001b]0;x\u0007', '\u0000', '\u2028', '\u0085'];

  it('is refused of a reason, and of a serial, and stands in no line of the log', async () => {
    plant.logLines.length = 0;
    for (const mark of marks) {
      const body = { class: 'powerhead', unit: `P${mark}1`, cause: 'quality', reason: `a${mark}b` };
      const sent = { method: 'POST', path: '/v1/holds', as: 'set', headers: commandHeaders() };
      const answer = await exchange(plant, { ...sent, body: JSON.stringify(body) });
      expect(answer.status).toBe(400);
      const escaped = encodeURIComponent(`P00001${mark}x`);
      const asked = await exchange(plant, { path: `/v1/history?serial=${escaped}`, as: 'read' });
      expect([400, 404, 422]).toContain(asked.status);
      await exchange(plant, { path: `/v1/${escaped}`, as: 'read' });
    }
    expect(plant.logLines.length).toBeGreaterThanOrEqual(3 * marks.length);
    for (const line of plant.logLines) {
      expect(line).toMatch(/^\{[^\p{Cc}\u2028\u2029]+\}\n$/u);
      expect(JSON.parse(line)).toBeTypeOf('object');
    }
  });

  it.each([
    ['a line end and a header of its own', 'x\r\nSet-Cookie: stolen=1'],
    ['a bare line feed', 'x\nSet-Cookie: stolen=1'],
    ['a bare carriage return', 'x\rSet-Cookie: stolen=1'],
    ['an escape sequence', '\u001b[31mred'],
    ['NUL', 'x\u0000y'],
    ['the end of a line of JSON', '"}\\n{"level":60,"msg":"forged'],
  ])('is no request id, which is answered with and logged: %s', async (_name, id) => {
    plant.logLines.length = 0;
    const answer = await exchangeText(
      portOf(plant),
      `GET /v1/nothing HTTP/1.1\r\nHost: x\r\nConnection: close\r\nAuthorization: Bearer ${plant.tokens.get('read')}\r\nX-Request-Id: ${id}\r\n\r\n`,
    );
    const [head = ''] = answer.split('\r\n\r\n', 1);
    expect(head).toMatch(/^HTTP\/1\.1 (400|404) /);
    expect(head).not.toMatch(/stolen|forged/);
    expect(head.replaceAll('\r\n', '')).not.toMatch(/\p{Cc}/u);
    for (const line of plant.logLines) {
      const { requestId } = JSON.parse(line) as { requestId: string };
      expect(requestId).toMatch(/^[\w.:-]{1,64}$/);
    }
  });

  it('does not get into a Location', async () => {
    const number = 'A/../B.C/D';
    const order = { number, model: 'F100L', quantity: 1, dueOn: '2026-03-10' };
    const sent = {
      method: 'POST',
      path: '/v1/orders',
      as: 'configuration',
      headers: commandHeaders(),
    };
    const made = await exchange(plant, { ...sent, body: JSON.stringify(order) });
    const there = new URL(made.headers.location ?? '', 'http://x').pathname;
    expect((await exchange(plant, { path: there, as: 'read' })).body.number).toBe(number);
  });
});
