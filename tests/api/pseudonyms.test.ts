import { randomUUID } from 'node:crypto';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { KEEP_ANSWERS_MS } from '../../src/http/idempotency.js';
import type { Route } from '../../src/http/route.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { screens } from '../../src/pages/routes.js';
import { routes } from '../../src/routes.js';
import { backupDatabase } from '../../src/store/backup.js';
import { openReader } from '../../src/store/open.js';
import { liveThroughEverything } from '../support/everything.js';
import { TestPlant } from '../support/plant.js';
import { signIn } from '../support/session.js';
import { exchange, posting, refused } from '../support/wire.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;

interface Person {
  id: number;
  name: string;
}

let plant: TestPlant;
/** Did everything but what needs a second person, and that second person. Both are invented. */
let first: Person;
let second: Person;

async function arrive(name: string, roles: string[], as: string[]): Promise<Person> {
  const { key, token } = await plant.make<{ key: Person; token: string }>('admin', '/v1/keys', {
    name,
    roles,
  });
  for (const one of as) plant.tokens.set(one, token);
  return key;
}

const giveName = (id: number) => posting('admin', `/v1/keys/${id}/pseudonym`, {});

beforeAll(async () => {
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval', 'performance'] });
  plant = await TestPlant.start();
  const roles = ['set', 'cell', 'repair', 'quality', 'configuration'];
  first = await arrive(`person-${randomUUID()}`, roles, roles);
  second = await arrive(
    `person-${randomUUID()}`,
    ['quality', 'configuration'],
    ['quality 2', 'configuration 2'],
  );
  const all = [...roles, 'admin', 'read'];
  await arrive('watcher', all, ['watcher']);
  await liveThroughEverything(plant);
});
afterAll(async () => {
  await plant.stop();
  vi.useRealTimers();
});

/** Every value that an address may be asked with, by the name of its parameter. */
async function knownValues(): Promise<Record<string, readonly unknown[]>> {
  const column = async (address: string, member: string) => {
    const { body } = await plant.get(
      'read',
      `${address}${address.includes('?') ? '&' : '?'}limit=1000`,
    );
    return (body.items as Record<string, unknown>[]).map((one) => one[member]);
  };
  const family = 'TBM26-F100';
  const motors = await column('/v1/units?class=motor', 'serial');
  const halves = await column('/v1/units?class=powerhead', 'serial');
  return {
    configuration: await column('/v1/configurations', 'id'),
    specification: await column('/v1/specifications', 'id'),
    order: await column('/v1/orders', 'number'),
    run: await column('/v1/runs', 'id'),
    repair: await column('/v1/repairs', 'id'),
    containment: await column('/v1/containments', 'id'),
    return: await column('/v1/returns', 'id'),
    model: ['F100L'],
    characteristic: ['water-pressure'],
    chart: await column('/v1/charts', 'id'),
    referenceMotor: await column('/v1/reference-motors', 'id'),
    referenceRun: await column('/v1/reference-runs', 'id'),
    family: [family],
    draw: await column(`/v1/engine-families/${family}/draws`, 'id'),
    result: await column(`/v1/engine-families/${family}/results`, 'id'),
    serial: [...motors, ...halves.slice(0, 3)],
    motor: motors,
    powerhead: await column('/v1/units?class=powerhead&state=accepted', 'serial'),
    lowerUnit: await column('/v1/units?class=lower-unit&state=accepted&onHold=false', 'serial'),
    text: halves.slice(0, 1),
    of: ['symptom', 'cause', 'action', 'characteristic'],
    // Of screens: a state of motors, a page of quality's.
    state: ['in-repair'],
    page: ['charts', 'signals', 'trial', 'runs'],
    step: ['set', 'run', 'hot-test', 'inspection'],
    from: ['1'],
  };
}

/** Every way of writing an address with one known value for each parameter in turn. */
function addressesOf(
  route: Pick<Route, 'path' | 'query'>,
  known: Record<string, readonly unknown[]>,
): string[] {
  const names = [...route.path.matchAll(/\{(\w+)\}/g)].map((found) => found[1] ?? '');
  const query = Object.entries(route.query?.shape ?? {}).filter(
    ([name, schema]) => ['limit', 'serial'].includes(name) || !schema.safeParse(undefined).success,
  );
  let made: string[] = [route.path];
  const spread = (name: string, write: (address: string, value: string) => string) => {
    const values = name === 'limit' ? [1000] : (known[name] ?? ['1']);
    made = made.flatMap((one) =>
      values.map((value) => write(one, encodeURIComponent(String(value)))),
    );
  };
  for (const name of names) spread(name, (one, value) => one.replace(`{${name}}`, value));
  for (const [name] of query) {
    spread(name, (one, value) => `${one}${one.includes('?') ? '&' : '?'}${name}=${value}`);
  }
  return made;
}

