import type { Database } from 'better-sqlite3';
import type { EventRow } from './chain.js';

export interface StoredEvent extends EventRow {
  hash: Buffer;
}

/** An event with the name of the key that caused it. */
export interface NamedEvent extends EventRow {
  actor: string;
}

const columns = `
  e.seq,
  e.recorded_at_ms AS recordedAtMs,
  e.occurred_at_ms AS occurredAtMs,
  e.key_id AS keyId,
  e.station,
  e.kind,
  e.units,
  e.content`;

const MANY_UNITS = 20;

/** A row of `columns` and the key's name, by place. */
type EventValues = [
  seq: number,
  recordedAtMs: number,
  occurredAtMs: number,
  keyId: number,
  station: string | null,
  kind: string,
  units: string,
  content: string,
  actor: string,
];

/** better-sqlite3 sets a row's members one by one, which takes longer than reading them. */
function namedEvent(row: EventValues): NamedEvent {
  const [seq, recordedAtMs, occurredAtMs, keyId, station, kind, units, content, actor] = row;
  return { seq, recordedAtMs, occurredAtMs, keyId, station, kind, units, content, actor };
}

/** The journal's SQL on one connection. */
export function journalRecords(db: Database) {
  const last = db.prepare<[], { seq: number; recordedAtMs: number; hash: Buffer }>(
    'SELECT seq, recorded_at_ms AS recordedAtMs, hash FROM events ORDER BY seq DESC LIMIT 1',
  );
  const append = db.prepare(`
    INSERT INTO events
      (seq, recorded_at_ms, occurred_at_ms, key_id, station, kind, units, content, hash)
    VALUES
      (@seq, @recordedAtMs, @occurredAtMs, @keyId, @station, @kind, @units, @content, @hash)`);
  const tie = db.prepare('INSERT INTO event_units (unit_id, seq) VALUES (?, ?)');
  const tieAll = db.prepare(
    'INSERT INTO event_units (unit_id, seq) SELECT value, ? FROM json_each(?)',
  );
  const after = db.prepare<[number, number], StoredEvent>(`
    SELECT ${columns}, e.hash
    FROM events e
    WHERE e.seq > ?
    ORDER BY e.seq
    LIMIT ?`);
  const list = db.prepare<[number, number], NamedEvent>(`
    SELECT ${columns}, k.name AS actor
    FROM events e JOIN api_keys k ON k.id = e.key_id
    WHERE e.seq > ?
    ORDER BY e.seq
    LIMIT ?`);
  // Reads event_units by its primary key, a range for each unit; numbers alone are sorted.
  // SQLite looks at the value of a bare `LIMIT ?` and plans the statement anew each time.
  const ofUnits = db
    .prepare<[string, number], EventValues>(`
    WITH tied AS MATERIALIZED (
      SELECT DISTINCT u.seq
      FROM json_each(?) j
      CROSS JOIN event_units u ON u.unit_id = j.value
      ORDER BY u.seq
      LIMIT ? + 0)
    SELECT ${columns}, k.name AS actor
    FROM tied
    CROSS JOIN events e ON e.seq = tied.seq
    JOIN api_keys k ON k.id = e.key_id
    ORDER BY tied.seq`)
    .raw();
  // Reads event_units by its primary key, for the few units of one motor.
  const lastOf = db.prepare<[string, string], { seq: number | null }>(`
    SELECT MAX(u.seq) AS seq
    FROM event_units u
    JOIN events e ON e.seq = u.seq
    WHERE u.unit_id IN (SELECT value FROM json_each(?))
      AND e.kind IN (SELECT value FROM json_each(?))`);
  const unitsSince = db.prepare<[number], { unitId: number }>(`
    SELECT DISTINCT j.value AS unitId FROM events e, json_each(e.units) j WHERE e.seq > ?`);
  const count = db.prepare<[], { n: number }>('SELECT COUNT(*) AS n FROM events');

  return {
    last: () => last.get(),
    append(event: StoredEvent, unitIds: readonly number[]): void {
      append.run(event);
      // One statement for thousands; for the usual two or three, one each is quicker.
      if (unitIds.length > MANY_UNITS) tieAll.run(event.seq, event.units);
      else for (const id of unitIds) tie.run(id, event.seq);
    },
    after: (seq: number, limit: number) => after.all(seq, limit),
    list: (seq: number, limit: number) => list.all(seq, limit),
    /** Events about any of some units, in order. */
    ofUnits: (unitIds: readonly number[], limit: number) =>
      ofUnits.all(JSON.stringify(unitIds), limit).map(namedEvent),
    /** The last event about any of these units of any of these kinds; 0 where there is none. */
    lastOf: (unitIds: readonly number[], kinds: readonly string[]) =>
      lastOf.get(JSON.stringify(unitIds), JSON.stringify(kinds))?.seq ?? 0,
    /** Units that events after one are about. */
    unitsSince: (seq: number) => unitsSince.all(seq).map((row) => row.unitId),
    count: () => count.get()?.n ?? 0,
  };
}
