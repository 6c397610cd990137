-- Production-line testing of emissions: engine families, drawn engines, their tests.

-- One row for each revision; the newest is in force. Days are in the plant's time zone.
CREATE TABLE engine_families (
  id               INTEGER PRIMARY KEY,
  code             TEXT    NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
  revision         INTEGER NOT NULL CHECK (revision >= 1),
  model_year       INTEGER NOT NULL CHECK (model_year BETWEEN 1990 AND 2200),
  production_from  TEXT    NOT NULL CHECK (production_from GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  production_until TEXT    NOT NULL CHECK (production_until GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  projected_volume INTEGER NOT NULL CHECK (projected_volume >= 1),
  reason           TEXT    CHECK (length(reason) >= 1),
  recorded_at_ms   INTEGER NOT NULL,
  recorded_by      INTEGER NOT NULL REFERENCES api_keys (id),
  UNIQUE (code, revision),
  CHECK (production_until >= production_from),
  CHECK ((revision = 1) = (reason IS NULL))
) STRICT;
CREATE TRIGGER engine_family_revisions_count_up BEFORE INSERT ON engine_families
WHEN NEW.revision <> 1 + (SELECT COALESCE(MAX(revision), 0) FROM engine_families WHERE code = NEW.code)
BEGIN SELECT RAISE(ABORT, 'revisions of an engine family count up by one'); END;
CREATE TRIGGER engine_family_keeps_its_year BEFORE INSERT ON engine_families
WHEN NEW.model_year <> (SELECT model_year FROM engine_families WHERE code = NEW.code AND revision = 1)
BEGIN SELECT RAISE(ABORT, 'an engine family is of one model year'); END;
CREATE TRIGGER engine_families_stay BEFORE UPDATE ON engine_families
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family never changes'); END;
CREATE TRIGGER engine_families_remain BEFORE DELETE ON engine_families
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family is never removed'); END;

CREATE TABLE engine_family_models (
  family_id INTEGER NOT NULL REFERENCES engine_families (id),
  model_id  INTEGER NOT NULL REFERENCES models (id),
  PRIMARY KEY (family_id, model_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX engine_families_by_model ON engine_family_models (model_id, family_id);
CREATE TRIGGER an_engine_is_of_one_family BEFORE INSERT ON engine_family_models
WHEN EXISTS (
  SELECT 1
  FROM engine_families mine
  JOIN engine_family_models m ON m.model_id = NEW.model_id
  JOIN engine_families other ON other.id = m.family_id
  WHERE mine.id = NEW.family_id
    AND other.code <> mine.code
    AND other.revision = (SELECT MAX(revision) FROM engine_families WHERE code = other.code)
    AND other.production_from <= mine.production_until
    AND other.production_until >= mine.production_from
)
BEGIN SELECT RAISE(ABORT, 'in the same days a model is of one engine family'); END;
CREATE TRIGGER engine_family_models_stay BEFORE UPDATE ON engine_family_models
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family never changes'); END;
CREATE TRIGGER engine_family_models_remain BEFORE DELETE ON engine_family_models
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family never changes'); END;

CREATE TABLE engine_family_pollutants (
  family_id     INTEGER NOT NULL REFERENCES engine_families (id),
  position      INTEGER NOT NULL CHECK (position >= 0),
  pollutant     TEXT    NOT NULL CHECK (length(pollutant) BETWEEN 1 AND 20),
  basis         TEXT    NOT NULL CHECK (basis IN ('standard', 'fel')),
  standard      REAL    NOT NULL CHECK (standard > 0),
  unit          TEXT    NOT NULL,
  decimals      INTEGER NOT NULL CHECK (decimals BETWEEN 0 AND 6),
  deterioration TEXT    NOT NULL CHECK (deterioration IN ('multiplicative', 'additive')),
  factor        REAL    NOT NULL,
  PRIMARY KEY (family_id, position),
  UNIQUE (family_id, pollutant)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER engine_family_pollutants_stay BEFORE UPDATE ON engine_family_pollutants
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family never changes'); END;
CREATE TRIGGER engine_family_pollutants_remain BEFORE DELETE ON engine_family_pollutants
BEGIN SELECT RAISE(ABORT, 'a revision of an engine family never changes'); END;

-- The motors that a draw was made from stand in its event.
CREATE TABLE emission_draws (
  id                INTEGER PRIMARY KEY,
  family_id         INTEGER NOT NULL REFERENCES engine_families (id),
  seq               INTEGER NOT NULL UNIQUE REFERENCES events (seq),
  period            INTEGER NOT NULL CHECK (period >= 1),
  from_day          TEXT    NOT NULL CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  until_day         TEXT    NOT NULL CHECK (until_day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  placed_by         TEXT    NOT NULL CHECK (placed_by IN ('set', 'pass')),
  with_released     INTEGER NOT NULL CHECK (with_released IN (0, 1)),
  population        INTEGER NOT NULL CHECK (population >= 1),
  left_out          INTEGER NOT NULL CHECK (left_out >= 0),
  population_digest TEXT    NOT NULL CHECK (length(population_digest) = 64),
  seed              TEXT    NOT NULL CHECK (length(seed) = 64),
  drawn_on          TEXT    NOT NULL CHECK (drawn_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  drawn_at_ms       INTEGER NOT NULL,
  drawn_by          INTEGER NOT NULL REFERENCES api_keys (id),
  CHECK (until_day >= from_day)
) STRICT;
CREATE INDEX emission_draws_by_family ON emission_draws (family_id, id);
CREATE TRIGGER emission_draws_stay BEFORE UPDATE ON emission_draws
BEGIN SELECT RAISE(ABORT, 'a draw is never changed'); END;
CREATE TRIGGER emission_draws_remain BEFORE DELETE ON emission_draws
BEGIN SELECT RAISE(ABORT, 'a draw is never removed'); END;

CREATE TABLE emission_drawn (
  draw_id     INTEGER NOT NULL REFERENCES emission_draws (id),
  position    INTEGER NOT NULL CHECK (position >= 0),
  family_code TEXT    NOT NULL,
  motor_id    INTEGER NOT NULL REFERENCES units (id),
  PRIMARY KEY (draw_id, position),
  UNIQUE (family_code, motor_id)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER drawn_engines_stay BEFORE UPDATE ON emission_drawn
BEGIN SELECT RAISE(ABORT, 'a draw is never changed'); END;
CREATE TRIGGER drawn_engines_remain BEFORE DELETE ON emission_drawn
BEGIN SELECT RAISE(ABORT, 'a draw is never changed'); END;

CREATE TABLE emission_tests (
  id               INTEGER PRIMARY KEY,
  family_code      TEXT    NOT NULL,
  motor_id         INTEGER NOT NULL,
  tested_on        TEXT    NOT NULL CHECK (tested_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  hours_run        REAL    CHECK (hours_run >= 0),
  after_correction INTEGER NOT NULL CHECK (after_correction IN (0, 1)),
  note             TEXT    CHECK (length(note) >= 1),
  recorded_at_ms   INTEGER NOT NULL,
  recorded_by      INTEGER NOT NULL REFERENCES api_keys (id),
  -- Only an engine that was drawn for the family has results.
  FOREIGN KEY (family_code, motor_id) REFERENCES emission_drawn (family_code, motor_id)
) STRICT;
CREATE INDEX emission_tests_by_family ON emission_tests (family_code, motor_id, id);
CREATE TRIGGER emission_tests_stay BEFORE UPDATE ON emission_tests
BEGIN SELECT RAISE(ABORT, 'a test result is never changed'); END;
CREATE TRIGGER emission_tests_remain BEFORE DELETE ON emission_tests
BEGIN SELECT RAISE(ABORT, 'a test result is never removed'); END;

CREATE TABLE emission_measurements (
  test_id   INTEGER NOT NULL REFERENCES emission_tests (id),
  pollutant TEXT    NOT NULL,
  value     REAL    NOT NULL CHECK (value >= 0),
  -- Mass rate and power of each mode, where the value was weighted from them.
  modes     TEXT    CHECK (json_valid(modes)),
  PRIMARY KEY (test_id, pollutant)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER emission_measurements_stay BEFORE UPDATE ON emission_measurements
BEGIN SELECT RAISE(ABORT, 'a test result is never changed'); END;
CREATE TRIGGER emission_measurements_remain BEFORE DELETE ON emission_measurements
BEGIN SELECT RAISE(ABORT, 'a test result is never removed'); END;

CREATE TABLE emission_invalidations (
  test_id INTEGER PRIMARY KEY REFERENCES emission_tests (id),
  reason  TEXT    NOT NULL CHECK (length(reason) >= 1),
  at_ms   INTEGER NOT NULL,
  key_id  INTEGER NOT NULL REFERENCES api_keys (id)
) STRICT;
CREATE TRIGGER emission_invalidations_stay BEFORE UPDATE ON emission_invalidations
BEGIN SELECT RAISE(ABORT, 'an invalidated test stays so'); END;
CREATE TRIGGER emission_invalidations_remain BEFORE DELETE ON emission_invalidations
BEGIN SELECT RAISE(ABORT, 'an invalidated test stays so'); END;
