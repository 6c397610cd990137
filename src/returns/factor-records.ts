import type { Database } from 'better-sqlite3';
import { DEPTH_LIMIT } from '../genealogy/records.js';
import type { Span } from './records.js';

/** Which motors came back: those of a model with a symptom. */
export interface Alike {
  symptom: string;
  modelId: number;
}

/** A value of a factor, by what the database knows it by, and how many motors bear it. */
export interface Borne {
  key: number | string;
  value: string;
  motors: number;
}

/** Later than any instant. */
const EVER = 8_640_000_000_000_000;

/** Values that fewer returned motors bear are compared with nothing. */
const BORNE_BY_AT_LEAST = 2;

// Reads returns_by_symptom.
const returned = `
  returned (motor_id, at_ms, run_id) AS (
    SELECT rel.motor_id, rel.at_ms, rel.run_id
    FROM releases rel
    JOIN units u ON u.id = rel.motor_id
    WHERE u.model_id = @modelId
      AND rel.motor_id IN (SELECT motor_id FROM returns WHERE symptom = @symptom)
  )`;

/**
 * What returned motors have in common, and how common that is among all released motors
 * of the model, on one connection. Long questions all: asked in a worker only.
 */
export function factorRecords(db: Database) {
  return { ...borneStatements(db), ...populationStatements(db) };
}

function borneStatements(db: Database) {
  const many = `HAVING COUNT(DISTINCT x.motor_id) >= ${BORNE_BY_AT_LEAST}`;
  const count = db.prepare<[Alike], { motors: number }>(
    `WITH ${returned} SELECT COUNT(*) AS motors FROM returned`,
  );
  const lots = db.prepare<[Alike], Borne>(`
    WITH RECURSIVE ${returned},
    inside (motor_id, at_ms, unit_id, depth) AS (
      SELECT motor_id, at_ms, motor_id, 0 FROM returned
      UNION ALL
      SELECT inside.motor_id, inside.at_ms, i.child_id, inside.depth + 1
      FROM inside
      JOIN installations i ON i.parent_id = inside.unit_id
      WHERE i.from_ms <= inside.at_ms
        AND (i.until_ms IS NULL OR i.until_ms > inside.at_ms)
        AND inside.depth < ${DEPTH_LIMIT}
    )
    SELECT l.id AS key,
           p.number || ' ' || p.revision || ' ' || l.code AS value,
           COUNT(DISTINCT x.motor_id) AS motors
    FROM inside x
    JOIN lot_uses y ON y.unit_id = x.unit_id AND y.at_ms <= x.at_ms
    JOIN lots l ON l.id = y.lot_id
    JOIN parts p ON p.id = l.part_id
    GROUP BY l.id
    ${many}`);
  const cells = db.prepare<[Alike], Borne>(`
    WITH ${returned}
    SELECT r.cell AS key, r.cell AS value, COUNT(DISTINCT x.motor_id) AS motors
    FROM returned x JOIN runs r ON r.id = x.run_id
    GROUP BY r.cell
    ${many}`);
  const configurations = db.prepare<[Alike], Borne>(`
    WITH ${returned}
    SELECT c.id AS key, c.code || ' ' || c.revision AS value, COUNT(DISTINCT x.motor_id) AS motors
    FROM returned x
    JOIN sets s ON s.motor_id = x.motor_id
    JOIN configurations c ON c.id = s.configuration_id
    GROUP BY c.id
    ${many}`);
  const causes = db.prepare<[Alike], Borne>(`
    WITH ${returned}
    SELECT r.cause AS key, r.cause AS value, COUNT(DISTINCT x.motor_id) AS motors
    FROM returned x JOIN repairs r ON r.motor_id = x.motor_id
    WHERE r.cause IS NOT NULL
    GROUP BY r.cause
    ${many}`);
  const setTimes = db.prepare<[Alike], { atMs: number }>(`
    WITH ${returned}
    SELECT s.at_ms AS atMs FROM returned x JOIN sets s ON s.motor_id = x.motor_id`);
  return {
    returnedMotors: (alike: Alike) => count.get(alike)?.motors ?? 0,
    /** Lots in the motor as it was released. */
    lotsBorne: (alike: Alike) => lots.all(alike),
    /** Cells of the runs that they were released on. */
    cellsBorne: (alike: Alike) => cells.all(alike),
    configurationsBorne: (alike: Alike) => configurations.all(alike),
    causesBorne: (alike: Alike) => causes.all(alike),
    setTimes: (alike: Alike) => setTimes.iterate(alike),
  };
}

