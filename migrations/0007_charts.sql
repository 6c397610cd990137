-- Control charts: a definition, its frozen baselines, the runs that were judged by each, and
-- what signalled.

CREATE TABLE charts (
  id             INTEGER PRIMARY KEY,
  model_id       INTEGER NOT NULL REFERENCES models (id),
  kind           TEXT    NOT NULL
                 CHECK (kind IN ('individuals', 'xbar-r', 'xbar-s', 'p', 'u', 'ewma', 'cusum')),
  characteristic TEXT,
  unit           TEXT,
  cell           TEXT,
  runs           TEXT    NOT NULL CHECK (runs IN ('first', 'all')),
  options        TEXT    NOT NULL CHECK (json_valid(options)),
  -- The number of the baseline in force.
  baseline       INTEGER NOT NULL CHECK (baseline >= 1),
  opened_at_ms   INTEGER NOT NULL,
  opened_by      INTEGER NOT NULL REFERENCES api_keys (id),
  retired_at_ms  INTEGER,
  retired_by     INTEGER REFERENCES api_keys (id),
  retire_reason  TEXT,
  FOREIGN KEY (id, baseline) REFERENCES chart_baselines (chart_id, number)
    DEFERRABLE INITIALLY DEFERRED,
  CHECK ((kind IN ('p', 'u')) = (characteristic IS NULL)),
  CHECK ((characteristic IS NULL) = (unit IS NULL)),
  CHECK ((retired_at_ms IS NULL) = (retired_by IS NULL)),
  CHECK ((retired_at_ms IS NULL) = (retire_reason IS NULL))
) STRICT;
CREATE INDEX charts_active ON charts (model_id) WHERE retired_at_ms IS NULL;

CREATE TABLE chart_baselines (
  chart_id     INTEGER NOT NULL REFERENCES charts (id),
  number       INTEGER NOT NULL CHECK (number >= 1),
  -- The rules and the figures that points are judged by.
  yardstick    TEXT    NOT NULL CHECK (json_valid(yardstick)),
  -- What was asked for, and what it was computed from.
  chosen       TEXT    NOT NULL CHECK (json_valid(chosen)),
  runs         INTEGER NOT NULL CHECK (runs >= points),
  points       INTEGER NOT NULL CHECK (points >= 1),
  first_run    INTEGER NOT NULL REFERENCES runs (id),
  last_run     INTEGER NOT NULL REFERENCES runs (id),
  from_ms      INTEGER NOT NULL,
  until_ms     INTEGER NOT NULL CHECK (until_ms >= from_ms),
  signalling   INTEGER NOT NULL CHECK (signalling BETWEEN 0 AND points),
  frozen_at_ms INTEGER NOT NULL,
  frozen_by    INTEGER NOT NULL REFERENCES api_keys (id),
  reason       TEXT,
  PRIMARY KEY (chart_id, number),
  CHECK ((number = 1) = (reason IS NULL))
) STRICT, WITHOUT ROWID;

-- Runs that a chart took, in the order in which their completions were recorded; with the
-- plant day on charts that count by day.
CREATE TABLE chart_runs (
  chart_id INTEGER NOT NULL,
  baseline INTEGER NOT NULL,
  place    INTEGER NOT NULL CHECK (place >= 0),
  run_id   INTEGER NOT NULL REFERENCES runs (id),
  day      TEXT,
  PRIMARY KEY (chart_id, baseline, place),
  FOREIGN KEY (chart_id, baseline) REFERENCES chart_baselines (chart_id, number)
) STRICT, WITHOUT ROWID;

-- Where a chart stands since its baseline was frozen: see ChartState in src/charts/rules.ts.
CREATE TABLE chart_states (
  chart_id INTEGER PRIMARY KEY REFERENCES charts (id),
  runs     INTEGER NOT NULL CHECK (runs >= 0),
  state    TEXT    NOT NULL CHECK (json_valid(state))
) STRICT;

CREATE TABLE chart_signals (
  id                 INTEGER PRIMARY KEY,
  chart_id           INTEGER NOT NULL,
  baseline           INTEGER NOT NULL,
  point              INTEGER NOT NULL CHECK (point >= 1),
  figure             TEXT    NOT NULL,
  rule               TEXT    NOT NULL,
  direction          TEXT    CHECK (direction IN ('above', 'below', 'rising', 'falling')),
  value              REAL    NOT NULL,
  -- The point's last run, when it ended, and the runs of all points of the pattern.
  run_id             INTEGER NOT NULL REFERENCES runs (id),
  at_ms              INTEGER NOT NULL,
  runs               TEXT    NOT NULL CHECK (json_valid(runs)),
  acknowledged_at_ms INTEGER,
  acknowledged_by    INTEGER REFERENCES api_keys (id),
  reason             TEXT,
  UNIQUE (chart_id, baseline, point, figure, rule),
  FOREIGN KEY (chart_id, baseline) REFERENCES chart_baselines (chart_id, number),
  CHECK ((acknowledged_at_ms IS NULL) = (acknowledged_by IS NULL)),
  CHECK ((acknowledged_at_ms IS NULL) = (reason IS NULL))
) STRICT;
CREATE INDEX chart_signals_open ON chart_signals (chart_id) WHERE acknowledged_at_ms IS NULL;

CREATE TRIGGER charts_keep_their_definition
BEFORE UPDATE OF model_id, kind, characteristic, unit, cell, runs, options ON charts
BEGIN SELECT RAISE(ABORT, 'a chart keeps its definition: open another'); END;
CREATE TRIGGER charts_retire_once BEFORE UPDATE ON charts WHEN OLD.retired_at_ms IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a retired chart never changes'); END;
CREATE TRIGGER chart_baselines_are_frozen BEFORE UPDATE ON chart_baselines
BEGIN SELECT RAISE(ABORT, 'a frozen baseline never changes'); END;
CREATE TRIGGER chart_baselines_are_kept BEFORE DELETE ON chart_baselines
BEGIN SELECT RAISE(ABORT, 'a baseline is kept'); END;
CREATE TRIGGER chart_signals_are_acknowledged_once BEFORE UPDATE ON chart_signals
WHEN OLD.acknowledged_at_ms IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a signal is acknowledged once'); END;
CREATE TRIGGER chart_signals_are_kept BEFORE DELETE ON chart_signals
BEGIN SELECT RAISE(ABORT, 'a signal is kept'); END;
