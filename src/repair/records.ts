import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';

export type RepairOutcome = 'repaired' | 'no-fault-found' | 'scrapped' | 'concession' | 'torn-down';

export interface RepairRow {
  id: number;
  motorId: number;
  motor: string;
  model: string;
  runId: number | null;
  complaint: string;
  openedAtMs: number;
  closedAtMs: number | null;
  outcome: RepairOutcome | null;
  symptom: string | null;
  cause: string | null;
  action: string | null;
  note: string | null;
  closedBy: string | null;
}

export interface Exchange {
  position: string;
  parentSerial: string;
  removedClass: string | null;
  removedSerial: string | null;
  fittedClass: string | null;
  fittedSerial: string | null;
  atMs: number;
}

export interface Disposition {
  kind: 'rework' | 'scrap' | 'concession';
  runId: number | null;
  reason: string;
  by: string;
  atMs: number;
}

/** What closes a repair. */
export interface RepairEnd {
  id: number;
  outcome: RepairOutcome;
  symptom?: string | null;
  cause?: string | null;
  action?: string | null;
  note?: string | null;
  atMs: number;
  keyId: number;
}

const columns = `
  r.id,
  r.motor_id AS motorId,
  u.serial AS motor,
  m.code AS model,
  r.run_id AS runId,
  r.complaint,
  r.opened_at_ms AS openedAtMs,
  r.closed_at_ms AS closedAtMs,
  r.outcome,
  r.symptom,
  r.cause,
  r.action,
  r.note,
  k.name AS closedBy
FROM repairs r
CROSS JOIN units u ON u.id = r.motor_id
CROSS JOIN models m ON m.id = u.model_id
LEFT JOIN api_keys k ON k.id = r.closed_by`;

/** Repairs', exchanges' and dispositions' SQL on one connection. */
export function repairRecords(db: Database) {
  const byId = db.prepare<[number], RepairRow>(`SELECT ${columns} WHERE r.id = ?`);
  const openOf = db.prepare<[number], RepairRow>(
    `SELECT ${columns} WHERE r.motor_id = ? AND r.closed_at_ms IS NULL`,
  );
  const ofMotor = db.prepare<[number], RepairRow>(
    `SELECT ${columns} WHERE r.motor_id = ? ORDER BY r.id`,
  );
  // Reads repair_open_on_motor, which holds the few that are open.
  const waiting = db.prepare<[number], RepairRow>(
    `SELECT ${columns}
    WHERE r.id IN (
      SELECT id FROM repairs INDEXED BY repair_open_on_motor WHERE closed_at_ms IS NULL)
    ORDER BY r.opened_at_ms, r.id
    LIMIT ?`,
  );
  // Reads repair_open_on_motor.
  const listOpen = db.prepare<[{ afterId: number; limit: number }], RepairRow>(
    `SELECT ${columns}
    WHERE r.id IN (
      SELECT id FROM repairs INDEXED BY repair_open_on_motor
      WHERE closed_at_ms IS NULL AND id > @afterId)
    ORDER BY r.id
    LIMIT @limit`,
  );
  const list = db.prepare<[{ open: number | null; afterId: number; limit: number }], RepairRow>(
    `SELECT ${columns}
    WHERE r.id > @afterId AND (@open IS NULL OR @open = (r.closed_at_ms IS NULL))
    ORDER BY r.id
    LIMIT @limit`,
  );
  const open = db.prepare(`
    INSERT INTO repairs (id, motor_id, run_id, opened_at_ms, complaint)
    VALUES (@id, @motorId, @runId, @openedAtMs, @complaint)`);
  const end = db.prepare(`
    UPDATE repairs
    SET closed_at_ms = MAX(opened_at_ms, @atMs),
        outcome = @outcome,
        symptom = @symptom,
        cause = @cause,
        action = @action,
        note = @note,
        closed_by = @keyId
    WHERE id = @id`);
  const addExchange = db.prepare(`
    INSERT INTO exchanges (repair_id, parent_id, position, removed_id, fitted_id, at_ms)
    VALUES (@repairId, @parentId, @position, @removedId, @fittedId, @atMs)`);
  const exchanges = db.prepare<[number], Exchange>(`
    SELECT x.position,
           parent.serial AS parentSerial,
           removed.class AS removedClass,
           removed.serial AS removedSerial,
           fitted.class AS fittedClass,
           fitted.serial AS fittedSerial,
           x.at_ms AS atMs
    FROM exchanges x
    JOIN units parent ON parent.id = x.parent_id
    LEFT JOIN units removed ON removed.id = x.removed_id
    LEFT JOIN units fitted ON fitted.id = x.fitted_id
    WHERE x.repair_id = ?
    ORDER BY x.id`);
  const wasRepaired = db.prepare<[number]>(
    "SELECT 1 FROM repairs WHERE motor_id = ? AND outcome IS NOT 'no-fault-found' LIMIT 1",
  );
  const addDisposition = db.prepare(`
    INSERT INTO dispositions (unit_id, run_id, kind, reason, key_id, at_ms)
    VALUES (@unitId, @runId, @kind, @reason, @keyId, @atMs)`);
  const dispositions = db.prepare<[number], Disposition>(`
    SELECT d.kind, d.run_id AS runId, d.reason, k.name AS "by", d.at_ms AS atMs
    FROM dispositions d
    JOIN api_keys k ON k.id = d.key_id
    WHERE d.unit_id = ?
    ORDER BY d.id`);
  return {
    repair: (id: number) => byId.get(id),
    openOf: (motorId: number) => openOf.get(motorId),
    ofMotor: (motorId: number) => ofMotor.all(motorId),
    /** Open repairs, the one that has waited longest first. */
    waiting: (limit: number) => waiting.all(limit),
    list: (isOpen: boolean | null, afterId: number, limit: number) =>
      isOpen
        ? listOpen.all({ afterId, limit })
        : list.all({ open: isOpen === null ? null : 0, afterId, limit }),
    nextId: nextIdOn(db, 'repairs'),
    open: (row: {
      id: number;
      motorId: number;
      runId: number | null;
      openedAtMs: number;
      complaint: string;
    }) => void open.run(row),
    end: (row: RepairEnd) =>
      void end.run({ symptom: null, cause: null, action: null, note: null, ...row }),
    /** Whether a motor has a repair, open or closed, that found a fault. */
    wasRepaired: (motorId: number) => wasRepaired.get(motorId) !== undefined,
    addExchange: (row: {
      repairId: number;
      parentId: number;
      position: string;
      removedId: number | null;
      fittedId: number | null;
      atMs: number;
    }) => void addExchange.run(row),
    exchanges: (repairId: number) => exchanges.all(repairId),
    addDisposition: (row: {
      unitId: number;
      runId: number | null;
      kind: Disposition['kind'];
      reason: string;
      keyId: number;
      atMs: number;
    }) => void addDisposition.run(row),
    dispositions: (unitId: number) => dispositions.all(unitId),
  };
}
