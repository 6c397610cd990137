import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import type { Reason } from '../tracing/rules.js';
import type { Condition } from '../tracing/schema.js';

export interface ContainmentRow {
  id: number;
  title: string;
  condition: Condition;
  openedAtMs: number;
  openedBy: string;
  closedAtMs: number | null;
  closedBy: string | null;
  closeReason: string | null;
  units: number;
  held: number;
  waiting: number;
}

export type ContainmentDisposition = 'clear' | 'rework' | 'scrap' | 'concession' | 'notified';

export interface ContainedRow {
  id: number;
  class: string;
  serial: string;
  model: string | null;
  stateThen: string;
  stateNow: string;
  /** In words, where an older program picked it. */
  reasons: (Reason | string)[];
  joinedAtMs: number;
  holdId: number | null;
  disposition: ContainmentDisposition | null;
  evidence: string | null;
  disposedAtMs: number | null;
  disposedBy: string | null;
}

/** Units of one state that join a containment: thousands of them are written in few statements. */
export interface Joining {
  state: string;
  /** Their holds are numbered on from here, in order; null for units that have left. */
  firstHoldId: number | null;
  unitIds: readonly number[];
  /** Why each was picked, in the same order. */
  reasons: readonly (readonly (Reason | string)[])[];
}

/** What decides whether a contained unit can be disposed of. */
export interface Contained {
  unitId: number;
  holdId: number | null;
  disposition: ContainmentDisposition | null;
}

type Stored = Omit<ContainmentRow, 'condition'> & { condition: string };
type StoredContained = Omit<ContainedRow, 'reasons'> & { reasons: string };

const columns = `
  c.id,
  c.title,
  c.condition,
  c.opened_at_ms AS openedAtMs,
  opener.name AS openedBy,
  c.closed_at_ms AS closedAtMs,
  closer.name AS closedBy,
  c.close_reason AS closeReason,
  (SELECT COUNT(*) FROM contained_units x WHERE x.containment_id = c.id) AS units,
  (SELECT COUNT(x.hold_id) FROM contained_units x WHERE x.containment_id = c.id) AS held,
  (SELECT COUNT(*) FROM contained_units x
   WHERE x.containment_id = c.id AND x.disposition IS NULL) AS waiting
FROM containments c
JOIN api_keys opener ON opener.id = c.opened_by
LEFT JOIN api_keys closer ON closer.id = c.closed_by`;

const containedColumns = `
  x.unit_id AS id,
  u.class,
  u.serial,
  m.code AS model,
  x.state_then AS stateThen,
  u.state AS stateNow,
  x.reasons,
  x.joined_at_ms AS joinedAtMs,
  x.hold_id AS holdId,
  x.disposition,
  x.evidence,
  x.disposed_at_ms AS disposedAtMs,
  k.name AS disposedBy
FROM contained_units x
JOIN units u ON u.id = x.unit_id
LEFT JOIN models m ON m.id = u.model_id
LEFT JOIN api_keys k ON k.id = x.disposed_by`;

const decode = (row: Stored): ContainmentRow => ({
  ...row,
  condition: JSON.parse(row.condition) as Condition,
});
const decodeContained = (row: StoredContained): ContainedRow => ({
  ...row,
  reasons: JSON.parse(row.reasons) as ContainedRow['reasons'],
});

export interface ContainedFilter {
  waiting: number | null;
  held: number | null;
}

