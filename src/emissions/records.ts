import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import type { DeteriorationFactor } from './cumsum-lot-rule.js';
import type { PollutantTerms } from './rules.js';
import type { ModeMeasurement } from './weighted-cycle.js';

export interface FamilyPollutant extends PollutantTerms {
  basis: 'standard' | 'fel';
  unit: 'g/(kW.h)';
}

interface FamilyBase {
  id: number;
  code: string;
  revision: number;
  modelYear: number;
  productionFrom: string;
  productionUntil: string;
  projectedVolume: number;
  reason: string | null;
}

/** What the event of a revision states. */
export interface NewFamily extends FamilyBase {
  modelIds: number[];
  pollutants: FamilyPollutant[];
}

export interface FamilyRow extends FamilyBase {
  models: string[];
  pollutants: FamilyPollutant[];
  recordedAtMs: number;
  recordedBy: string;
}

interface StoredFamily extends Omit<FamilyRow, 'models' | 'pollutants'> {
  models: string;
}

interface StoredPollutant extends Omit<FamilyPollutant, 'deterioration'> {
  deterioration: 'multiplicative' | 'additive';
  factor: number;
}

type PlacedBy = 'set' | 'pass';

interface DrawBase {
  id: number;
  period: number;
  fromDay: string;
  untilDay: string;
  placedBy: PlacedBy;
  population: number;
  leftOut: number;
  populationDigest: string;
  seed: string;
}

/** What the tables keep of a draw; the motors it was made from stand in its event. */
export interface NewDraw extends DrawBase {
  familyId: number;
  family: string;
  withReleased: boolean;
  drawnOn: string;
  drawnMotorIds: readonly number[];
}

export interface DrawRow extends DrawBase {
  family: string;
  revision: number;
  seq: number;
  withReleased: boolean;
  drawnOn: string;
  drawnAtMs: number;
  drawnBy: string;
  /** Serials, in the order of the draw. */
  drawn: string[];
}

/** A motor that a draw may be made from. */
export interface Candidate {
  motorId: number;
  serial: string;
  /** Drawn for the family before. */
  drawn: 0 | 1;
}

export interface PopulationFilter {
  familyId: number;
  code: string;
  fromMs: number;
  untilMs: number;
  placedBy: PlacedBy;
  withReleased: boolean;
}

/** An engine as it was drawn. */
export interface DrawnEngine {
  motorId: number;
  motor: string;
  drawId: number;
  /** First day of the production that it was drawn from. */
  fromDay: string;
  drawnOn: string;
}

export interface Measurement {
  pollutant: string;
  value: number;
  modes: ModeMeasurement[] | null;
}

interface TestBase {
  id: number;
  testedOn: string;
  hoursRun: number | null;
  afterCorrection: boolean;
  note: string | null;
}

/** What the event of a test states. */
export interface NewTest extends TestBase {
  family: string;
  motorId: number;
  measurements: Measurement[];
}

export interface TestRow extends TestBase {
  family: string;
  motorId: number;
  motor: string;
  drawId: number;
  invalidated: { reason: string; atMs: number; by: string } | null;
  measurements: Measurement[];
  recordedAtMs: number;
  recordedBy: string;
}

interface StoredTest extends Omit<TestRow, 'afterCorrection' | 'invalidated' | 'measurements'> {
  afterCorrection: 0 | 1;
  invalidReason: string | null;
  invalidAtMs: number | null;
  invalidBy: string | null;
}

/** Engine families', draws' and emission tests' SQL on one connection. */
export function emissionRecords(db: Database) {
  return { ...familyStatements(db), ...drawStatements(db), ...testStatements(db) };
}

const familyColumns = `
  f.id,
  f.code,
  f.revision,
  f.model_year AS modelYear,
  f.production_from AS productionFrom,
  f.production_until AS productionUntil,
  f.projected_volume AS projectedVolume,
  f.reason,
  f.recorded_at_ms AS recordedAtMs,
  k.name AS recordedBy,
  (SELECT json_group_array(code) FROM (
    SELECT m.code FROM engine_family_models x JOIN models m ON m.id = x.model_id
    WHERE x.family_id = f.id ORDER BY m.code)) AS models
FROM engine_families f
JOIN api_keys k ON k.id = f.recorded_by`;

const newestRevision =
  'f.revision = (SELECT MAX(n.revision) FROM engine_families n WHERE n.code = f.code)';