type Counted = { key: number | string; motors: number };
type Asked = [{ keys: string; modelId: number }];

function populationStatements(db: Database) {
  const motors = db.prepare<[number], { motors: number }>(`
    SELECT COUNT(*) AS motors
    FROM units u JOIN releases r ON r.motor_id = u.id
    WHERE u.model_id = ?`);
  // Reads lot_uses_by_lot, then installations_by_child upward: only what held at the release.
  const withLots = db.prepare<Asked, Counted>(`
    WITH RECURSIVE up (lot_id, unit_id, from_ms, until_ms, depth) AS (
      SELECT x.lot_id, x.unit_id, x.at_ms, ${EVER}, 0
      FROM json_each(@keys) j
      JOIN lot_uses x ON x.lot_id = j.value
      UNION ALL
      SELECT up.lot_id,
             i.parent_id,
             MAX(up.from_ms, i.from_ms),
             MIN(up.until_ms, COALESCE(i.until_ms, ${EVER})),
             up.depth + 1
      FROM up
      JOIN installations i ON i.child_id = up.unit_id
      WHERE up.depth < ${DEPTH_LIMIT}
    )
    SELECT up.lot_id AS key, COUNT(DISTINCT up.unit_id) AS motors
    FROM up
    JOIN releases r ON r.motor_id = up.unit_id AND r.at_ms >= up.from_ms AND r.at_ms < up.until_ms
    JOIN units u ON u.id = up.unit_id
    WHERE u.model_id = @modelId
    GROUP BY up.lot_id`);
  // Reads runs_by_cell.
  const inCells = db.prepare<Asked, Counted>(`
    SELECT r.cell AS key, COUNT(*) AS motors
    FROM json_each(@keys) j
    CROSS JOIN runs r ON r.cell = j.value
    JOIN releases rel ON rel.motor_id = r.motor_id AND rel.run_id = r.id
    JOIN units u ON u.id = r.motor_id
    WHERE u.model_id = @modelId
    GROUP BY r.cell`);
  // Reads sets_by_configuration.
  const ofConfigurations = db.prepare<Asked, Counted>(`
    SELECT s.configuration_id AS key, COUNT(*) AS motors
    FROM json_each(@keys) j
    CROSS JOIN sets s ON s.configuration_id = j.value
    JOIN releases rel ON rel.motor_id = s.motor_id
    JOIN units u ON u.id = s.motor_id
    WHERE u.model_id = @modelId
    GROUP BY s.configuration_id`);
  // Reads repairs_by_cause.
  const withCauses = db.prepare<Asked, Counted>(`
    SELECT r.cause AS key, COUNT(DISTINCT r.motor_id) AS motors
    FROM json_each(@keys) j
    CROSS JOIN repairs r ON r.cause = j.value
    JOIN releases rel ON rel.motor_id = r.motor_id
    JOIN units u ON u.id = r.motor_id
    WHERE u.model_id = @modelId
    GROUP BY r.cause`);
  // Reads sets_by_time.
  const setIn = db.prepare<Asked, Counted>(`
    SELECT j.key, COUNT(*) AS motors
    FROM json_each(@keys) j
    CROSS JOIN sets s ON s.at_ms >= j.value ->> 0 AND s.at_ms < j.value ->> 1
    JOIN releases rel ON rel.motor_id = s.motor_id
    JOIN units u ON u.id = s.motor_id
    WHERE u.model_id = @modelId
    GROUP BY j.key`);
  const of = (statement: typeof withLots) => (keys: readonly unknown[], modelId: number) =>
    new Map(
      statement
        .all({ keys: JSON.stringify(keys), modelId })
        .map((row) => [row.key, row.motors] as const),
    );
  return {
    /** Released motors of a model. */
    population: (modelId: number) => motors.get(modelId)?.motors ?? 0,
    /** Released motors of a model by what they bear: the same of all as of the returned. */
    withLots: of(withLots),
    inCells: of(inCells),
    ofConfigurations: of(ofConfigurations),
    withCauses: of(withCauses),
    /** Counted by the place of each span in the object that names them. */
    setIn: (spans: Readonly<Record<string, Span>>, modelId: number) =>
      new Map(
        setIn
          .all({ keys: JSON.stringify(spans), modelId })
          .map((row) => [row.key, row.motors] as const),
      ),
  };
}
