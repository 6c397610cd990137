/**
 * The journal's chain, computed again from the raw table with nothing but node:crypto's
 * SHA-256 (FIPS 180-4), so that somebody without this program can do the same.
 */
import { createHash } from 'node:crypto';
import { join } from 'node:path';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CHAIN_START, chainHash } from '../../src/journal/chain.js';
import { TestPlant } from '../support/plant.js';
import { failing, furnish, runMotor, setMotor } from '../support/scenario.js';

interface Row {
  seq: number;
  recorded_at_ms: number;
  occurred_at_ms: number;
  key_id: number;
  station: string | null;
  kind: string;
  units: string;
  content: string;
  hash: Buffer;
}

/** The number of the first row whose hash does not follow from all before it; 0 for none. */
function firstBroken(rows: Row[]): number {
  let previous = Buffer.alloc(32);
  for (const [index, row] of rows.entries()) {
    const stated = [
      row.seq,
      row.recorded_at_ms,
      row.occurred_at_ms,
      row.key_id,
      row.station,
      row.kind,
      row.units,
      row.content,
    ];
    const hash = createHash('sha256')
      .update(Buffer.concat([previous, Buffer.from(JSON.stringify(stated), 'utf8')]))
      .digest();
    if (row.seq !== index + 1 || !hash.equals(row.hash)) return index + 1;
    previous = hash;
  }
  return 0;
}

describe('the chain of events', () => {
  let plant: TestPlant;
  let db: Database;
  let rows: Row[];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const { motor, powerhead } = await setMotor(plant);
    await runMotor(plant, motor, failing);
    await plant.post('set', '/v1/sets', { powerhead, lowerUnit: 'NOBODY', station: 'SET-1' });
    const note = 'Kratzer “außen”, 0,5 mm — 傷 \u{1F527}';
    await plant.make('set', '/v1/holds', { class: 'motor', unit: motor, cause: 'q', reason: note });
    db = new BetterSqlite3(join(plant.folder, 'skeg.db'));
    rows = db.prepare<[], Row>('SELECT * FROM events ORDER BY seq').all();
  });
  afterAll(async () => {
    db.close();
    await plant.stop();
  });

  it('follows from the raw table, whatever letters stand in it', () => {
    expect(rows.length).toBe(plant.eventCount());
    expect(rows.length).toBeGreaterThan(20);
    expect(rows.at(-1)?.content).toContain('傷');
    expect(firstBroken(rows)).toBe(0);
  });

  it('is what the program computes', () => {
    const [first] = rows;
    const row = {
      seq: 1,
      recordedAtMs: first?.recorded_at_ms ?? 0,
      occurredAtMs: first?.occurred_at_ms ?? 0,
      keyId: first?.key_id ?? 0,
      station: first?.station ?? null,
      kind: first?.kind ?? '',
      units: first?.units ?? '',
      content: first?.content ?? '',
    };
    expect(chainHash(CHAIN_START, row)).toEqual(first?.hash);
  });

  it('breaks at a row whose least part was changed', () => {
    const changes: Partial<Row>[] = [
      { recorded_at_ms: 1 },
      { occurred_at_ms: 1 },
      { key_id: 99 },
      { station: 'SET-9' },
      { kind: 'unit.scrapped' },
      { units: '[1,2,3]' },
      { content: `${rows[9]?.content} ` },
      { hash: Buffer.alloc(32, 1) },
    ];
    for (const change of changes) {
      const changed = rows.map((row, i) => (i === 9 ? { ...row, ...change } : row));
      expect(firstBroken(changed)).toBe(10);
    }
  });

  it('breaks where a row was removed, also when those after it were numbered anew', () => {
    const without = rows.filter((row) => row.seq !== 10);
    expect(firstBroken(without)).toBe(10);
    expect(firstBroken(without.map((row, i) => ({ ...row, seq: i + 1 })))).toBe(10);
  });

  it('breaks where a row was inserted, two were exchanged or the first is gone', () => {
    const twice = rows.flatMap((row) => (row.seq === 10 ? [row, row] : [row]));
    expect(firstBroken(twice.map((row, i) => ({ ...row, seq: i + 1 })))).toBe(11);
    const order = rows.map((row) => row.seq);
    [order[9], order[10]] = [order[10] ?? 0, order[9] ?? 0];
    const exchanged = order.map((seq, i) => ({ ...(rows[seq - 1] as Row), seq: i + 1 }));
    expect(firstBroken(exchanged)).toBe(10);
    expect(firstBroken(rows.slice(1))).toBe(1);
  });

  it('cannot be changed or shortened by SQL, whoever holds the file', () => {
    const update = () => db.prepare('UPDATE events SET station = NULL WHERE seq = 1').run();
    const remove = () => db.prepare('DELETE FROM events WHERE seq = 1').run();
    expect(update).toThrow('events are append-only');
    expect(remove).toThrow('events are append-only');
    expect(db.prepare<[], Row>('SELECT * FROM events ORDER BY seq').all()).toEqual(rows);
  });
});
