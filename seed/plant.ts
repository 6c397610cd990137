import { parse } from 'csv-parse/sync';
import type { Caller } from './caller.js';
import { seedJson, seedText } from './files.js';
import type { Staff } from './staff.js';

export interface SeedPart {
  number: string;
  revision: string;
  name: string;
  tracking: 'serial' | 'lot';
  class?: string;
  gtin?: string;
}

interface Catalogue {
  partClasses: { code: string; name: string }[];
  parts: SeedPart[];
  models: { code: string; name: string }[];
}

interface SeedOrder {
  number: string;
  model: string;
  quantity: number;
  dueInDays: number;
  priority: number;
}

const DAY_MS = 24 * 60 * 60 * 1000;

/** The catalogue as the seed files have it, for whoever prints labels. */
export function readCatalogue(): Catalogue {
  return seedJson<Catalogue>('catalogue.json');
}

/** Loads the catalogue, approves it, and opens the orders: what an office does before a shift. */
export async function furnishPlant(staff: Staff, nowMs: number): Promise<void> {
  const { owner, quality } = staff;
  const { partClasses, parts, models } = readCatalogue();
  for (const one of partClasses) await owner.tell('/v1/part-classes', one);
  for (const one of parts) await owner.tell('/v1/parts', one);
  for (const one of models) await owner.tell('/v1/models', one);
  for (const one of seedJson<object[]>('repair-codes.json')) {
    await quality.tell('/v1/repair-codes', one);
  }
  await owner.tellCsv('/v1/configurations/import', seedText('configurations.csv'));
  await approveDrafts(staff.secondOwner, '/v1/configurations');
  await quality.tellCsv('/v1/specifications/import', seedText('specifications.csv'));
  await approveDrafts(staff.secondQuality, '/v1/specifications');
  for (const { dueInDays, ...order } of seedJson<SeedOrder[]>('orders.json')) {
    const dueOn = new Date(nowMs + dueInDays * DAY_MS).toISOString().slice(0, 10);
    await owner.tell('/v1/orders', { ...order, dueOn });
  }
}

/** The second person puts every draft in force, now or from a time on. */
export async function approveDrafts(
  approver: Caller,
  table: '/v1/configurations' | '/v1/specifications',
  effectiveFromMs?: number,
): Promise<void> {
  const drafts = await approver.askAll<{ id: number }>(`${table}?state=draft`);
  const body =
    effectiveFromMs === undefined ? {} : { effectiveFrom: new Date(effectiveFromMs).toISOString() };
  for (const { id } of drafts) await approver.tell(`${table}/${id}/approval`, body);
}

/** Which parts in which colour a configuration joins: what the racks are sorted by. */
export interface Lane {
  model: string;
  powerhead: string;
  lowerUnit: string;
  colour: string;
}

/** The lanes by configuration code. */
export function readLanes(): Map<string, Lane> {
  const rows = parse(seedText('configurations.csv'), { columns: true }) as Record<string, string>[];
  return new Map(
    rows.map((row) => {
      const { colour } = JSON.parse(row.attributes ?? '{}') as { colour: string };
      const lane = {
        model: row.model ?? '',
        powerhead: row.powerheadNumber ?? '',
        lowerUnit: row.lowerUnitNumber ?? '',
        colour,
      };
      return [row.code ?? '', lane];
    }),
  );
}
