import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';

/** What the event of a return states. */
export interface NewReturn {
  id: number;
  unitId: number;
  motorId: number;
  releasedOn: string;
  returnedOn: string;
  fullMonths: number;
  hoursRun: number | null;
  symptom: string;
  finding: string | null;
}

export interface ReturnRow extends NewReturn {
  class: string;
  serial: string;
  motor: string;
  modelId: number;
  model: string;
  recordedAtMs: number;
  recordedBy: string;
}

export interface ReturnFilter {
  symptom: string | null;
  model: string | null;
  fromDay: string;
  untilDay: string;
}

/** Motors released in a slice of time, and those of them that never came back. */
export interface ReleasedInSlice {
  /** The slice's place in the list that was asked by. */
  slice: number;
  released: number;
  suspended: number;
}

/** From one instant until before another. */
export type Span = readonly [fromMs: number, untilMs: number];

const columns = `
  r.id,
  r.unit_id AS unitId,
  u.class,
  u.serial,
  r.motor_id AS motorId,
  motor.serial AS motor,
  motor.model_id AS modelId,
  m.code AS model,
  r.released_on AS releasedOn,
  r.returned_on AS returnedOn,
  r.full_months AS fullMonths,
  r.hours_run AS hoursRun,
  r.symptom,
  r.finding,
  r.recorded_at_ms AS recordedAtMs,
  k.name AS recordedBy
FROM returns r
CROSS JOIN units u ON u.id = r.unit_id
CROSS JOIN units motor ON motor.id = r.motor_id
CROSS JOIN models m ON m.id = motor.model_id
CROSS JOIN api_keys k ON k.id = r.recorded_by`;

/** Field returns' SQL on one connection. */
export function returnRecords(db: Database) {
  return { ...returnStatements(db), ...rateStatements(db) };
}

function returnStatements(db: Database) {
  const byId = db.prepare<[number], ReturnRow>(`SELECT ${columns} WHERE r.id = ?`);
  const list = db.prepare<[ReturnFilter & { afterId: number; limit: number }], ReturnRow>(
    `SELECT ${columns}
    WHERE r.id > @afterId
      AND (@symptom IS NULL OR r.symptom = @symptom)
      AND (@model IS NULL OR m.code = @model)
      AND r.returned_on >= @fromDay AND r.returned_on <= @untilDay
    ORDER BY r.id
    LIMIT @limit`,
  );
  // Reads returns_by_symptom.
  const alike = db.prepare<[{ symptom: string; modelId: number; limit: number }], ReturnRow>(
    `SELECT ${columns}
    WHERE r.symptom = @symptom AND motor.model_id = @modelId
    ORDER BY r.returned_on DESC, r.id DESC
    LIMIT @limit`,
  );
  const add = db.prepare(`
    INSERT INTO returns
      (id, unit_id, motor_id, released_on, returned_on, full_months, hours_run, symptom, finding,
       recorded_at_ms, recorded_by)
    VALUES
      (@id, @unitId, @motorId, @releasedOn, @returnedOn, @fullMonths, @hoursRun, @symptom, @finding,
       @recordedAtMs, @recordedById)`);
  return {
    fieldReturn: (id: number) => byId.get(id),
    list: (filter: ReturnFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }),
    /** Returns of a model with a symptom, the latest first. */
    alike: (symptom: string, modelId: number, limit: number) =>
      alike.all({ symptom, modelId, limit }),
    nextId: nextIdOn(db, 'returns'),
    add: (row: NewReturn & { recordedAtMs: number; recordedById: number }) => void add.run(row),
  };
}

/** A motor's first return: the earliest day, of two on one day the one recorded first. */
const firstReturns = `
  FROM returns r
  JOIN units u ON u.id = r.motor_id
  WHERE u.model_id = @modelId
    AND NOT EXISTS (
      SELECT 1 FROM returns e
      WHERE e.motor_id = r.motor_id AND (e.returned_on, e.id) < (r.returned_on, r.id))`;

function rateStatements(db: Database) {
  const firstRelease = db.prepare<[], { atMs: number | null }>(
    'SELECT MIN(at_ms) AS atMs FROM releases',
  );
  // Reads releases_by_time once from end to end, and returns_by_motor; a long question.
  const releasedIn = db.prepare<[{ modelId: number; spans: string }], ReleasedInSlice>(`
    SELECT s.key AS slice,
           COUNT(*) AS released,
           SUM(NOT EXISTS (SELECT 1 FROM returns x WHERE x.motor_id = r.motor_id)) AS suspended
    FROM json_each(@spans) s
    CROSS JOIN releases r INDEXED BY releases_by_time
      ON r.at_ms >= s.value ->> 0 AND r.at_ms < s.value ->> 1
    CROSS JOIN units u ON u.id = r.motor_id
    WHERE u.model_id = @modelId
    GROUP BY s.key
    ORDER BY s.key`);
  const byMonth = db.prepare<
    [{ modelId: number }],
    { month: string; fullMonths: number; motors: number }
  >(`
    SELECT substr(r.released_on, 1, 7) AS month, r.full_months AS fullMonths, COUNT(*) AS motors
    ${firstReturns}
    GROUP BY 1, 2`);
  const byHours = db.prepare<
    [{ modelId: number }],
    { hours: number | null; fullMonths: number | null; motors: number }
  >(`
    SELECT ROUND(r.hours_run) AS hours,
           CASE WHEN r.hours_run IS NULL THEN r.full_months END AS fullMonths,
           COUNT(*) AS motors
    ${firstReturns}
    GROUP BY 1, 2`);
  return {
    firstReleaseAtMs: () => firstRelease.get()?.atMs ?? null,
    /** Motors of a model by the span in which they were released; no line for a span without. */
    releasedIn: (modelId: number, spans: readonly Span[]) =>
      releasedIn.all({ modelId, spans: JSON.stringify(spans) }),
    /** Motors by the month of their release and the full months until their first return. */
    firstReturnsByMonth: (modelId: number) => byMonth.all({ modelId }),
    /** Motors by the whole hours, rounded, of their first return, or by its months where unread. */
    firstReturnsByHours: (modelId: number) => byHours.all({ modelId }),
  };
}
