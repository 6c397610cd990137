import type { Database } from 'better-sqlite3';
import type { Attributes } from '../http/shapes.js';
import { nextIdOn } from '../store/next-id.js';

export type PartUnitState = 'accepted' | 'installed' | 'rejected' | 'scrapped';
export type MotorState =
  | 'awaiting-test'
  | 'in-test'
  | 'in-repair'
  | 'passed'
  | 'released'
  | 'torn-down'
  | 'scrapped';
export type UnitState = PartUnitState | MotorState;

export interface UnitRow {
  id: number;
  class: string;
  serial: string;
  partId: number | null;
  part: string | null;
  partRevision: string | null;
  gtin: string | null;
  modelId: number | null;
  model: string | null;
  /** Those of the part, overridden by those recorded for this unit. */
  attributes: Attributes;
  state: UnitState;
  enteredAtMs: number;
  /** Open holds on this unit itself. */
  openHolds: number;
}

export interface NewUnit {
  id: number;
  class: string;
  serial: string;
  partId: number | null;
  modelId: number | null;
  attributes: Attributes;
  state: UnitState;
}

export interface Fastening {
  joint: string;
  tool: string;
  torque: number;
  torqueLower: number;
  torqueUpper: number;
  torqueUnit: string;
  angle: number | null;
  angleLower: number | null;
  angleUpper: number | null;
  angleUnit: string | null;
  conforms: boolean;
  atMs: number;
}

export interface Hold {
  id: number;
  unitId: number;
  class: string;
  serial: string;
  cause: string;
  reason: string;
  placedAtMs: number;
  placedBy: string;
  liftedAtMs: number | null;
  liftedBy: string | null;
  liftReason: string | null;
}

/** A row of a list about several units. */
export interface OfUnit {
  unitId: number;
}

export interface Inspection {
  kind: string;
  result: 'accepted' | 'rejected';
  note: string | null;
  atMs: number;
}

type StoredUnit = Omit<UnitRow, 'attributes'> & { own: string; ofPart: string | null };

function decodeUnit({ own, ofPart, ...row }: StoredUnit): UnitRow {
  return { attributes: Object.assign(JSON.parse(ofPart ?? '{}'), JSON.parse(own)), ...row };
}

const unitColumns = `
  u.id,
  u.class,
  u.serial,
  u.part_id AS partId,
  p.number AS part,
  p.revision AS partRevision,
  p.gtin,
  u.model_id AS modelId,
  m.code AS model,
  u.attributes AS own,
  p.attributes AS ofPart,
  u.state,
  u.entered_at_ms AS enteredAtMs,
  (SELECT COUNT(*) FROM holds h WHERE h.unit_id = u.id AND h.lifted_at_ms IS NULL) AS openHolds
FROM units u
LEFT JOIN parts p ON p.id = u.part_id
LEFT JOIN models m ON m.id = u.model_id`;

export interface UnitFilter {
  class: string | null;
  state: string | null;
  part: string | null;
  onHold: number | null;
}

export interface ReadyFilter {
  part: string;
  revision: string | null;
  wanted: Attributes;
  limit: number;
}

/** Units' SQL on one connection: units, inspections, fastenings, lots, holds. */
export function unitRecords(db: Database) {
  return {
    ...unitStatements(db),
    ...qualityStatements(db),
    ...lotStatements(db),
    ...holdStatements(db),
  };
}

