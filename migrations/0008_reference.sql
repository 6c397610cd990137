-- Reference motors: held for good, run in each cell on a schedule, parts of a gauge study.

CREATE TABLE reference_motors (
  id               INTEGER PRIMARY KEY,
  motor_id         INTEGER NOT NULL REFERENCES units (id),
  interval_hours   INTEGER NOT NULL CHECK (interval_hours >= 1),
  -- Its first runs, which later ones are compared with.
  baseline_runs    INTEGER NOT NULL CHECK (baseline_runs >= 2),
  reason           TEXT    NOT NULL,
  hold_id          INTEGER NOT NULL UNIQUE REFERENCES holds (id),
  designated_at_ms INTEGER NOT NULL,
  designated_by    INTEGER NOT NULL REFERENCES api_keys (id),
  retired_at_ms    INTEGER CHECK (retired_at_ms >= designated_at_ms),
  retired_by       INTEGER REFERENCES api_keys (id),
  retire_reason    TEXT,
  CHECK ((retired_at_ms IS NULL) = (retired_by IS NULL)),
  CHECK ((retired_at_ms IS NULL) = (retire_reason IS NULL))
) STRICT;
CREATE UNIQUE INDEX reference_motor_in_use ON reference_motors (motor_id) WHERE retired_at_ms IS NULL;

-- How each cell stands with each of them: asked with every run that a cell starts or completes.
CREATE TABLE reference_cells (
  reference_motor_id INTEGER NOT NULL REFERENCES reference_motors (id),
  cell               TEXT    NOT NULL,
  -- 0 once the cell was taken off the schedule or the motor retired.
  required           INTEGER NOT NULL CHECK (required IN (0, 1)),
  required_from_ms   INTEGER NOT NULL,
  due_at_ms          INTEGER NOT NULL CHECK (due_at_ms > required_from_ms),
  -- The run that happened last, which need not be the one that was recorded last.
  last_run_id        INTEGER REFERENCES reference_runs (id),
  shifted            INTEGER NOT NULL CHECK (shifted IN (0, 1)),
  PRIMARY KEY (reference_motor_id, cell),
  CHECK (shifted = 0 OR last_run_id IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX reference_cells_by_cell ON reference_cells (cell) WHERE required = 1;

CREATE TABLE reference_runs (
  id                 INTEGER PRIMARY KEY,
  reference_motor_id INTEGER NOT NULL,
  cell               TEXT    NOT NULL,
  specification_id   INTEGER NOT NULL REFERENCES specifications (id),
  at_ms              INTEGER NOT NULL,
  recorded_by        INTEGER NOT NULL REFERENCES api_keys (id),
  -- As runs.judged: the values in the specification's order.
  judged             BLOB    NOT NULL,
  -- How many of them were compared with the motor's history, and those that were off it.
  compared           INTEGER NOT NULL CHECK (compared >= 0),
  shifts             TEXT    NOT NULL CHECK (json_valid(shifts) AND json_array_length(shifts) <= compared),
  FOREIGN KEY (reference_motor_id, cell) REFERENCES reference_cells (reference_motor_id, cell)
) STRICT;
CREATE INDEX reference_runs_by_motor ON reference_runs (reference_motor_id);

CREATE TRIGGER reference_runs_stay BEFORE UPDATE ON reference_runs
BEGIN SELECT RAISE(ABORT, 'a reference run is never changed'); END;
CREATE TRIGGER reference_runs_remain BEFORE DELETE ON reference_runs
BEGIN SELECT RAISE(ABORT, 'a reference run is never removed'); END;

CREATE TRIGGER only_tested_as_reference BEFORE INSERT ON runs
WHEN EXISTS (SELECT 1 FROM reference_motors WHERE motor_id = NEW.motor_id AND retired_at_ms IS NULL)
BEGIN SELECT RAISE(ABORT, 'a reference motor is not tested for release'); END;
CREATE TRIGGER reference_motors_stay_held BEFORE UPDATE OF lifted_at_ms ON holds
WHEN NEW.lifted_at_ms IS NOT NULL
  AND EXISTS (SELECT 1 FROM reference_motors WHERE hold_id = NEW.id AND retired_at_ms IS NULL)
BEGIN SELECT RAISE(ABORT, 'the hold of a reference motor is lifted by its retirement'); END;
CREATE TRIGGER only_motors_at_rest_are_references BEFORE INSERT ON reference_motors
WHEN (SELECT state FROM units WHERE id = NEW.motor_id) NOT IN ('awaiting-test', 'passed')
BEGIN SELECT RAISE(ABORT, 'only a motor that awaits its test or passed becomes a reference'); END;
