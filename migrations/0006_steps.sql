-- Yields of the steps before the test, and what questions about rework read.

-- Kept in the transaction of the command that it counts. A step is `set` or the kind of an
-- inspection; a place is the station, or nothing where none was named. Of an inspection, the first
-- of a unit is counted apart from later ones; each attempt at a set is a first one.
CREATE TABLE step_daily (
  day          TEXT    NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  step         TEXT    NOT NULL CHECK (step <> ''),
  place        TEXT    NOT NULL,
  attempts     INTEGER NOT NULL CHECK (attempts >= 0),
  passes       INTEGER NOT NULL CHECK (passes BETWEEN 0 AND attempts),
  later        INTEGER NOT NULL CHECK (later >= 0),
  later_passes INTEGER NOT NULL CHECK (later_passes BETWEEN 0 AND later),
  PRIMARY KEY (day, step, place)
) STRICT, WITHOUT ROWID;

-- What was recorded before this table: by the day that its event states, else by the UTC date,
-- exactly as events are applied (src/yield/step-rules.ts).
INSERT INTO step_daily (day, step, place, attempts, passes, later, later_passes)
SELECT COALESCE(content ->> '$.day', date(occurred_at_ms / 1000, 'unixepoch')),
       'set', content ->> '$.station', COUNT(*), SUM(kind = 'pair.set'), 0, 0
FROM events
WHERE kind IN ('pair.set', 'pair.refused')
GROUP BY 1, 2, 3;
INSERT INTO step_daily (day, step, place, attempts, passes, later, later_passes)
SELECT COALESCE(content ->> '$.day', date(occurred_at_ms / 1000, 'unixepoch')),
       content ->> '$.inspection.kind', COALESCE(station, ''),
       SUM(kind = 'unit.entered'),
       SUM(kind = 'unit.entered' AND content ->> '$.inspection.result' = 'accepted'),
       SUM(kind = 'unit.inspected'),
       SUM(kind = 'unit.inspected' AND content ->> '$.inspection.result' = 'accepted')
FROM events
WHERE kind IN ('unit.entered', 'unit.inspected')
GROUP BY 1, 2, 3;

CREATE INDEX set_attempts_refused ON set_attempts (at_ms, outcome, station) WHERE outcome <> 'set';
CREATE INDEX repairs_by_opening ON repairs (opened_at_ms);