/** Containments' SQL on one connection. */
export function containmentRecords(db: Database) {
  const byId = db.prepare<[number], Stored>(`SELECT ${columns} WHERE c.id = ?`);
  const list = db.prepare<[number, number], Stored>(
    `SELECT ${columns} WHERE c.id > ? ORDER BY c.id LIMIT ?`,
  );
  // Reads containments_open; asked at every command, so it is bare.
  const open = db.prepare<[], { id: number; title: string; condition: string }>(
    'SELECT id, title, condition FROM containments WHERE closed_at_ms IS NULL ORDER BY id',
  );
  const add = db.prepare(`
    INSERT INTO containments (id, title, condition, opened_at_ms, opened_by)
    VALUES (@id, @title, @condition, @openedAtMs, @openedById)`);
  // One list of pairs: two lists side by side have no index to be joined by.
  const join = db.prepare(`
    INSERT INTO contained_units (containment_id, unit_id, state_then, reasons, joined_at_ms, hold_id)
    SELECT @containmentId, j.value ->> 0, @state, j.value -> 1, @atMs, @firstHoldId + j.key
    FROM json_each(@pairs) j`);
  const has = db.prepare<[number, number]>(
    'SELECT 1 FROM contained_units WHERE containment_id = ? AND unit_id = ?',
  );
  const contained = db.prepare<
    [ContainedFilter & { containmentId: number; afterId: number; limit: number }],
    StoredContained
  >(`SELECT ${containedColumns}
    WHERE x.containment_id = @containmentId
      AND x.unit_id > @afterId
      AND (@waiting IS NULL OR @waiting = (x.disposition IS NULL))
      AND (@held IS NULL OR @held = (x.hold_id IS NOT NULL))
    ORDER BY x.unit_id
    LIMIT @limit`);
  const one = db.prepare<[number, number], StoredContained>(
    `SELECT ${containedColumns} WHERE x.containment_id = ? AND x.unit_id = ?`,
  );
  const among = db.prepare<[{ containmentId: number; unitIds: string }], Contained>(`
    SELECT x.unit_id AS unitId, x.hold_id AS holdId, x.disposition
    FROM json_each(@unitIds) j
    CROSS JOIN contained_units x
      ON x.containment_id = @containmentId AND x.unit_id = j.value`);
  const dispose = db.prepare(`
    UPDATE contained_units
    SET disposition = @disposition,
        evidence = @evidence,
        disposed_at_ms = @disposedAtMs,
        disposed_by = @disposedById
    WHERE containment_id = @containmentId AND unit_id IN (SELECT value FROM json_each(@unitIds))`);
  const close = db.prepare(`
    UPDATE containments
    SET closed_at_ms = @closedAtMs, closed_by = @closedById, close_reason = @reason
    WHERE id = @id`);
  return {
    containment(id: number): ContainmentRow | undefined {
      const row = byId.get(id);
      return row && decode(row);
    },
    list: (afterId: number, limit: number) => list.all(afterId, limit).map(decode),
    open: () =>
      open.all().map((row) => ({ ...row, condition: JSON.parse(row.condition) as Condition })),
    nextId: nextIdOn(db, 'containments'),
    add: (row: {
      id: number;
      title: string;
      condition: Condition;
      openedAtMs: number;
      openedById: number;
    }) => void add.run({ ...row, condition: JSON.stringify(row.condition) }),
    join({ unitIds, reasons, ...row }: Joining & { containmentId: number; atMs: number }): void {
      const pairs = unitIds.map((id, i) => [id, reasons[i] ?? []]);
      join.run({ ...row, pairs: JSON.stringify(pairs) });
    },
    has: (containmentId: number, unitId: number) => has.get(containmentId, unitId) !== undefined,
    contained: (containmentId: number, filter: ContainedFilter, afterId: number, limit: number) =>
      contained.all({ ...filter, containmentId, afterId, limit }).map(decodeContained),
    containedUnit(containmentId: number, unitId: number): ContainedRow | undefined {
      const row = one.get(containmentId, unitId);
      return row && decodeContained(row);
    },
    /** Those of some units that are in a containment, by id. */
    containedAmong: (
      containmentId: number,
      unitIds: readonly number[],
    ): ReadonlyMap<number, Contained> =>
      new Map(
        among
          .all({ containmentId, unitIds: JSON.stringify(unitIds) })
          .map((row) => [row.unitId, row] as const),
      ),
    dispose: (row: {
      containmentId: number;
      unitIds: readonly number[];
      disposition: ContainmentDisposition;
      evidence: string;
      disposedAtMs: number;
      disposedById: number;
    }) => void dispose.run({ ...row, unitIds: JSON.stringify(row.unitIds) }),
    close: (row: { id: number; reason: string; closedAtMs: number; closedById: number }) =>
      void close.run(row),
  };
}