function unitStatements(db: Database) {
  const byId = db.prepare<[number], StoredUnit>(`SELECT ${unitColumns} WHERE u.id = ?`);
  const bySerial = db.prepare<[string, string], StoredUnit>(
    `SELECT ${unitColumns} WHERE u.class = ? AND u.serial = ?`,
  );
  const withSerial = db.prepare<[string], StoredUnit>(
    `SELECT ${unitColumns} WHERE u.serial = ? ORDER BY u.class LIMIT 20`,
  );
  const list = db.prepare<[UnitFilter & { afterId: number; limit: number }], StoredUnit>(
    `SELECT ${unitColumns}
    WHERE u.id > @afterId
      AND (@class IS NULL OR u.class = @class)
      AND (@state IS NULL OR u.state = @state)
      AND (@part IS NULL OR p.number = @part)
      AND (@onHold IS NULL OR @onHold =
        EXISTS (SELECT 1 FROM holds h WHERE h.unit_id = u.id AND h.lifted_at_ms IS NULL))
    ORDER BY u.id
    LIMIT @limit`,
  );
  // Reads parts_ready: accepted units not yet installed, oldest first.
  const ready = db.prepare<
    [{ part: string; revision: string | null; wanted: string; limit: number }],
    StoredUnit
  >(
    `SELECT ${unitColumns}
    WHERE u.part_id IN (
        SELECT id FROM parts
        WHERE number = @part AND (@revision IS NULL OR revision = @revision))
      AND u.state = 'accepted'
      AND NOT EXISTS (
        SELECT 1
        FROM json_each(@wanted) w
        WHERE COALESCE(u.attributes ->> w.key, p.attributes ->> w.key) <> w.value)
      AND NOT EXISTS (SELECT 1 FROM holds h WHERE h.unit_id = u.id AND h.lifted_at_ms IS NULL)
    ORDER BY u.id
    LIMIT @limit`,
  );
  const add = db.prepare(`
    INSERT INTO units (id, class, serial, part_id, model_id, attributes, state, entered_at_ms)
    VALUES (@id, @class, @serial, @partId, @modelId, @attributes, @state, @enteredAtMs)`);
  const statesBySerial = db.prepare<[string], { index: number; id: number; state: UnitState }>(`
    SELECT j.key AS "index", u.id, u.state
    FROM json_each(?) j
    CROSS JOIN units u ON u.class = j.value ->> 'class' AND u.serial = j.value ->> 'serial'`);
  const motorsAmong = db.prepare<[string], { id: number }>(
    "SELECT u.id FROM json_each(?) j CROSS JOIN units u ON u.id = j.value WHERE u.class = 'motor'",
  );
  const serials = db
    .prepare<[string], [id: number, serial: string]>(
      'SELECT u.id, u.serial FROM json_each(?) j CROSS JOIN units u ON u.id = j.value',
    )
    .raw();
  // These two read motors_by_state.
  const countMotorsIn = db.prepare<[string, number], { n: number }>(`
    SELECT COUNT(*) AS n
    FROM (SELECT 1 FROM units WHERE class = 'motor' AND state = ? LIMIT ?)`);
  const latestMotorsIn = db.prepare<[string, number], StoredUnit>(
    `SELECT ${unitColumns} WHERE u.class = 'motor' AND u.state = ? ORDER BY u.id DESC LIMIT ?`,
  );
  const setState = db.prepare('UPDATE units SET state = ? WHERE id = ?');
  const decoded = (row: StoredUnit | undefined) => (row ? decodeUnit(row) : undefined);
  return {
    byId: (id: number) => decoded(byId.get(id)),
    bySerial: (unitClass: string, serial: string) => decoded(bySerial.get(unitClass, serial)),
    /** Id and state of units by their place in a list of classes and serials; unknown ones are left out. */
    statesBySerial: (
      list: readonly { class: string; serial: string }[],
    ): ReadonlyMap<number, { id: number; state: UnitState }> =>
      new Map(
        statesBySerial
          .all(JSON.stringify(list))
          .map(({ index, id, state }) => [index, { id, state }]),
      ),
    motorsAmong: (ids: readonly number[]): ReadonlySet<number> =>
      new Set(motorsAmong.all(JSON.stringify(ids)).map((row) => row.id)),
    /** Serials by id, of several units at once. */
    serialsOf: (ids: readonly number[]): ReadonlyMap<number, string> =>
      new Map(serials.all(JSON.stringify(ids))),
    withSerial: (serial: string) => withSerial.all(serial).map(decodeUnit),
    list: (filter: UnitFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }).map(decodeUnit),
    /** How many motors are in a state, counted no further than a limit. */
    countMotorsIn: (state: MotorState, limit: number) => countMotorsIn.get(state, limit)?.n ?? 0,
    /** Motors in a state, those set last first. */
    latestMotorsIn: (state: MotorState, limit: number) =>
      latestMotorsIn.all(state, limit).map(decodeUnit),
    /** Accepted units of a part that nothing holds and no wanted attribute speaks against. */
    ready: ({ wanted, ...of }: ReadyFilter) =>
      ready.all({ ...of, wanted: JSON.stringify(wanted) }).map(decodeUnit),
    nextId: nextIdOn(db, 'units'),
    add: (row: NewUnit & { enteredAtMs: number }) =>
      void add.run({ ...row, attributes: JSON.stringify(row.attributes) }),
    setState: (id: number, state: UnitState) => void setState.run(state, id),
  };
}

