import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, type MotorMade, order, setMotor } from '../support/scenario.js';

/** The guards are in the database itself: raw SQL, past all our code, meets them too. */
describe('the database file itself refuses', () => {
  let plant: TestPlant;
  let db: Database.Database;
  let made: MotorMade;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    made = await setMotor(plant);
    db = new Database(plant.service.store.path);
    db.pragma('foreign_keys = ON');
  });
  afterAll(async () => {
    db.close();
    await plant.stop();
  });

  const idOf = (unitClass: string, serial: string) =>
    db
      .prepare<[string, string], { id: number }>(
        'SELECT id FROM units WHERE class = ? AND serial = ?',
      )
      .get(unitClass, serial)?.id;

  /** Runs raw SQL that has to fail, after other SQL that must not; leaves nothing behind. */
  function expectRefused(sql: string, message: string, before = 'SELECT 1'): void {
    db.exec('BEGIN IMMEDIATE');
    try {
      db.exec(before);
      expect(() => db.exec(sql)).toThrow(message);
    } finally {
      db.exec('ROLLBACK');
    }
  }

  it('a second open installation of one unit', async () => {
    const other = await setMotor(plant);
    const [child, parent] = [idOf('powerhead', made.powerhead), idOf('motor', other.motor)];
    const second = `INSERT INTO installations (parent_id, position, child_id, from_ms)
      VALUES (${parent}, 'spare', ${child}, 1)`;
    expectRefused(second, 'only an accepted unit that is not on hold is installed');
    // Even where the unit's state was tampered with, the partial unique index stands.
    const tampered = `UPDATE units SET state = 'accepted' WHERE id = ${child}`;
    expectRefused(second, 'UNIQUE constraint failed: installations.child_id', tampered);
  });

  it('a second unit in one position', async () => {
    const spare = await enter(plant, 'powerhead');
    expectRefused(
      `INSERT INTO installations (parent_id, position, child_id, from_ms)
       VALUES (${idOf('motor', made.motor)}, 'powerhead', ${idOf('powerhead', spare)}, 1)`,
      'UNIQUE constraint failed: installations.parent_id, installations.position',
    );
  });

  it('a unit inside itself', async () => {
    const id = idOf('powerhead', await enter(plant, 'powerhead'));
    expectRefused(
      `INSERT INTO installations (parent_id, position, child_id, from_ms) VALUES (${id}, 'x', ${id}, 1)`,
      'CHECK constraint failed: parent_id <> child_id',
    );
  });

  it('installing a unit that is on hold or not accepted', async () => {
    const held = await enter(plant, 'powerhead');
    await plant.make('quality', '/v1/holds', {
      class: 'powerhead',
      unit: held,
      cause: 'quality',
      reason: 'To be looked at',
    });
    const rejected = await enter(plant, 'powerhead', { inspection: { result: 'rejected' } });
    for (const serial of [held, rejected]) {
      expectRefused(
        `INSERT INTO installations (parent_id, position, child_id, from_ms)
         VALUES (${idOf('motor', made.motor)}, 'spare', ${idOf('powerhead', serial)}, 1)`,
        'only an accepted unit that is not on hold is installed',
      );
    }
  });

  it('two units of one class with one serial', () => {
    expectRefused(
      `INSERT INTO units (class, serial, part_id, attributes, state, entered_at_ms)
       SELECT class, serial, part_id, attributes, state, entered_at_ms FROM units
       WHERE class = 'powerhead' AND serial = '${made.powerhead}'`,
      'UNIQUE constraint failed: units.class, units.serial',
    );
  });

  it('counting more motors than an order asks for, or fewer than none', async () => {
    const number = await order(plant, 2);
    for (const count of [3, -1]) {
      expectRefused(
        `UPDATE orders SET set_count = ${count} WHERE number = '${number}'`,
        'CHECK constraint failed: set_count BETWEEN 0 AND quantity',
      );
    }
  });

  it('turning the serial sequence back, or issuing a number twice', () => {
    const message = 'a motor serial is never issued twice';
    expectRefused('UPDATE serial_sequence SET next = next', message);
    expectRefused('UPDATE serial_sequence SET next = next - 1', message);
    expectRefused('UPDATE serial_sequence SET next = 1', message);
    expectRefused('INSERT INTO serial_sequence (id, next) VALUES (2, 1)', 'id = 1');
  });

  it('changing, removing or slipping in what an approved revision says', () => {
    const message = 'approved revisions never change';
    for (const sql of [
      "UPDATE configurations SET lower_unit_number = 'LU-25'",
      'UPDATE configurations SET effective_from_ms = effective_from_ms + 1',
      "UPDATE configurations SET state = 'draft'",
      'DELETE FROM configurations',
      "UPDATE specifications SET note = 'x'",
      "UPDATE prompts SET text = 'x'",
      'DELETE FROM prompts',
      "INSERT INTO prompts (specification_id, position, text) VALUES (1, 99, 'x')",
      'UPDATE characteristics SET upper_limit = 9999',
      'DELETE FROM characteristics',
    ]) {
      expectRefused(sql, message);
    }
  });

  it('an approval by the one who drafted it', async () => {
    const draft = await plant.make<{ id: number }>('configuration', '/v1/configurations', {
      code: 'F100L-B',
      model: 'F100L',
      powerheadNumber: 'PH-100',
      lowerUnitNumber: 'LU-20',
    });
    expectRefused(
      `UPDATE configurations SET state = 'approved', approved_by = drafted_by, approved_at_ms = 1,
         effective_from_ms = 1 WHERE id = ${draft.id}`,
      'CHECK constraint failed',
    );
  });

  it('changing or removing an event', () => {
    expectRefused("UPDATE events SET content = '{}' WHERE seq = 1", 'events are append-only');
    expectRefused('DELETE FROM events WHERE seq = 1', 'events are append-only');
  });

  it('releasing a motor that has not passed', () => {
    const motor = idOf('motor', made.motor);
    expectRefused(
      `INSERT INTO releases (motor_id, run_id, key_id, at_ms) VALUES (${motor}, 1, 1, 1)`,
      'only a passed motor with nothing open is released',
    );
  });

  it('a motor in a state that only parts have, and the reverse', () => {
    expectRefused(
      `UPDATE units SET state = 'accepted' WHERE serial = '${made.motor}'`,
      'CHECK constraint failed',
    );
    expectRefused(
      `UPDATE units SET state = 'passed' WHERE serial = '${made.powerhead}'`,
      'CHECK constraint failed',
    );
  });

  it('a set attempt that claims a motor without having made one', () => {
    expectRefused(
      `UPDATE set_attempts SET motor_id = NULL WHERE outcome = 'set'`,
      'CHECK constraint failed',
    );
  });
});
