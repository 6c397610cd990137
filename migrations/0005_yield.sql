-- Shift calendars, and the yield counted by shift and month too.

-- The one that took effect last is in force. The time zone is the plant's when it was recorded,
-- so that what is counted by it can be counted again.
CREATE TABLE shift_calendars (
  id                INTEGER PRIMARY KEY,
  code              TEXT    NOT NULL,
  time_zone         TEXT    NOT NULL,
  effective_from_ms INTEGER NOT NULL UNIQUE,
  shifts            TEXT    NOT NULL CHECK (json_valid(shifts)),
  recorded_at_ms    INTEGER NOT NULL,
  recorded_by       INTEGER NOT NULL REFERENCES api_keys (id),
  CHECK (effective_from_ms >= recorded_at_ms)
) STRICT;
CREATE TRIGGER shift_calendars_supersede BEFORE INSERT ON shift_calendars
WHEN NEW.effective_from_ms <= (SELECT MAX(effective_from_ms) FROM shift_calendars)
BEGIN SELECT RAISE(ABORT, 'a shift calendar takes effect after the one before it'); END;
CREATE TRIGGER shift_calendars_stay BEFORE UPDATE ON shift_calendars
BEGIN SELECT RAISE(ABORT, 'a shift calendar is never changed'); END;
CREATE TRIGGER shift_calendars_remain BEFORE DELETE ON shift_calendars
BEGIN SELECT RAISE(ABORT, 'a shift calendar is never removed'); END;

-- Every motor with a completed run, under the key that its first one was counted by: the motors
-- behind a figure, day by day, and where its outcome counts as later runs change it. Beside the
-- counts below it costs a first run about 8 microseconds, and 76 bytes.
CREATE TABLE yield_motors (
  day              TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  motor_id         INTEGER NOT NULL UNIQUE,
  run_id           INTEGER NOT NULL,
  model_id         INTEGER NOT NULL,
  configuration_id INTEGER NOT NULL,
  cell             TEXT    NOT NULL,
  station          TEXT    NOT NULL,
  shift            TEXT    NOT NULL,
  first_pass       INTEGER NOT NULL CHECK (first_pass IN (0, 1)),
  -- Whether its latest completed run passed.
  finally_passed   INTEGER NOT NULL CHECK (finally_passed IN (0, 1)),
  PRIMARY KEY (day, motor_id)
) STRICT, WITHOUT ROWID;

-- Counts as a partial data cube, kept in the transaction of the run that they count; `npm run
-- verify` proves them equal to a full computation over runs.
--
-- A grouping says which of five dimensions are told apart, as a sum of bits: model 1,
-- configuration 2, cell 4, station 8, shift 16. A configuration is of one model, so it comes with
-- bit 1. Kept are the plant (0), each dimension alone (1, 3, 4, 8, 16) and all of them (31), by
-- day and by month; a dimension that is not told apart holds 0 or nothing. A question reads the
-- smallest grouping that has what it needs, and months where its days allow (src/yield/rules.ts).
-- Fourteen rows in one statement cost a run 26 microseconds, 18 more than the one row of before.
--
-- The key begins with what every question fixes (grain and grouping) and goes on with the period,
-- of which it asks a range: one run of neighbouring rows. Runs of today write to the end of each.
CREATE TABLE yield_counts (
  grain            INTEGER NOT NULL CHECK (grain IN (0, 1)), -- 0 is a day, 1 a month
  -- For a list of more than two SQLite builds an index in each of a run's fourteen rows: 15 microseconds.
  grouping         INTEGER NOT NULL CHECK (grouping = 0 OR grouping = 1 OR grouping = 3
    OR grouping = 4 OR grouping = 8 OR grouping = 16 OR grouping = 31),
  period           TEXT    NOT NULL, -- YYYY-MM-DD or YYYY-MM
  model_id         INTEGER NOT NULL,
  configuration_id INTEGER NOT NULL,
  cell             TEXT    NOT NULL,
  station          TEXT    NOT NULL,
  shift            TEXT    NOT NULL,
  first_runs       INTEGER NOT NULL,
  first_passes     INTEGER NOT NULL CHECK (first_passes BETWEEN 0 AND first_runs),
  finally_passed   INTEGER NOT NULL CHECK (finally_passed BETWEEN 0 AND first_runs),
  reworked         INTEGER NOT NULL
    CHECK (reworked BETWEEN 0 AND MIN(finally_passed, first_runs - first_passes)),
  completed_runs   INTEGER NOT NULL CHECK (completed_runs >= first_runs),
  passed_runs      INTEGER NOT NULL CHECK (passed_runs BETWEEN first_passes AND completed_runs),
  first_defects    INTEGER NOT NULL CHECK (first_defects >= 0),
  defects          INTEGER NOT NULL CHECK (defects >= first_defects),
  aborted_runs     INTEGER NOT NULL CHECK (aborted_runs >= 0),
  PRIMARY KEY (grain, grouping, period, model_id, configuration_id, cell, station, shift)
) STRICT, WITHOUT ROWID;

