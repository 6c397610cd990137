-- The plant's whole record. Times are UTC epoch milliseconds; serials, part
-- numbers and lot codes are text. A rule that must never break stands here as a
-- constraint; the code above it only explains the refusal in words.

------------------------------------------------------------------ access
CREATE TABLE api_keys (
  id            INTEGER PRIMARY KEY,
  name          TEXT    NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 80),
  secret_hash   BLOB    NOT NULL UNIQUE CHECK (length(secret_hash) = 32),
  roles         TEXT    NOT NULL CHECK (json_valid(roles) AND json_array_length(roles) >= 1),
  created_at_ms INTEGER NOT NULL CHECK (created_at_ms > 0),
  expires_at_ms INTEGER CHECK (expires_at_ms > created_at_ms),
  revoked_at_ms INTEGER CHECK (revoked_at_ms >= created_at_ms)
) STRICT;

------------------------------------------------------------------ evidence
-- One row for each command that changed something. The hash covers the row and
-- the hash before it, so a missing, changed or inserted row shows.
CREATE TABLE events (
  seq            INTEGER PRIMARY KEY CHECK (seq > 0),
  recorded_at_ms INTEGER NOT NULL CHECK (recorded_at_ms > 0),
  occurred_at_ms INTEGER NOT NULL CHECK (occurred_at_ms > 0),
  key_id         INTEGER NOT NULL REFERENCES api_keys (id),
  station        TEXT,
  kind           TEXT    NOT NULL,
  units          TEXT    NOT NULL CHECK (json_valid(units)),
  content        TEXT    NOT NULL CHECK (json_valid(content)),
  hash           BLOB    NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- INSERT OR REPLACE would remove a row without asking the trigger below.
CREATE TRIGGER events_are_never_replaced BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'events are append-only'); END;
CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are append-only'); END;
CREATE TRIGGER events_are_never_removed BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are append-only'); END;