function qualityStatements(db: Database) {
  const addInspection = db.prepare(`
    INSERT INTO inspections (unit_id, kind, result, note, at_ms)
    VALUES (@unitId, @kind, @result, @note, @atMs)`);
  const inspections = db.prepare<[string], Inspection & OfUnit>(`
    SELECT i.unit_id AS unitId, i.kind, i.result, i.note, i.at_ms AS atMs
    FROM json_each(?) j
    CROSS JOIN inspections i ON i.unit_id = j.value
    ORDER BY i.id`);
  const addFastening = db.prepare(`
    INSERT INTO fastenings
      (unit_id, joint, tool, torque, torque_lower, torque_upper, torque_unit,
       angle, angle_lower, angle_upper, angle_unit, conforms, at_ms)
    VALUES
      (@unitId, @joint, @tool, @torque, @torqueLower, @torqueUpper, @torqueUnit,
       @angle, @angleLower, @angleUpper, @angleUnit, @conforms, @atMs)`);
  const fastenings = db.prepare<
    [string],
    Omit<Fastening, 'conforms'> & OfUnit & { conforms: number }
  >(`
    SELECT f.unit_id AS unitId,
           joint,
           tool,
           torque,
           torque_lower AS torqueLower,
           torque_upper AS torqueUpper,
           torque_unit AS torqueUnit,
           angle,
           angle_lower AS angleLower,
           angle_upper AS angleUpper,
           angle_unit AS angleUnit,
           conforms,
           at_ms AS atMs
    FROM json_each(?) j
    CROSS JOIN fastenings f ON f.unit_id = j.value
    ORDER BY f.id`);
  return {
    addInspection: (unitId: number, row: Inspection) => void addInspection.run({ unitId, ...row }),
    inspections: (unitIds: readonly number[]) => inspections.all(JSON.stringify(unitIds)),
    addFastening: (unitId: number, row: Fastening) =>
      void addFastening.run({ unitId, ...row, conforms: row.conforms ? 1 : 0 }),
    fastenings: (unitIds: readonly number[]): (Fastening & OfUnit)[] =>
      fastenings
        .all(JSON.stringify(unitIds))
        .map(({ conforms, ...row }) => ({ conforms: conforms === 1, ...row })),
  };
}

function lotStatements(db: Database) {
  const find = db.prepare<[number, string], { id: number }>(
    'SELECT id FROM lots WHERE part_id = ? AND code = ?',
  );
  const add = db.prepare('INSERT INTO lots (part_id, code) VALUES (?, ?)');
  const use = db.prepare(
    'INSERT INTO lot_uses (unit_id, lot_id, at_ms) VALUES (?, ?, ?) ON CONFLICT DO NOTHING',
  );
  const uses = db.prepare<
    [string],
    { part: string; partRevision: string; lot: string; atMs: number } & OfUnit
  >(`
    SELECT x.unit_id AS unitId, p.number AS part, p.revision AS partRevision, l.code AS lot, x.at_ms AS atMs
    FROM json_each(?) j
    CROSS JOIN lot_uses x ON x.unit_id = j.value
    JOIN lots l ON l.id = x.lot_id
    JOIN parts p ON p.id = l.part_id
    ORDER BY x.at_ms, l.id`);
  return {
    /** Records that a lot of a lot-tracked part was used on a unit; the lot is made when new. */
    useLot(unitId: number, partId: number, lot: string, atMs: number): void {
      if (!find.get(partId, lot)) add.run(partId, lot);
      use.run(unitId, find.get(partId, lot)?.id, atMs);
    },
    lotUses: (unitIds: readonly number[]) => uses.all(JSON.stringify(unitIds)),
  };
}

const holdColumns = `
  h.id,
  h.unit_id AS unitId,
  u.class,
  u.serial,
  h.cause,
  h.reason,
  h.placed_at_ms AS placedAtMs,
  placer.name AS placedBy,
  h.lifted_at_ms AS liftedAtMs,
  lifter.name AS liftedBy,
  h.lift_reason AS liftReason
FROM holds h
JOIN units u ON u.id = h.unit_id
JOIN api_keys placer ON placer.id = h.placed_by
LEFT JOIN api_keys lifter ON lifter.id = h.lifted_by`;