-- What was recorded before, as the events say it and exactly as they are applied: the roll-up
-- until now knew neither defects nor what became of a motor. There were no shifts.
CREATE TEMP TABLE ended_runs AS
SELECT content ->> '$.id' AS run_id,
       content ->> '$.motorId' AS motor_id,
       kind = 'run.completed' AS completed,
       COALESCE(content ->> '$.attempt', 0) AS attempt,
       COALESCE(content ->> '$.verdict' = 'pass', 0) AS passed,
       COALESCE(content ->> '$.firstPass', 0) AS first_pass,
       COALESCE(json_array_length(content, '$.failedIds'), 0) AS defects,
       content ->> '$.counted.day' AS day,
       content ->> '$.counted.modelId' AS model_id,
       content ->> '$.counted.configurationId' AS configuration_id,
       content ->> '$.counted.cell' AS cell,
       content ->> '$.counted.station' AS station
FROM events
WHERE kind IN ('run.completed', 'run.aborted');

INSERT INTO yield_motors
SELECT e.day, e.motor_id, e.run_id, e.model_id, e.configuration_id, e.cell, e.station, 'none',
       e.first_pass,
       (SELECT r.verdict = 'pass' FROM runs r
        WHERE r.motor_id = e.motor_id AND r.attempt IS NOT NULL
        ORDER BY r.attempt DESC LIMIT 1)
FROM ended_runs e
WHERE e.attempt = 1;

CREATE TEMP TABLE counted_runs AS
SELECT e.day, e.model_id, e.configuration_id, e.cell, e.station,
       SUM(e.attempt = 1) AS first_runs,
       SUM(e.first_pass) AS first_passes,
       COALESCE(SUM(y.finally_passed), 0) AS finally_passed,
       COALESCE(SUM(y.finally_passed AND NOT y.first_pass), 0) AS reworked,
       SUM(e.completed) AS completed_runs,
       SUM(e.passed) AS passed_runs,
       SUM(IIF(e.attempt = 1, e.defects, 0)) AS first_defects,
       SUM(e.defects) AS defects,
       SUM(NOT e.completed) AS aborted_runs
FROM ended_runs e
LEFT JOIN yield_motors y ON e.attempt = 1 AND y.motor_id = e.motor_id
GROUP BY e.day, e.model_id, e.configuration_id, e.cell, e.station;

INSERT INTO yield_counts
SELECT g.grain, g.grouping, substr(c.day, 1, IIF(g.grain = 0, 10, 7)) AS period,
       IIF(g.grouping & 1, c.model_id, 0) AS model,
       IIF(g.grouping & 2, c.configuration_id, 0) AS configuration,
       IIF(g.grouping & 4, c.cell, '') AS cell_told,
       IIF(g.grouping & 8, c.station, '') AS station_told,
       IIF(g.grouping & 16, 'none', '') AS shift_told,
       SUM(c.first_runs), SUM(c.first_passes), SUM(c.finally_passed), SUM(c.reworked),
       SUM(c.completed_runs), SUM(c.passed_runs), SUM(c.first_defects), SUM(c.defects),
       SUM(c.aborted_runs)
FROM counted_runs c
CROSS JOIN (
  SELECT j.value AS grouping, k.value AS grain
  FROM json_each('[0, 1, 3, 4, 8, 16, 31]') j CROSS JOIN json_each('[0, 1]') k) g
GROUP BY g.grain, g.grouping, period, model, configuration, cell_told, station_told, shift_told;

DROP TABLE counted_runs;
DROP TABLE ended_runs;
DROP TABLE yield_daily;