function familyStatements(db: Database) {
  const inForce = db.prepare<[string], StoredFamily>(
    `SELECT ${familyColumns} WHERE f.code = ? AND ${newestRevision}`,
  );
  const byRevision = db.prepare<[string, number], StoredFamily>(
    `SELECT ${familyColumns} WHERE f.code = ? AND f.revision = ?`,
  );
  const list = db.prepare<[number, number], StoredFamily>(
    `SELECT ${familyColumns} WHERE f.id > ? AND ${newestRevision} ORDER BY f.id LIMIT ?`,
  );
  const revisions = db.prepare<[string, number, number], StoredFamily>(
    `SELECT ${familyColumns} WHERE f.code = ? AND f.id > ? ORDER BY f.id LIMIT ?`,
  );
  const pollutants = db.prepare<[number], StoredPollutant>(`
    SELECT pollutant, basis, standard, unit, decimals, deterioration, factor
    FROM engine_family_pollutants WHERE family_id = ? ORDER BY position`);
  // The same question as the trigger an_engine_is_of_one_family asks.
  const otherFamily = db.prepare<
    [{ code: string; modelIds: string; fromDay: string; untilDay: string }],
    { model: string; family: string }
  >(`
    SELECT m.code AS model, f.code AS family
    FROM json_each(@modelIds) j
    JOIN engine_family_models x ON x.model_id = j.value
    JOIN engine_families f ON f.id = x.family_id
    JOIN models m ON m.id = j.value
    WHERE f.code <> @code AND ${newestRevision}
      AND f.production_from <= @untilDay AND f.production_until >= @fromDay
    ORDER BY j.key, f.code
    LIMIT 1`);
  const add = db.prepare(`
    INSERT INTO engine_families
      (id, code, revision, model_year, production_from, production_until, projected_volume, reason,
       recorded_at_ms, recorded_by)
    VALUES
      (@id, @code, @revision, @modelYear, @productionFrom, @productionUntil, @projectedVolume,
       @reason, @recordedAtMs, @recordedById)`);
  const addModel = db.prepare(
    'INSERT INTO engine_family_models (family_id, model_id) VALUES (?, ?)',
  );
  const addPollutant = db.prepare(`
    INSERT INTO engine_family_pollutants
      (family_id, position, pollutant, basis, standard, unit, decimals, deterioration, factor)
    VALUES
      (@familyId, @position, @pollutant, @basis, @standard, @unit, @decimals, @kind, @factor)`);
  const whole = (row: StoredFamily): FamilyRow => ({
    ...row,
    models: JSON.parse(row.models) as string[],
    pollutants: pollutants.all(row.id).map(decodePollutant),
  });
  const wholeOf = (row: StoredFamily | undefined) => row && whole(row);
  return {
    /** The newest revision of a family. */
    family: (code: string) => wholeOf(inForce.get(code)),
    familyRevision: (code: string, revision: number) => wholeOf(byRevision.get(code, revision)),
    families: (afterId: number, limit: number) => list.all(afterId, limit).map(whole),
    familyRevisions: (code: string, afterId: number, limit: number) =>
      revisions.all(code, afterId, limit).map(whole),
    /** Another family, in force, that has one of these models in some of these days. */
    otherFamilyOf: (code: string, modelIds: readonly number[], fromDay: string, untilDay: string) =>
      otherFamily.get({ code, modelIds: JSON.stringify(modelIds), fromDay, untilDay }),
    nextFamilyId: nextIdOn(db, 'engine_families'),
    addFamily({
      modelIds,
      pollutants: terms,
      ...row
    }: NewFamily & { recordedAtMs: number; recordedById: number }): void {
      add.run(row);
      for (const modelId of modelIds) addModel.run(row.id, modelId);
      for (const [position, { deterioration, ...one }] of terms.entries()) {
        const { kind } = deterioration;
        const factor = factorOf(deterioration);
        addPollutant.run({ ...one, familyId: row.id, position, kind, factor });
      }
    },
  };
}

function factorOf(deterioration: DeteriorationFactor): number {
  return deterioration.kind === 'multiplicative' ? deterioration.factor : deterioration.amount;
}

function decodePollutant({ deterioration, factor, ...row }: StoredPollutant): FamilyPollutant {
  return {
    ...row,
    deterioration:
      deterioration === 'multiplicative'
        ? { kind: 'multiplicative', factor }
        : { kind: 'additive', amount: factor },
  };
}

const drawColumns = `
  d.id,
  f.code AS family,
  f.revision,
  d.seq,
  d.period,
  d.from_day AS fromDay,
  d.until_day AS untilDay,
  d.placed_by AS placedBy,
  d.with_released AS withReleased,
  d.population,
  d.left_out AS leftOut,
  d.population_digest AS populationDigest,
  d.seed,
  d.drawn_on AS drawnOn,
  d.drawn_at_ms AS drawnAtMs,
  k.name AS drawnBy
FROM emission_draws d
JOIN engine_families f ON f.id = d.family_id
JOIN api_keys k ON k.id = d.drawn_by`;

