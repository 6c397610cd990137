import Database from 'better-sqlite3';
import { expect } from 'vitest';
import type { TestPlant } from './plant.js';

export interface Scans {
  powerhead: string;
  lowerUnit: string;
  order?: string;
}

/** What a repeated scan may add to; every other table has to stay as it was. */
const evidence = ['events', 'event_units', 'idempotency', 'set_attempts', 'step_daily'];

/** Every row of every state table, as the database file holds them. */
export function tablesOf(plant: TestPlant): Record<string, unknown[]> {
  const db = new Database(plant.service.store.path, { readonly: true });
  try {
    const tables = db
      .prepare<[], { name: string }>("SELECT name FROM sqlite_master WHERE type = 'table'")
      .all()
      .map((table) => table.name)
      .filter((name) => !name.startsWith('sqlite_') && !evidence.includes(name));
    return Object.fromEntries(
      tables.map((name) => [name, db.prepare(`SELECT * FROM ${name}`).all()]),
    );
  } finally {
    db.close();
  }
}

/** Address of the dry check of a pair. */
export function checkAddress({ powerhead, lowerUnit, order }: Scans): string {
  const scans = { powerhead, lowerUnit, ...(order === undefined ? {} : { order }) };
  return `/v1/sets/check?${new URLSearchParams(scans)}`;
}

interface Attempt {
  outcome: string;
  detail: string;
  station: string;
  motor: string | null;
}

export async function attemptsOf(plant: TestPlant): Promise<Attempt[]> {
  return (await plant.get('read', '/v1/set-attempts?limit=1000')).body.items;
}

interface Refusal {
  slug: string;
  status: number;
  /** The operator's whole sentence. */
  detail: string;
  /** Serials in whose timeline the refusal has to stand. */
  units?: string[];
  [member: string]: unknown;
}

/**
 * Checks and then sets a pair that must be refused: the dry check answers the same and
 * writes nothing; the set is recorded as one attempt and one event; no state changes.
 * @returns the problem document that the set answered
 */
export async function expectRefusal(
  plant: TestPlant,
  scans: Scans,
  { slug, status, detail, units = [], ...members }: Refusal,
): Promise<Record<string, unknown>> {
  const problem = { type: `/problems/${slug}`, status, detail, ...members };
  const state = tablesOf(plant);
  const events = plant.eventCount();
  const attempts = await attemptsOf(plant);

  const checked = await plant.get('read', checkAddress(scans));
  expect(checked.status).toBe(status);
  expect(checked.body).toMatchObject(problem);
  expect(plant.eventCount()).toBe(events);
  expect(await attemptsOf(plant)).toEqual(attempts);

  const station = 'SET-9';
  const refused = await plant.post('set', '/v1/sets', { ...scans, station });
  expect(refused.status).toBe(status);
  expect(refused.headers['content-type']).toContain('application/problem+json');
  expect(refused.body).toMatchObject(problem);
  expect(tablesOf(plant)).toEqual(state);

  const [added, ...more] = (await attemptsOf(plant)).slice(attempts.length);
  expect(more).toEqual([]);
  expect(added).toMatchObject({
    outcome: slug,
    detail,
    station,
    by: 'set key',
    motor: null,
    powerhead: scans.powerhead,
    lowerUnit: scans.lowerUnit,
    order: scans.order ?? null,
  });
  expect(plant.eventCount()).toBe(events + 1);
  const event = (await plant.get('read', '/v1/events?limit=1000')).body.items.at(-1);
  expect(event).toMatchObject({ kind: 'pair.refused', station, actor: 'set key' });
  expect(event.text).toContain(detail);
  expect([...event.units].sort()).toEqual([...units].sort());
  return refused.body;
}
