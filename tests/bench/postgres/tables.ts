/**
 * The tables that completing a run writes to, as one would make them in PostgreSQL:
 * the same members as the service's, with the types that PostgreSQL has for them.
 */
export const tables = `
CREATE TABLE units (
  id bigint PRIMARY KEY,
  state text NOT NULL
);
CREATE TABLE runs (
  id bigint PRIMARY KEY,
  motor_id bigint NOT NULL REFERENCES units (id),
  cell text NOT NULL,
  state text NOT NULL,
  started_at timestamptz NOT NULL,
  ended_at timestamptz,
  attempt int,
  verdict text,
  first_pass boolean,
  cell_verdict text,
  disagreement boolean NOT NULL DEFAULT false,
  judged bytea,
  UNIQUE (motor_id, attempt)
);
CREATE UNIQUE INDEX run_open_on_motor ON runs (motor_id) WHERE state = 'open';
CREATE UNIQUE INDEX run_open_in_cell ON runs (cell) WHERE state = 'open';
CREATE INDEX runs_by_motor ON runs (motor_id, id);
CREATE INDEX runs_by_cell ON runs (cell, ended_at);
CREATE TABLE readings (
  run_id bigint NOT NULL REFERENCES runs (id),
  position smallint NOT NULL,
  code text NOT NULL,
  value double precision NOT NULL,
  unit text,
  PRIMARY KEY (run_id, position)
);
CREATE TABLE reading_batches (
  run_id bigint NOT NULL REFERENCES runs (id),
  sequence int NOT NULL,
  measured_at timestamptz NOT NULL,
  packed bytea NOT NULL,
  PRIMARY KEY (run_id, sequence)
);
CREATE TABLE events (
  seq bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  recorded_at timestamptz NOT NULL DEFAULT now(),
  key_id int NOT NULL,
  station text,
  kind text NOT NULL,
  units jsonb NOT NULL,
  content jsonb NOT NULL
);
CREATE TABLE event_units (
  unit_id bigint NOT NULL,
  seq bigint NOT NULL REFERENCES events (seq),
  PRIMARY KEY (unit_id, seq)
);
CREATE TABLE idempotency (
  key_id int NOT NULL,
  idempotency_key text NOT NULL,
  fingerprint bytea NOT NULL,
  status int NOT NULL,
  body text NOT NULL,
  recorded_at timestamptz NOT NULL DEFAULT now(),
  PRIMARY KEY (key_id, idempotency_key)
);
CREATE INDEX idempotency_by_age ON idempotency (recorded_at);
CREATE TABLE yield_counts (
  grain smallint NOT NULL,
  grouping_bits smallint NOT NULL,
  period text NOT NULL,
  model_id int NOT NULL,
  configuration_id int NOT NULL,
  cell text NOT NULL,
  station text NOT NULL,
  shift text NOT NULL,
  first_runs int NOT NULL,
  first_passes int NOT NULL,
  finally_passed int NOT NULL,
  completed_runs int NOT NULL,
  passed_runs int NOT NULL,
  PRIMARY KEY (grain, grouping_bits, period, model_id, configuration_id, cell, station, shift)
);
CREATE TABLE yield_motors (
  day date NOT NULL,
  motor_id bigint NOT NULL UNIQUE,
  run_id bigint NOT NULL,
  cell text NOT NULL,
  station text NOT NULL,
  first_pass boolean NOT NULL,
  finally_passed boolean NOT NULL,
  PRIMARY KEY (day, motor_id)
);
CREATE TABLE series_recent (
  specification_id int NOT NULL,
  place bigint GENERATED ALWAYS AS IDENTITY,
  run_id bigint NOT NULL REFERENCES runs (id),
  PRIMARY KEY (specification_id, place)
);`;

/** As many open runs as asked for, with ids from 1, each of a motor in a cell of its own. */
export const openRuns = [
  "INSERT INTO units SELECT i, 'in-test' FROM generate_series(1, $1::int) i",
  `INSERT INTO runs (id, motor_id, cell, state, started_at)
   SELECT i, i, 'CELL-' || i, 'open', now() FROM generate_series(1, $1::int) i`,
];

/** The statements of one completion; each is prepared once on a connection. */
export const completion = {
  run: `
    UPDATE runs
    SET state = 'completed', ended_at = now(), attempt = 1, verdict = 'pass', first_pass = true,
        cell_verdict = $2, judged = $3
    WHERE id = $1 AND state = 'open'
    RETURNING motor_id, cell`,
  rows: `
    INSERT INTO readings (run_id, position, code, value, unit)
    SELECT $1, r.position, r.code, r.value, r.unit
    FROM unnest($2::text[], $3::float8[], $4::text[])
      WITH ORDINALITY AS r (code, value, unit, position)`,
  packed: 'INSERT INTO reading_batches VALUES ($1, 1, now(), $2)',
  events: `
    INSERT INTO events (key_id, station, kind, units, content)
    VALUES (1, $1, 'run.completed', $2, $3)
    RETURNING seq`,
  eventUnits: 'INSERT INTO event_units VALUES ($1, $2)',
  unit: "UPDATE units SET state = 'passed' WHERE id = $1",
  // The same fourteen counts; those that all runs share come last, to be locked as briefly as can be.
  roll: `
    INSERT INTO yield_counts
    SELECT grain, bits, to_char(current_date, CASE grain WHEN 0 THEN 'YYYY-MM-DD' ELSE 'YYYY-MM' END),
           CASE WHEN bits & 1 > 0 THEN 1 ELSE 0 END, CASE WHEN bits & 2 > 0 THEN 1 ELSE 0 END,
           CASE WHEN bits & 4 > 0 THEN $1 ELSE '' END, CASE WHEN bits & 8 > 0 THEN 'SET-1' ELSE '' END,
           CASE WHEN bits & 16 > 0 THEN 'none' ELSE '' END, 1, 1, 1, 1, 1
    FROM unnest('{31,4,3,1,8,16,0}'::int[]) WITH ORDINALITY AS g (bits, place)
    CROSS JOIN generate_series(0, 1) AS grain
    ORDER BY place, grain
    ON CONFLICT (grain, grouping_bits, period, model_id, configuration_id, cell, station, shift)
    DO UPDATE SET first_runs = yield_counts.first_runs + 1,
        first_passes = yield_counts.first_passes + 1,
        finally_passed = yield_counts.finally_passed + 1,
        completed_runs = yield_counts.completed_runs + 1,
        passed_runs = yield_counts.passed_runs + 1`,
  motor: "INSERT INTO yield_motors VALUES (current_date, $1, $2, $3, 'SET-1', true, true)",
  series: 'INSERT INTO series_recent (specification_id, run_id) VALUES (1, $1)',
  idempotency: 'INSERT INTO idempotency VALUES (1, $1, $2, 200, $3)',
} as const;