type StoredDraw = Omit<DrawRow, 'withReleased' | 'drawn'> & { withReleased: 0 | 1 };

/** What of a motor decides whether it is in a population. */
const candidateColumns = `
  u.id AS motorId,
  u.serial,
  EXISTS (
    SELECT 1 FROM emission_drawn w WHERE w.family_code = @code AND w.motor_id = u.id) AS drawn`;
const eligible = `
  u.state NOT IN ('torn-down', 'scrapped') AND (@withReleased = 1 OR u.state <> 'released')`;

function drawStatements(db: Database) {
  const draw = db.prepare<[string, number], StoredDraw>(
    `SELECT ${drawColumns} WHERE f.code = ? AND d.id = ?`,
  );
  const list = db.prepare<[string, number, number], StoredDraw>(
    `SELECT ${drawColumns} WHERE f.code = ? AND d.id > ? ORDER BY d.id LIMIT ?`,
  );
  const drawnIn = db
    .prepare<[number], string>(`
      SELECT u.serial FROM emission_drawn w JOIN units u ON u.id = w.motor_id
      WHERE w.draw_id = ? ORDER BY w.position`)
    .pluck();
  const engineColumns = `
    w.motor_id AS motorId, u.serial AS motor, w.draw_id AS drawId, d.from_day AS fromDay,
    d.drawn_on AS drawnOn
    FROM emission_drawn w
    JOIN emission_draws d ON d.id = w.draw_id
    JOIN units u ON u.id = w.motor_id`;
  const engine = db.prepare<[string, number], DrawnEngine>(
    `SELECT ${engineColumns} WHERE w.family_code = ? AND w.motor_id = ?`,
  );
  const engines = db.prepare<[string], DrawnEngine>(
    `SELECT ${engineColumns} WHERE w.family_code = ? ORDER BY w.draw_id, w.position`,
  );
  // Reads sets_by_time.
  const bySet = db.prepare<[object], Candidate>(`
    SELECT ${candidateColumns}
    FROM sets s
    CROSS JOIN units u ON u.id = s.motor_id
    WHERE s.at_ms >= @fromMs AND s.at_ms < @untilMs
      AND u.model_id IN (SELECT model_id FROM engine_family_models WHERE family_id = @familyId)
      AND ${eligible}
    ORDER BY u.id`);
  // Reads runs_by_end for each specification of the models; a motor's first pass places it.
  const byPass = db.prepare<[object], Candidate>(`
    SELECT ${candidateColumns}
    FROM engine_family_models x
    CROSS JOIN specifications p ON p.model_id = x.model_id
    CROSS JOIN runs r ON r.specification_id = p.id
      AND r.state = 'completed' AND r.ended_at_ms >= @fromMs AND r.ended_at_ms < @untilMs
    CROSS JOIN units u ON u.id = r.motor_id
    WHERE x.family_id = @familyId
      AND r.verdict = 'pass'
      AND NOT EXISTS (
        SELECT 1 FROM runs e
        WHERE e.motor_id = r.motor_id AND e.verdict = 'pass'
          AND (e.ended_at_ms, e.id) < (r.ended_at_ms, r.id))
      AND ${eligible}
    ORDER BY u.id`);
  const serials = db
    .prepare<[string], string>(
      'SELECT u.serial FROM json_each(?) j CROSS JOIN units u ON u.id = j.value ORDER BY j.key',
    )
    .pluck();
  const add = db.prepare(`
    INSERT INTO emission_draws
      (id, family_id, seq, period, from_day, until_day, placed_by, with_released, population,
       left_out, population_digest, seed, drawn_on, drawn_at_ms, drawn_by)
    VALUES
      (@id, @familyId, @seq, @period, @fromDay, @untilDay, @placedBy, @withReleased, @population,
       @leftOut, @populationDigest, @seed, @drawnOn, @drawnAtMs, @drawnById)`);
  const addDrawn = db.prepare(
    'INSERT INTO emission_drawn (draw_id, position, family_code, motor_id) VALUES (?, ?, ?, ?)',
  );
  const whole = (row: StoredDraw): DrawRow => ({
    ...row,
    withReleased: row.withReleased === 1,
    drawn: drawnIn.all(row.id),
  });
  return {
    draw(code: string, id: number): DrawRow | undefined {
      const row = draw.get(code, id);
      return row && whole(row);
    },
    draws: (code: string, afterId: number, limit: number) =>
      list.all(code, afterId, limit).map(whole),
    drawnEngine: (code: string, motorId: number) => engine.get(code, motorId),
    /** Drawn engines of a family, in the order of the draws. */
    drawnEngines: (code: string) => engines.all(code),
    /** Motors of a family whose production lies in a span, with those drawn before. */
    candidates: ({ placedBy, withReleased, ...filter }: PopulationFilter) =>
      (placedBy === 'set' ? bySet : byPass).all({ ...filter, withReleased: withReleased ? 1 : 0 }),
    /** Serials of motors, in the order of their ids given. */
    serialsOf: (motorIds: readonly number[]) => serials.all(JSON.stringify(motorIds)),
    nextDrawId: nextIdOn(db, 'emission_draws'),
    addDraw({
      drawnMotorIds,
      ...row
    }: NewDraw & { seq: number; drawnAtMs: number; drawnById: number }): void {
      add.run({ ...row, withReleased: row.withReleased ? 1 : 0 });
      for (const [position, motorId] of drawnMotorIds.entries()) {
        addDrawn.run(row.id, position, row.family, motorId);
      }
    },
  };
}

