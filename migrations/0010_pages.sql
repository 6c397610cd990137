-- Who is signed in at a browser. Administration like keys, so outside the journal. The
-- browser holds 256 random bits; here stands only their SHA-256.
CREATE TABLE sessions (
  id_hash      BLOB    PRIMARY KEY CHECK (length(id_hash) = 32),
  key_id       INTEGER NOT NULL REFERENCES api_keys (id),
  opened_at_ms INTEGER NOT NULL CHECK (opened_at_ms > 0),
  used_at_ms   INTEGER NOT NULL CHECK (used_at_ms >= opened_at_ms)
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_by_use ON sessions (used_at_ms);
