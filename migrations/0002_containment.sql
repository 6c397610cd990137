-- Containments: a frozen where-used question, the units it picked, and what became of each.

CREATE TABLE containments (
  id           INTEGER PRIMARY KEY,
  title        TEXT    NOT NULL,
  condition    TEXT    NOT NULL CHECK (json_valid(condition)),
  opened_at_ms INTEGER NOT NULL,
  opened_by    INTEGER NOT NULL REFERENCES api_keys (id),
  closed_at_ms INTEGER,
  closed_by    INTEGER REFERENCES api_keys (id),
  close_reason TEXT,
  CHECK ((closed_at_ms IS NULL) = (closed_by IS NULL)),
  CHECK ((closed_at_ms IS NULL) = (close_reason IS NULL))
) STRICT;
CREATE INDEX containments_open ON containments (id) WHERE closed_at_ms IS NULL;

CREATE TABLE contained_units (
  containment_id INTEGER NOT NULL REFERENCES containments (id),
  unit_id        INTEGER NOT NULL REFERENCES units (id),
  state_then     TEXT    NOT NULL,
  reasons        TEXT    NOT NULL CHECK (json_valid(reasons)),
  joined_at_ms   INTEGER NOT NULL,
  hold_id        INTEGER REFERENCES holds (id),
  disposition    TEXT    CHECK (disposition IN ('clear', 'rework', 'scrap', 'concession', 'notified')),
  evidence       TEXT,
  disposed_at_ms INTEGER,
  disposed_by    INTEGER REFERENCES api_keys (id),
  PRIMARY KEY (containment_id, unit_id),
  CHECK ((disposition IS NULL) = (evidence IS NULL)),
  CHECK ((disposition IS NULL) = (disposed_at_ms IS NULL)),
  CHECK ((disposition IS NULL) = (disposed_by IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX contained_by_unit ON contained_units (unit_id);

CREATE TRIGGER containments_close_when_done BEFORE UPDATE OF closed_at_ms ON containments
WHEN NEW.closed_at_ms IS NOT NULL AND EXISTS (
  SELECT 1 FROM contained_units WHERE containment_id = NEW.id AND disposition IS NULL)
BEGIN SELECT RAISE(ABORT, 'a containment closes when every unit has its disposition'); END;
CREATE TRIGGER containments_keep_their_question BEFORE UPDATE OF condition ON containments
BEGIN SELECT RAISE(ABORT, 'a frozen question never changes'); END;

-- What where-used questions look up.
CREATE INDEX units_by_part ON units (part_id) WHERE part_id IS NOT NULL;
CREATE INDEX motors_by_model ON units (model_id) WHERE model_id IS NOT NULL;
CREATE INDEX sets_by_configuration ON sets (configuration_id);
CREATE INDEX sets_by_key ON sets (key_id, at_ms);
CREATE INDEX runs_by_specification ON runs (specification_id, id);
CREATE INDEX runs_by_key ON runs (started_by, started_at_ms);
CREATE INDEX repairs_by_cause ON repairs (cause) WHERE cause IS NOT NULL;
CREATE INDEX repairs_by_key ON repairs (closed_by) WHERE closed_by IS NOT NULL;
