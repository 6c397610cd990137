-- Field returns: complaints from outside on a motor that was released, by any serial in it.

CREATE TABLE returns (
  id             INTEGER PRIMARY KEY,
  unit_id        INTEGER NOT NULL REFERENCES units (id),
  -- What never left cannot come back.
  motor_id       INTEGER NOT NULL REFERENCES releases (motor_id),
  -- Days in the plant's time zone.
  released_on    TEXT    NOT NULL CHECK (released_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  returned_on    TEXT    NOT NULL CHECK (returned_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  full_months    INTEGER NOT NULL CHECK (full_months >= 0),
  hours_run      REAL    CHECK (hours_run >= 0),
  symptom        TEXT    NOT NULL,
  finding        TEXT    CHECK (length(finding) >= 1),
  recorded_at_ms INTEGER NOT NULL,
  recorded_by    INTEGER NOT NULL REFERENCES api_keys (id),
  CHECK (returned_on >= released_on)
) STRICT;
CREATE INDEX returns_by_motor ON returns (motor_id, returned_on, id);
CREATE INDEX returns_by_symptom ON returns (symptom, motor_id);

CREATE TRIGGER returns_stay BEFORE UPDATE ON returns
BEGIN SELECT RAISE(ABORT, 'a field return is never changed'); END;
CREATE TRIGGER returns_remain BEFORE DELETE ON returns
BEGIN SELECT RAISE(ABORT, 'a field return is never removed'); END;

-- What the answers to a return look up.
CREATE INDEX releases_by_time ON releases (at_ms);
CREATE INDEX sets_by_time ON sets (at_ms);
CREATE INDEX runs_by_end ON runs (specification_id, ended_at_ms) WHERE state = 'completed';