-- Which events a unit's timeline is made of; rebuilt from events.units.
CREATE TABLE event_units (
  unit_id INTEGER NOT NULL,
  seq     INTEGER NOT NULL REFERENCES events (seq),
  PRIMARY KEY (unit_id, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE idempotency (
  key_id          INTEGER NOT NULL REFERENCES api_keys (id),
  idempotency_key TEXT    NOT NULL CHECK (length(idempotency_key) BETWEEN 1 AND 255),
  fingerprint     BLOB    NOT NULL CHECK (length(fingerprint) = 32),
  status          INTEGER NOT NULL CHECK (status BETWEEN 200 AND 499),
  location        TEXT,
  body            TEXT    NOT NULL,
  recorded_at_ms  INTEGER NOT NULL CHECK (recorded_at_ms > 0),
  PRIMARY KEY (key_id, idempotency_key)
) STRICT, WITHOUT ROWID;
CREATE INDEX idempotency_by_age ON idempotency (recorded_at_ms);

------------------------------------------------------------------ catalogue
CREATE TABLE part_classes (
  code TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 40),
  name TEXT NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO part_classes (code, name) VALUES
  ('motor', 'Motor'), ('powerhead', 'Powerhead'), ('lower-unit', 'Lower unit');

CREATE TABLE parts (
  id         INTEGER PRIMARY KEY,
  number     TEXT NOT NULL,
  revision   TEXT NOT NULL,
  name       TEXT NOT NULL,
  tracking   TEXT NOT NULL CHECK (tracking IN ('serial', 'lot')),
  class      TEXT REFERENCES part_classes (code) CHECK (class <> 'motor'),
  gtin       TEXT CHECK (length(gtin) = 14),
  attributes TEXT NOT NULL CHECK (json_valid(attributes)),
  UNIQUE (number, revision),
  CHECK ((tracking = 'serial') = (class IS NOT NULL))
) STRICT;

CREATE TABLE models (
  id             INTEGER PRIMARY KEY,
  code           TEXT NOT NULL UNIQUE,
  name           TEXT NOT NULL,
  rated_power_kw REAL NOT NULL CHECK (rated_power_kw > 0),
  attributes     TEXT NOT NULL CHECK (json_valid(attributes))
) STRICT;

CREATE TABLE configurations (
  id                  INTEGER PRIMARY KEY,
  code                TEXT    NOT NULL,
  revision            INTEGER NOT NULL CHECK (revision >= 1),
  model_id            INTEGER NOT NULL REFERENCES models (id),
  discontinued        INTEGER NOT NULL CHECK (discontinued IN (0, 1)),
  powerhead_number    TEXT    NOT NULL,
  powerhead_revision  TEXT,
  lower_unit_number   TEXT    NOT NULL,
  lower_unit_revision TEXT,
  attributes          TEXT    NOT NULL CHECK (json_valid(attributes)),
  state               TEXT    NOT NULL CHECK (state IN ('draft', 'approved')),
  version             INTEGER NOT NULL CHECK (version >= 1),
  effective_from_ms   INTEGER,
  drafted_by          INTEGER NOT NULL REFERENCES api_keys (id),
  drafted_at_ms       INTEGER NOT NULL,
  approved_by         INTEGER REFERENCES api_keys (id),
  approved_at_ms      INTEGER,
  UNIQUE (code, revision),
  CHECK (state = 'draft' OR (approved_by IS NOT NULL AND approved_at_ms IS NOT NULL
    AND approved_by <> drafted_by AND effective_from_ms >= approved_at_ms))
) STRICT;
CREATE UNIQUE INDEX configuration_one_draft ON configurations (code) WHERE state = 'draft';
CREATE UNIQUE INDEX configuration_one_start
  ON configurations (code, effective_from_ms) WHERE state = 'approved';
CREATE INDEX configurations_by_parts ON configurations (powerhead_number, lower_unit_number);
CREATE TRIGGER approved_configurations_stay BEFORE UPDATE ON configurations
WHEN OLD.state = 'approved' BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_configurations_remain BEFORE DELETE ON configurations
WHEN OLD.state = 'approved' BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;

CREATE TABLE specifications (
  id                INTEGER PRIMARY KEY,
  model_id          INTEGER NOT NULL REFERENCES models (id),
  revision          INTEGER NOT NULL CHECK (revision >= 1),
  note              TEXT    NOT NULL,
  state             TEXT    NOT NULL CHECK (state IN ('draft', 'approved')),
  version           INTEGER NOT NULL CHECK (version >= 1),
  effective_from_ms INTEGER,
  drafted_by        INTEGER NOT NULL REFERENCES api_keys (id),
  drafted_at_ms     INTEGER NOT NULL,
  approved_by       INTEGER REFERENCES api_keys (id),
  approved_at_ms    INTEGER,
  UNIQUE (model_id, revision),
  CHECK (state = 'draft' OR (approved_by IS NOT NULL AND approved_at_ms IS NOT NULL
    AND approved_by <> drafted_by AND effective_from_ms >= approved_at_ms))
) STRICT;
CREATE UNIQUE INDEX specification_one_draft ON specifications (model_id) WHERE state = 'draft';
CREATE UNIQUE INDEX specification_one_start
  ON specifications (model_id, effective_from_ms) WHERE state = 'approved';
CREATE TRIGGER approved_specifications_stay BEFORE UPDATE ON specifications
WHEN OLD.state = 'approved' BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_specifications_remain BEFORE DELETE ON specifications
WHEN OLD.state = 'approved' BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;

CREATE TABLE prompts (
  specification_id INTEGER NOT NULL REFERENCES specifications (id) ON DELETE CASCADE,
  position         INTEGER NOT NULL CHECK (position >= 0),
  text             TEXT    NOT NULL,
  caution          TEXT,
  PRIMARY KEY (specification_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE characteristics (
  id                   INTEGER PRIMARY KEY,
  specification_id     INTEGER NOT NULL REFERENCES specifications (id) ON DELETE CASCADE,
  position             INTEGER NOT NULL CHECK (position >= 0),
  prompt_position      INTEGER NOT NULL,
  code                 TEXT    NOT NULL,
  name                 TEXT    NOT NULL,
  kind                 TEXT    NOT NULL CHECK (kind IN ('measured', 'attribute', 'derived')),
  required             INTEGER NOT NULL CHECK (required IN (0, 1)),
  expected             INTEGER CHECK (expected IN (0, 1)),
  unit                 TEXT,
  lower_limit          REAL,
  upper_limit          REAL CHECK (lower_limit IS NULL OR upper_limit > lower_limit),
  guard_band           REAL CHECK (guard_band >= 0),
  nominal              REAL,
  standard_uncertainty REAL CHECK (standard_uncertainty > 0),
  decimals             INTEGER CHECK (decimals BETWEEN 0 AND 9),
  derivation           TEXT CHECK (derivation IS NULL OR json_valid(derivation)),
  UNIQUE (specification_id, position),
  UNIQUE (specification_id, code),
  FOREIGN KEY (specification_id, prompt_position) REFERENCES prompts (specification_id, position)
    DEFERRABLE INITIALLY DEFERRED,
  CHECK ((kind = 'attribute') = (expected IS NOT NULL)),
  CHECK ((kind = 'attribute') = (unit IS NULL)),
  CHECK ((kind = 'derived') = (derivation IS NOT NULL))
) STRICT;
CREATE TRIGGER approved_prompts_stay BEFORE UPDATE ON prompts
WHEN (SELECT state FROM specifications WHERE id = OLD.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_prompts_remain BEFORE DELETE ON prompts
WHEN (SELECT state FROM specifications WHERE id = OLD.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_prompts_are_all BEFORE INSERT ON prompts
WHEN (SELECT state FROM specifications WHERE id = NEW.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_characteristics_stay BEFORE UPDATE ON characteristics
WHEN (SELECT state FROM specifications WHERE id = OLD.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_characteristics_remain BEFORE DELETE ON characteristics
WHEN (SELECT state FROM specifications WHERE id = OLD.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;
CREATE TRIGGER approved_characteristics_are_all BEFORE INSERT ON characteristics
WHEN (SELECT state FROM specifications WHERE id = NEW.specification_id) = 'approved'
BEGIN SELECT RAISE(ABORT, 'approved revisions never change'); END;

CREATE TABLE repair_codes (
  kind TEXT NOT NULL CHECK (kind IN ('symptom', 'cause', 'action')),
  code TEXT NOT NULL,
  name TEXT NOT NULL,
  PRIMARY KEY (kind, code)
) STRICT, WITHOUT ROWID;

------------------------------------------------------------------ orders
CREATE TABLE orders (
  id           INTEGER PRIMARY KEY,
  number       TEXT    NOT NULL UNIQUE,
  model_id     INTEGER NOT NULL REFERENCES models (id),
  quantity     INTEGER NOT NULL CHECK (quantity >= 1),
  set_count    INTEGER NOT NULL CHECK (set_count BETWEEN 0 AND quantity),
  due_on       TEXT    NOT NULL CHECK (due_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  priority     INTEGER NOT NULL CHECK (priority BETWEEN 1 AND 9),
  state        TEXT    NOT NULL CHECK (state IN ('open', 'closed')),
  opened_at_ms INTEGER NOT NULL,
  closed_at_ms INTEGER,
  close_reason TEXT,
  CHECK ((state = 'closed') = (closed_at_ms IS NOT NULL))
) STRICT;
CREATE INDEX orders_to_build ON orders (priority, due_on, id)
  WHERE state = 'open' AND set_count < quantity;

------------------------------------------------------------------ units
CREATE TABLE units (
  id            INTEGER PRIMARY KEY,
  class         TEXT    NOT NULL REFERENCES part_classes (code),
  serial        TEXT    NOT NULL CHECK (length(serial) BETWEEN 1 AND 40),
  part_id       INTEGER REFERENCES parts (id),
  model_id      INTEGER REFERENCES models (id),
  attributes    TEXT    NOT NULL CHECK (json_valid(attributes)),
  state         TEXT    NOT NULL,
  entered_at_ms INTEGER NOT NULL,
  UNIQUE (class, serial),
  CHECK ((class = 'motor') = (model_id IS NOT NULL)),
  CHECK ((class = 'motor') = (part_id IS NULL)),
  CHECK (CASE class WHEN 'motor'
    THEN state IN ('awaiting-test', 'in-test', 'in-repair', 'passed', 'released', 'torn-down', 'scrapped')
    ELSE state IN ('accepted', 'installed', 'rejected', 'scrapped') END)
) STRICT;
CREATE INDEX units_by_serial ON units (serial);
CREATE INDEX parts_ready ON units (part_id, id) WHERE state = 'accepted';
CREATE INDEX motors_by_state ON units (state, id) WHERE class = 'motor';

CREATE TABLE inspections (
  id      INTEGER PRIMARY KEY,
  unit_id INTEGER NOT NULL REFERENCES units (id),
  kind    TEXT    NOT NULL,
  result  TEXT    NOT NULL CHECK (result IN ('accepted', 'rejected')),
  note    TEXT,
  at_ms   INTEGER NOT NULL
) STRICT;
CREATE INDEX inspections_by_unit ON inspections (unit_id, id);

CREATE TABLE fastenings (
  id           INTEGER PRIMARY KEY,
  unit_id      INTEGER NOT NULL REFERENCES units (id),
  joint        TEXT    NOT NULL,
  tool         TEXT    NOT NULL,
  torque       REAL    NOT NULL,
  torque_lower REAL    NOT NULL,
  torque_upper REAL    NOT NULL CHECK (torque_upper > torque_lower),
  torque_unit  TEXT    NOT NULL,
  angle        REAL,
  angle_lower  REAL,
  angle_upper  REAL    CHECK (angle_upper > angle_lower),
  angle_unit   TEXT,
  conforms     INTEGER NOT NULL CHECK (conforms IN (0, 1)),
  at_ms        INTEGER NOT NULL
) STRICT;
CREATE INDEX fastenings_by_unit ON fastenings (unit_id, joint, id);
CREATE INDEX fastenings_by_tool ON fastenings (tool, at_ms);

CREATE TABLE lots (
  id      INTEGER PRIMARY KEY,
  part_id INTEGER NOT NULL REFERENCES parts (id),
  code    TEXT    NOT NULL,
  UNIQUE (part_id, code)
) STRICT;

CREATE TABLE lot_uses (
  unit_id INTEGER NOT NULL REFERENCES units (id),
  lot_id  INTEGER NOT NULL REFERENCES lots (id),
  at_ms   INTEGER NOT NULL,
  PRIMARY KEY (unit_id, lot_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX lot_uses_by_lot ON lot_uses (lot_id);

CREATE TABLE holds (
  id           INTEGER PRIMARY KEY,
  unit_id      INTEGER NOT NULL REFERENCES units (id),
  cause        TEXT    NOT NULL,
  reason       TEXT    NOT NULL,
  placed_at_ms INTEGER NOT NULL,
  placed_by    INTEGER NOT NULL REFERENCES api_keys (id),
  lifted_at_ms INTEGER,
  lifted_by    INTEGER REFERENCES api_keys (id),
  lift_reason  TEXT,
  CHECK ((lifted_at_ms IS NULL) = (lifted_by IS NULL)),
  CHECK ((lifted_at_ms IS NULL) = (lift_reason IS NULL))
) STRICT;
CREATE INDEX holds_open ON holds (unit_id) WHERE lifted_at_ms IS NULL;
CREATE INDEX holds_by_unit ON holds (unit_id, id);

-- The one record that all genealogy reads.
CREATE TABLE installations (
  id        INTEGER PRIMARY KEY,
  parent_id INTEGER NOT NULL REFERENCES units (id),
  position  TEXT    NOT NULL,
  child_id  INTEGER NOT NULL REFERENCES units (id),
  from_ms   INTEGER NOT NULL,
  until_ms  INTEGER CHECK (until_ms >= from_ms),
  CHECK (parent_id <> child_id)
) STRICT;
CREATE UNIQUE INDEX installation_of_child ON installations (child_id) WHERE until_ms IS NULL;
CREATE UNIQUE INDEX installation_in_position ON installations (parent_id, position) WHERE until_ms IS NULL;
CREATE INDEX installations_by_parent ON installations (parent_id, id);
CREATE INDEX installations_by_child ON installations (child_id, id);

------------------------------------------------------------------ pairing
CREATE TABLE serial_sequence (
  id   INTEGER PRIMARY KEY CHECK (id = 1),
  next INTEGER NOT NULL CHECK (next >= 1)
) STRICT;
INSERT INTO serial_sequence (id, next) VALUES (1, 1);
CREATE TRIGGER serials_only_count_up BEFORE UPDATE ON serial_sequence
WHEN NEW.next <= OLD.next BEGIN SELECT RAISE(ABORT, 'a motor serial is never issued twice'); END;

CREATE TABLE sets (
  motor_id         INTEGER PRIMARY KEY REFERENCES units (id),
  powerhead_id     INTEGER NOT NULL REFERENCES units (id),
  lower_unit_id    INTEGER NOT NULL REFERENCES units (id),
  order_id         INTEGER NOT NULL REFERENCES orders (id),
  configuration_id INTEGER NOT NULL REFERENCES configurations (id),
  station          TEXT    NOT NULL,
  key_id           INTEGER NOT NULL REFERENCES api_keys (id),
  at_ms            INTEGER NOT NULL,
  torn_down_at_ms  INTEGER CHECK (torn_down_at_ms >= at_ms),
  teardown_reason  TEXT,
  CHECK ((torn_down_at_ms IS NULL) = (teardown_reason IS NULL))
) STRICT;
CREATE INDEX sets_by_station ON sets (station, at_ms);
CREATE INDEX sets_by_order ON sets (order_id, motor_id);

CREATE TABLE set_attempts (
  id              INTEGER PRIMARY KEY,
  at_ms           INTEGER NOT NULL,
  station         TEXT    NOT NULL,
  key_id          INTEGER NOT NULL REFERENCES api_keys (id),
  powerhead_scan  TEXT    NOT NULL,
  lower_unit_scan TEXT    NOT NULL,
  order_number    TEXT,
  outcome         TEXT    NOT NULL,
  detail          TEXT    NOT NULL,
  motor_id        INTEGER REFERENCES units (id),
  CHECK ((outcome = 'set') = (motor_id IS NOT NULL))
) STRICT;
CREATE INDEX set_attempts_by_time ON set_attempts (at_ms);

------------------------------------------------------------------ testing
CREATE TABLE runs (
  id               INTEGER PRIMARY KEY,
  motor_id         INTEGER NOT NULL REFERENCES units (id),
  specification_id INTEGER NOT NULL REFERENCES specifications (id),
  cell             TEXT    NOT NULL,
  state            TEXT    NOT NULL CHECK (state IN ('open', 'completed', 'aborted')),
  started_at_ms    INTEGER NOT NULL,
  ended_at_ms      INTEGER CHECK (ended_at_ms >= started_at_ms),
  attempt          INTEGER CHECK (attempt >= 1),
  verdict          TEXT    CHECK (verdict IN ('pass', 'fail')),
  first_pass       INTEGER CHECK (first_pass IN (0, 1)),
  cell_verdict     TEXT    CHECK (cell_verdict IN ('pass', 'fail')),
  disagreement     INTEGER NOT NULL CHECK (disagreement IN (0, 1)),
  abort_reason     TEXT,
  started_by       INTEGER NOT NULL REFERENCES api_keys (id),
  judged           BLOB,
  UNIQUE (motor_id, attempt),
  CHECK ((state = 'open') = (ended_at_ms IS NULL)),
  CHECK ((state = 'completed') = (attempt IS NOT NULL)),
  CHECK ((state = 'completed') = (verdict IS NOT NULL)),
  CHECK ((state = 'completed') = (judged IS NOT NULL)),
  CHECK ((first_pass IS NOT NULL) = (attempt IS 1)),
  CHECK ((state = 'aborted') = (abort_reason IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX run_open_on_motor ON runs (motor_id) WHERE state = 'open';
CREATE UNIQUE INDEX run_open_in_cell ON runs (cell) WHERE state = 'open';
CREATE INDEX runs_by_motor ON runs (motor_id, id);
CREATE INDEX runs_by_cell ON runs (cell, ended_at_ms);

CREATE TABLE run_failures (
  run_id            INTEGER NOT NULL REFERENCES runs (id),
  characteristic_id INTEGER NOT NULL REFERENCES characteristics (id),
  PRIMARY KEY (run_id, characteristic_id)
) STRICT, WITHOUT ROWID;

-- Readings as posted, eleven bytes each: characteristic, unit, value (see
-- src/testing/packing.ts). The values as judged stand in runs.judged.
CREATE TABLE reading_batches (
  run_id         INTEGER NOT NULL REFERENCES runs (id),
  sequence       INTEGER NOT NULL CHECK (sequence BETWEEN 1 AND 10001),
  measured_at_ms INTEGER NOT NULL,
  packed         BLOB    NOT NULL,
  PRIMARY KEY (run_id, sequence)
) STRICT, WITHOUT ROWID;

------------------------------------------------------------------ repair
CREATE TABLE repairs (
  id           INTEGER PRIMARY KEY,
  motor_id     INTEGER NOT NULL REFERENCES units (id),
  run_id       INTEGER REFERENCES runs (id),
  opened_at_ms INTEGER NOT NULL,
  complaint    TEXT    NOT NULL,
  closed_at_ms INTEGER CHECK (closed_at_ms >= opened_at_ms),
  outcome      TEXT    CHECK (outcome IN ('repaired', 'no-fault-found', 'scrapped', 'concession', 'torn-down')),
  symptom      TEXT,
  cause        TEXT,
  action       TEXT,
  note         TEXT,
  closed_by    INTEGER REFERENCES api_keys (id),
  CHECK ((closed_at_ms IS NULL) = (outcome IS NULL)),
  CHECK ((closed_at_ms IS NULL) = (closed_by IS NULL)),
  CHECK (outcome IS NOT 'repaired' OR (symptom IS NOT NULL AND cause IS NOT NULL AND action IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX repair_open_on_motor ON repairs (motor_id) WHERE closed_at_ms IS NULL;
CREATE INDEX repairs_by_motor ON repairs (motor_id, id);

CREATE TABLE exchanges (
  id         INTEGER PRIMARY KEY,
  repair_id  INTEGER NOT NULL REFERENCES repairs (id),
  parent_id  INTEGER NOT NULL REFERENCES units (id),
  position   TEXT    NOT NULL,
  removed_id INTEGER REFERENCES units (id),
  fitted_id  INTEGER REFERENCES units (id),
  at_ms      INTEGER NOT NULL,
  CHECK (removed_id IS NOT NULL OR fitted_id IS NOT NULL)
) STRICT;
CREATE INDEX exchanges_by_repair ON exchanges (repair_id, id);

CREATE TABLE dispositions (
  id      INTEGER PRIMARY KEY,
  unit_id INTEGER NOT NULL REFERENCES units (id),
  run_id  INTEGER REFERENCES runs (id),
  kind    TEXT    NOT NULL CHECK (kind IN ('rework', 'scrap', 'concession')),
  reason  TEXT    NOT NULL,
  key_id  INTEGER NOT NULL REFERENCES api_keys (id),
  at_ms   INTEGER NOT NULL,
  CHECK (kind <> 'concession' OR run_id IS NOT NULL)
) STRICT;
CREATE INDEX dispositions_by_unit ON dispositions (unit_id, id);

------------------------------------------------------------------ release
CREATE TABLE releases (
  motor_id INTEGER PRIMARY KEY REFERENCES units (id),
  run_id   INTEGER NOT NULL REFERENCES runs (id),
  key_id   INTEGER NOT NULL REFERENCES api_keys (id),
  at_ms    INTEGER NOT NULL
) STRICT;

------------------------------------------------------------------ yield
-- Kept in the transaction of the run that it counts; `npm run verify` proves it
-- equal to a full computation over runs.
CREATE TABLE yield_daily (
  day              TEXT    NOT NULL,
  model_id         INTEGER NOT NULL REFERENCES models (id),
  configuration_id INTEGER NOT NULL REFERENCES configurations (id),
  cell             TEXT    NOT NULL,
  station          TEXT    NOT NULL,
  first_runs       INTEGER NOT NULL CHECK (first_runs >= 0),
  first_passes     INTEGER NOT NULL CHECK (first_passes BETWEEN 0 AND first_runs),
  completed_runs   INTEGER NOT NULL CHECK (completed_runs >= first_runs),
  passed_runs      INTEGER NOT NULL CHECK (passed_runs BETWEEN first_passes AND completed_runs),
  aborted_runs     INTEGER NOT NULL CHECK (aborted_runs >= 0),
  PRIMARY KEY (day, model_id, configuration_id, cell, station)
) STRICT, WITHOUT ROWID;

------------------------------------------------------------------ what must never happen
CREATE TRIGGER ended_units_stay_ended BEFORE UPDATE OF state ON units
WHEN OLD.state IN ('scrapped', 'torn-down', 'released')
BEGIN SELECT RAISE(ABORT, 'a scrapped, torn down or released unit stays so'); END;

CREATE TRIGGER only_accepted_units_are_installed BEFORE INSERT ON installations
WHEN (SELECT state FROM units WHERE id = NEW.child_id) IS NOT 'accepted'
  OR EXISTS (SELECT 1 FROM holds WHERE unit_id = NEW.child_id AND lifted_at_ms IS NULL)
BEGIN SELECT RAISE(ABORT, 'only an accepted unit that is not on hold is installed'); END;

CREATE TRIGGER nothing_else_ships BEFORE INSERT ON releases
WHEN (SELECT state FROM units WHERE id = NEW.motor_id) IS NOT 'passed'
  OR EXISTS (SELECT 1 FROM holds WHERE unit_id = NEW.motor_id AND lifted_at_ms IS NULL)
  OR EXISTS (SELECT 1 FROM runs WHERE motor_id = NEW.motor_id AND state = 'open')
  OR EXISTS (SELECT 1 FROM repairs WHERE motor_id = NEW.motor_id AND closed_at_ms IS NULL)
BEGIN SELECT RAISE(ABORT, 'only a passed motor with nothing open is released'); END;
CREATE TRIGGER releases_stay BEFORE UPDATE ON releases
BEGIN SELECT RAISE(ABORT, 'a release is never changed'); END;
CREATE TRIGGER releases_remain BEFORE DELETE ON releases
BEGIN SELECT RAISE(ABORT, 'a release is never removed'); END;