interface Asked {
  route: string;
  address: string;
  status: number;
  text: string;
}

/** Every answer that may be asked for, as JSON, CSV or page. */
async function askEverything(): Promise<Asked[]> {
  const known = await knownValues();
  const asked: Asked[] = [];
  const ask = async (route: string, address: string, headers: Record<string, string>) => {
    const { status, text } = await exchange(plant, { path: address, headers });
    asked.push({ route, address, status, text });
  };
  const bearer = { Authorization: `Bearer ${plant.tokens.get('watcher')}` };
  for (const route of routes.filter((one) => one.method === 'get')) {
    for (const address of addressesOf(route, known)) {
      await ask(route.path, address, bearer);
      if (route.kind === 'table') {
        await ask(route.path, address, { ...bearer, Accept: 'text/csv' });
      }
    }
  }
  const cookie = { ...(await signIn(plant, 'watcher')), Accept: 'text/html' };
  for (const screen of screens) {
    for (const address of addressesOf(screen, known)) await ask(screen.path, address, cookie);
  }
  return asked;
}

const routesWith = (asked: readonly Asked[], text: string) => [
  ...new Set(asked.filter((one) => one.text.includes(text)).map((one) => one.route)),
];

/** The tables of a database that have a text anywhere in a row. */
function tablesWith(path: string, text: string): string[] {
  const db = openReader(path);
  try {
    const tables = db
      .prepare<[], string>("SELECT name FROM sqlite_master WHERE type = 'table'")
      .pluck()
      .all();
    return tables.filter((table) =>
      (db.prepare(`SELECT * FROM ${table}`).raw().all() as unknown[][]).some((row) =>
        row.some((value) => {
          const told = Buffer.isBuffer(value) ? value.toString('latin1') : String(value);
          return told.includes(text);
        }),
      ),
    );
  } finally {
    db.close();
  }
}

describe('a key that is to lose its name', () => {
  it('keeps it while it is in force, is unknown or is asked of by another role', async () => {
    const problem = await refused(plant, giveName(first.id), 409, 'key-in-force');
    expect(problem.body.detail).toBe(`Key ${first.name} is in force; revoke it first.`);
    await refused(plant, giveName(999_999), 404, 'key-unknown');
    const asked = (as: string, body: object) =>
      posting(as, `/v1/keys/${second.id}/pseudonym`, body);
    for (const role of ['quality', 'configuration', 'read']) {
      await refused(plant, asked(role, {}), 403, 'forbidden');
    }
    await refused(plant, asked('admin', { name: 'Somebody' }), 400, 'request-invalid');
    const keys = await plant.get('admin', '/v1/keys?limit=1000');
    expect(keys.text).toContain(first.name);
  });

  it('need not have been revoked: an expired one may lose it too', async () => {
    const expiresAt = new Date(plant.now + HOUR).toISOString();
    const { key } = await plant.make<{ key: Person }>('admin', '/v1/keys', {
      ...{ name: 'a summer', roles: ['read'], expiresAt },
    });
    await refused(plant, giveName(key.id), 409, 'key-in-force');
    plant.wait(HOUR);
    const answer = await exchange(plant, giveName(key.id));
    expect(answer.body).toMatchObject({ name: `former key ${key.id}`, revokedAt: null });
  });

  it('gets one that no key may be given beforehand', async () => {
    for (const name of ['former key 1', 'Former key 999', 'former key 0']) {
      const sent = posting('admin', '/v1/keys', { name, roles: ['read'] });
      await refused(plant, sent, 409, 'key-name-taken');
    }
    await plant.make('admin', '/v1/keys', { name: 'former key of the lab', roles: ['read'] });
  });
});