/** Holds placed last among which open ones are looked for: most are lifted in the end. */
const LATEST_LOOKED_AT = 1000;

function holdStatements(db: Database) {
  const byId = db.prepare<[number], Hold>(`SELECT ${holdColumns} WHERE h.id = ?`);
  const ofUnits = db.prepare<[string], Hold>(
    `SELECT ${holdColumns} WHERE h.unit_id IN (SELECT value FROM json_each(?)) ORDER BY h.id`,
  );
  // Reads holds_open.
  const openOf = db.prepare<[string], Hold>(
    `SELECT ${holdColumns}
    WHERE h.unit_id IN (SELECT value FROM json_each(?)) AND h.lifted_at_ms IS NULL
    ORDER BY h.id`,
  );
  const list = db.prepare<[{ open: number | null; afterId: number; limit: number }], Hold>(
    `SELECT ${holdColumns}
    WHERE h.id > @afterId AND (@open IS NULL OR @open = (h.lifted_at_ms IS NULL))
    ORDER BY h.id
    LIMIT @limit`,
  );
  // Reads holds_open.
  const countOpen = db.prepare<[number], { n: number }>(
    'SELECT COUNT(*) AS n FROM (SELECT 1 FROM holds WHERE lifted_at_ms IS NULL LIMIT ?)',
  );
  const latest = db.prepare<[number, number], Hold>(
    `SELECT ${holdColumns}
    WHERE h.id IN (
      SELECT id
      FROM (SELECT id, lifted_at_ms FROM holds ORDER BY id DESC LIMIT ?)
      WHERE lifted_at_ms IS NULL)
    ORDER BY h.id DESC
    LIMIT ?`,
  );
  const place = db.prepare(`
    INSERT INTO holds (id, unit_id, cause, reason, placed_at_ms, placed_by)
    VALUES (@id, @unitId, @cause, @reason, @placedAtMs, @placedById)`);
  const placeAll = db.prepare(`
    INSERT INTO holds (id, unit_id, cause, reason, placed_at_ms, placed_by)
    SELECT @firstHoldId + j.key, j.value, @cause, @reason, @placedAtMs, @placedById
    FROM json_each(@unitIds) j`);
  const lift = db.prepare(`
    UPDATE holds
    SET lifted_at_ms = @liftedAtMs, lifted_by = @liftedById, lift_reason = @reason
    WHERE id = @id`);
  const liftAll = db.prepare(`
    UPDATE holds
    SET lifted_at_ms = @liftedAtMs, lifted_by = @liftedById, lift_reason = @reason
    WHERE id IN (SELECT value FROM json_each(@ids))`);
  return {
    hold: (id: number) => byId.get(id),
    holdsOf: (unitIds: readonly number[]) => ofUnits.all(JSON.stringify(unitIds)),
    openHoldsOf: (unitIds: readonly number[]) => openOf.all(JSON.stringify(unitIds)),
    holds: (open: boolean | null, afterId: number, limit: number) =>
      list.all({ open: open === null ? null : Number(open), afterId, limit }),
    /** How many holds are open, counted no further than a limit. */
    countOpenHolds: (limit: number) => countOpen.get(limit)?.n ?? 0,
    /** Open ones among the holds placed last, the last one first. */
    latestHolds: (limit: number) => latest.all(LATEST_LOOKED_AT, limit),
    nextHoldId: nextIdOn(db, 'holds'),
    placeHold: (row: {
      id: number;
      unitId: number;
      cause: string;
      reason: string;
      placedAtMs: number;
      placedById: number;
    }) => void place.run(row),
    /** Holds of one cause and reason on many units, numbered on in their order, in one statement. */
    placeHolds: (row: {
      firstHoldId: number;
      unitIds: readonly number[];
      cause: string;
      reason: string;
      placedAtMs: number;
      placedById: number;
    }) => void placeAll.run({ ...row, unitIds: JSON.stringify(row.unitIds) }),
    liftHold: (row: { id: number; reason: string; liftedAtMs: number; liftedById: number }) =>
      void lift.run(row),
    /** Lifts many holds for one reason, in one statement. */
    liftHolds: (row: {
      ids: readonly number[];
      reason: string;
      liftedAtMs: number;
      liftedById: number;
    }) => void liftAll.run({ ...row, ids: JSON.stringify(row.ids) }),
  };
}
