-- Judged values by characteristic, for questions about one characteristic over many runs.

-- Completed runs that no block holds yet, in the order in which they were completed.
CREATE TABLE series_recent (
  specification_id INTEGER NOT NULL REFERENCES specifications (id),
  place            INTEGER NOT NULL CHECK (place BETWEEN 0 AND 499),
  run_id           INTEGER NOT NULL UNIQUE REFERENCES runs (id),
  PRIMARY KEY (specification_id, place)
) STRICT, WITHOUT ROWID;

-- Five hundred completed runs of a specification, and what is asked of each of them: see
-- src/series/block.ts for the bytes.
CREATE TABLE series_blocks (
  id               INTEGER PRIMARY KEY,
  specification_id INTEGER NOT NULL REFERENCES specifications (id),
  number           INTEGER NOT NULL CHECK (number >= 0),
  from_ms          INTEGER NOT NULL,
  until_ms         INTEGER NOT NULL CHECK (until_ms >= from_ms),
  cells            TEXT    NOT NULL CHECK (json_valid(cells)),
  runs             BLOB    NOT NULL,
  UNIQUE (specification_id, number)
) STRICT;

-- One characteristic's values in a block.
CREATE TABLE series_columns (
  id       INTEGER PRIMARY KEY,
  block_id INTEGER NOT NULL REFERENCES series_blocks (id),
  position INTEGER NOT NULL,
  packed   BLOB    NOT NULL,
  UNIQUE (position, block_id)
) STRICT;