describe('the names of two people who have left', () => {
  let before: Asked[];
  let events: number;

  it('stood in many an answer and in the stored ones, and in no event', async () => {
    before = await askEverything();
    // Each route was asked in a way that it answers, so that a name it tells would be seen.
    const answered = new Set(before.filter((one) => one.status === 200).map((one) => one.route));
    const gets = [...routes.filter((one) => one.method === 'get'), ...screens].map(
      (one) => one.path,
    );
    expect(gets.filter((path) => !answered.has(path))).toEqual([]);
    expect(routesWith(before, first.name)).toEqual(
      expect.arrayContaining([
        ...['/v1/keys', '/v1/configurations', '/v1/specifications', '/v1/holds'],
        ...['/v1/set-attempts', '/v1/runs', '/v1/runs/{run}', '/v1/repairs', '/v1/releases'],
        ...['/v1/history', '/v1/events', '/v1/report', '/v1/containments', '/v1/returns'],
        ...['/v1/charts/{chart}', '/v1/signals', '/v1/reference-motors', '/v1/reference-runs'],
        ...['/v1/engine-families', '/v1/shift-calendars'],
      ]),
    );
    expect(routesWith(before, second.name)).toContain('/v1/specifications/{specification}');
    const { path } = plant.service.store;
    expect(tablesWith(path, first.name)).toEqual(['api_keys', 'idempotency']);
  });

  it('are replaced by a number, told who asks by it, and the journal says so', async () => {
    for (const { id } of [first, second]) {
      await plant.make('admin', `/v1/keys/${id}/revocation`, {});
      const answer = await exchange(plant, giveName(id));
      expect(answer.status).toBe(200);
      expect(answer.body).toMatchObject({ id, name: `former key ${id}` });
    }
    events = plant.eventCount();
    const all = await plant.get('read', '/v1/events?limit=1000');
    expect(all.body.items.slice(-2)).toMatchObject([
      { kind: 'key.revoked' },
      { seq: events, kind: 'key.pseudonymised' },
    ]);
    expect(all.text).not.toContain(second.name);
  });

  it('are in no answer any more, whose figures and rows stay as they were', async () => {
    const after = await askEverything();
    for (const { id, name } of [first, second]) {
      expect(routesWith(after, name)).toEqual([]);
      const told = routesWith(before, name);
      expect(routesWith(after, `former key ${id}`)).toEqual(expect.arrayContaining(told));
    }
    const renamed = (text: string) =>
      [first, second].reduce(
        (told, one) => told.replaceAll(one.name, `former key ${one.id}`),
        text,
      );
    // An order's place, a history's rows: whatever does not tell the time or list keys and events.
    const steady = ['/v1/set-attempts', '/v1/runs/{run}', '/v1/repairs', '/v1/charts/{chart}'];
    const of = (asked: readonly Asked[]) => asked.filter((one) => steady.includes(one.route));
    expect(of(after).length).toBeGreaterThan(20);
    const json = (text: string) => (text.startsWith('{') ? JSON.parse(text) : text);
    expect(of(after).map((one) => json(one.text))).toEqual(
      of(before).map((one) => json(renamed(one.text))),
    );
  });

  it('are not told twice: asking again changes nothing', async () => {
    const before = plant.eventCount();
    plant.wait(1000);
    const again = await exchange(plant, giveName(first.id));
    expect([again.status, again.body.name]).toEqual([200, `former key ${first.id}`]);
    expect(plant.eventCount()).toBe(before);
  });

  it('leave the chain and every table as their events have them', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });

  it('stay in stored answers for seven days, and in no table after that', async () => {
    const { path } = plant.service.store;
    expect(tablesWith(path, first.name)).toEqual(['idempotency']);
    plant.wait(KEEP_ANSWERS_MS + 1);
    // A clock that was set by days is not believed for an hour.
    for (let minutes = 0; minutes <= 60; minutes += 1) {
      vi.advanceTimersByTime(MINUTE);
      await plant.service.store.command(() => undefined);
    }
    for (const { name } of [first, second]) expect(tablesWith(path, name)).toEqual([]);
    expect(verifyDatabase(path).findings).toEqual([]);
  });

  it('are in no row of a backup made then, which verifies', async () => {
    const copy = join(plant.folder, 'after.db');
    await backupDatabase(plant.service.store.path, copy);
    for (const { name } of [first, second]) expect(tablesWith(copy, name)).toEqual([]);
    expect(tablesWith(copy, `former key ${first.id}`)).toEqual(['api_keys']);
    expect(verifyDatabase(copy).findings).toEqual([]);
  });

  it('were never in the log', () => {
    const text = plant.logLines.join('');
    for (const { name } of [first, second]) expect(text).not.toContain(name);
  });
});