const testColumns = `
  t.id,
  t.family_code AS family,
  t.motor_id AS motorId,
  u.serial AS motor,
  w.draw_id AS drawId,
  t.tested_on AS testedOn,
  t.hours_run AS hoursRun,
  t.after_correction AS afterCorrection,
  t.note,
  t.recorded_at_ms AS recordedAtMs,
  k.name AS recordedBy,
  i.reason AS invalidReason,
  i.at_ms AS invalidAtMs,
  ik.name AS invalidBy
FROM emission_tests t
JOIN units u ON u.id = t.motor_id
JOIN emission_drawn w ON w.family_code = t.family_code AND w.motor_id = t.motor_id
JOIN api_keys k ON k.id = t.recorded_by
LEFT JOIN emission_invalidations i ON i.test_id = t.id
LEFT JOIN api_keys ik ON ik.id = i.key_id`;

function testStatements(db: Database) {
  const test = db.prepare<[string, number], StoredTest>(
    `SELECT ${testColumns} WHERE t.family_code = ? AND t.id = ?`,
  );
  const list = db.prepare<[string, number, number], StoredTest>(
    `SELECT ${testColumns} WHERE t.family_code = ? AND t.id > ? ORDER BY t.id LIMIT ?`,
  );
  const ofMotor = db.prepare<[string, number], StoredTest>(
    `SELECT ${testColumns} WHERE t.family_code = ? AND t.motor_id = ? ORDER BY t.id`,
  );
  const measurements = db.prepare<
    [number],
    { pollutant: string; value: number; modes: string | null }
  >(
    'SELECT pollutant, value, modes FROM emission_measurements WHERE test_id = ? ORDER BY pollutant',
  );
  const add = db.prepare(`
    INSERT INTO emission_tests
      (id, family_code, motor_id, tested_on, hours_run, after_correction, note, recorded_at_ms,
       recorded_by)
    VALUES
      (@id, @family, @motorId, @testedOn, @hoursRun, @afterCorrection, @note, @recordedAtMs,
       @recordedById)`);
  const addMeasurement = db.prepare(
    'INSERT INTO emission_measurements (test_id, pollutant, value, modes) VALUES (?, ?, ?, ?)',
  );
  const invalidate = db.prepare(`
    INSERT INTO emission_invalidations (test_id, reason, at_ms, key_id)
    VALUES (@testId, @reason, @atMs, @keyId)`);
  const whole = ({ invalidReason, invalidAtMs, invalidBy, ...row }: StoredTest): TestRow => ({
    ...row,
    afterCorrection: row.afterCorrection === 1,
    invalidated:
      invalidReason === null
        ? null
        : { reason: invalidReason, atMs: invalidAtMs ?? 0, by: invalidBy ?? '' },
    measurements: measurements.all(row.id).map(({ modes, ...one }) => ({
      ...one,
      modes: modes === null ? null : (JSON.parse(modes) as ModeMeasurement[]),
    })),
  });
  return {
    test(code: string, id: number): TestRow | undefined {
      const row = test.get(code, id);
      return row && whole(row);
    },
    tests: (code: string, afterId: number, limit: number) =>
      list.all(code, afterId, limit).map(whole),
    testsOfMotor: (code: string, motorId: number) => ofMotor.all(code, motorId).map(whole),
    nextTestId: nextIdOn(db, 'emission_tests'),
    addTest({
      measurements: all,
      ...row
    }: NewTest & { recordedAtMs: number; recordedById: number }): void {
      add.run({ ...row, afterCorrection: row.afterCorrection ? 1 : 0 });
      for (const { pollutant, value, modes } of all) {
        addMeasurement.run(row.id, pollutant, value, modes && JSON.stringify(modes));
      }
    },
    invalidateTest: (row: { testId: number; reason: string; atMs: number; keyId: number }) =>
      void invalidate.run(row),
  };
}
