import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import BetterSqlite3, { type Database } from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { backupDatabase } from '../../src/store/backup.js';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  runMotor,
  setMotor,
  specificationDraft,
} from '../support/scenario.js';

/** A little of everything that writes a state table. */
async function livedIn(): Promise<TestPlant> {
  const plant = await TestPlant.start();
  await furnish(plant);
  const draft = await plant.make<{ id: number }>(
    'quality',
    '/v1/specifications',
    specificationDraft(),
  );
  const again = { ...specificationDraft(), note: 'Edited' };
  await plant.put('quality', `/v1/specifications/${draft.id}`, again, {
    headers: { 'If-Match': '"v1"' },
  });
  const repaired = await setMotor(plant);
  const first = await runMotor(plant, repaired.motor, failing);
  const pump = await enter(plant, 'fuel-pump');
  await plant.make('repair', `/v1/repairs/${first.repair}/exchanges`, {
    parentClass: 'powerhead',
    parent: repaired.powerhead,
    position: 'fuel-pump',
    fitted: { class: 'fuel-pump', serial: pump },
  });
  await closeRepair(plant, first.repair ?? 0);
  await runMotor(plant, repaired.motor);
  await plant.make('quality', '/v1/releases', { motors: [repaired.motor] });

  const tornDown = await setMotor(plant);
  await plant.make('repair', '/v1/teardowns', {
    motor: tornDown.motor,
    reason: 'Wrong order',
    suspect: ['powerhead'],
  });
  await plant.post('set', '/v1/sets', { ...pairOf(tornDown), station: 'SET-1' });

  const scrapped = await setMotor(plant);
  await runMotor(plant, scrapped.motor, failing);
  await plant.make('quality', '/v1/dispositions', {
    class: 'motor',
    unit: scrapped.motor,
    kind: 'scrap',
    reason: 'Cracked',
  });

  const held = await setMotor(plant);
  const run = await plant.make<{ id: number }>('cell', '/v1/runs', {
    motor: held.motor,
    cell: 'C-9',
  });
  await plant.make('cell', `/v1/runs/${run.id}/batches`, {
    sequence: 3,
    readings: [{ code: 'idle-speed', value: 640 }],
  });
  await plant.make('cell', `/v1/runs/${run.id}/resumption`, { cell: 'C-10' });
  await plant.make('cell', `/v1/runs/${run.id}/abort`, { reason: 'Cell stopped' });
  const hold = await plant.make<{ id: number }>('cell', '/v1/holds', {
    class: 'motor',
    unit: held.motor,
    cause: 'leak',
    reason: 'Drips',
  });
  await plant.make('quality', `/v1/holds/${hold.id}/lift`, { reason: 'Dry' });
  return plant;
}

function pairOf({ powerhead, lowerUnit }: { powerhead: string; lowerUnit: string }) {
  return { powerhead, lowerUnit };
}

describe('verifying a database against its own evidence', () => {
  let plant: TestPlant;
  let file: string;
  let untouched: string;
  beforeAll(async () => {
    plant = await livedIn();
    file = plant.service.store.path;
    untouched = join(plant.folder, 'untouched.db');
    // Not a plain copy: the file of a running service is whole only together with its log.
    await backupDatabase(file, untouched);
  });
  afterAll(() => plant.stop());

  /** A copy of the file, changed behind the service's back. */
  function tampered(name: string, change: (db: Database) => void): string {
    const copy = join(plant.folder, `${name}.db`);
    copyFileSync(untouched, copy);
    const db = new BetterSqlite3(copy);
    const triggers = db
      .prepare<[], { name: string }>("SELECT name FROM sqlite_master WHERE type = 'trigger'")
      .all();
    db.pragma('foreign_keys = OFF');
    for (const trigger of triggers) db.exec(`DROP TRIGGER ${trigger.name}`);
    change(db);
    db.close();
    return copy;
  }

  it('finds nothing while the service runs, and compares every state table', () => {
    const found = verifyDatabase(file);
    expect(found.findings).toEqual([]);
    expect(found.events).toBe(plant.eventCount());
    expect(found.rows).toBeGreaterThan(100);
  });

  it('finds nothing in a copy that was only opened', () => {
    expect(verifyDatabase(tampered('opened', () => {})).findings).toEqual([]);
  });

  it.each([
    [
      'a changed content',
      "UPDATE events SET content = json_set(content, '$.extra', 1) WHERE seq = 30",
    ],
    ['another actor', 'UPDATE events SET key_id = key_id + 1 WHERE seq = 30'],
    ['another time', 'UPDATE events SET occurred_at_ms = occurred_at_ms - 1 WHERE seq = 30'],
    ['other units', "UPDATE events SET units = '[1]' WHERE seq = 30"],
    ['another hash', 'UPDATE events SET hash = randomblob(32) WHERE seq = 30'],
  ])('finds %s, and says at which event', (name, sql) => {
    const file = tampered(name.replaceAll(' ', '-'), (db) => {
      expect(db.prepare(sql).run().changes).toBe(1);
    });
    expect(verifyDatabase(file).findings).toContainEqual({
      seq: 30,
      detail: 'the event or the one before it was changed',
    });
  });

  it('finds a removed event', () => {
    const file = tampered('removed', (db) => db.exec('DELETE FROM events WHERE seq = 31'));
    expect(verifyDatabase(file).findings).toContainEqual({
      seq: 32,
      detail: 'events 31 to 31 are missing',
    });
  });

  it('finds a reading that was changed behind the service’s back', () => {
    const file = tampered('reading', (db) => {
      const packed = db
        .prepare('SELECT packed FROM reading_batches WHERE run_id = 1')
        .pluck()
        .get();
      const changed = Buffer.from(packed as Buffer);
      changed.writeDoubleLE(651, 3);
      db.prepare('UPDATE reading_batches SET packed = ? WHERE run_id = 1').run(changed);
    });
    const details = verifyDatabase(file).findings.map((one) => one.detail);
    expect(details).toContain('the readings of run 1, batch 1, were changed');
  });

  it.each([
    ['units', "UPDATE units SET state = 'released' WHERE class = 'motor' AND state = 'scrapped'"],
    ['orders', 'UPDATE orders SET set_count = 0 WHERE set_count > 0'],
    ['installations', 'DELETE FROM installations WHERE id = 1'],
    ['holds', "UPDATE holds SET reason = 'None' WHERE id = 1"],
    ['yield_counts', 'UPDATE yield_counts SET aborted_runs = aborted_runs + 1'],
    ['releases', 'DELETE FROM releases'],
    ['runs', 'UPDATE runs SET disagreement = 1 WHERE id = 1'],
  ])('finds a row of %s that its events do not explain', (table, sql) => {
    const file = tampered(`state-${table}`, (db) => {
      expect(db.prepare(sql).run().changes).toBeGreaterThan(0);
    });
    expect(verifyDatabase(file).findings.map((one) => one.table)).toContain(table);
  });
});
