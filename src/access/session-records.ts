import type { Database } from 'better-sqlite3';

export interface SessionRow {
  idHash: Buffer;
  keyId: number;
  usedAtMs: number;
}

/** Sessions' SQL on one connection. */
export function sessionRecords(db: Database) {
  const byHash = db.prepare<[Buffer], SessionRow>(`
    SELECT id_hash AS idHash, key_id AS keyId, used_at_ms AS usedAtMs
    FROM sessions
    WHERE id_hash = ?`);
  const open = db.prepare(`
    INSERT INTO sessions (id_hash, key_id, opened_at_ms, used_at_ms)
    VALUES (@idHash, @keyId, @atMs, @atMs)`);
  // A clock that was put back must not shorten a session, nor fail its check.
  const touch = db.prepare(
    'UPDATE sessions SET used_at_ms = MAX(used_at_ms, @atMs) WHERE id_hash = @idHash',
  );
  const close = db.prepare('DELETE FROM sessions WHERE id_hash = ?');
  // Reads sessions_by_use; bounded so that a sweep never holds up a scan.
  const expire = db.prepare(`
    DELETE FROM sessions
    WHERE id_hash IN (SELECT id_hash FROM sessions WHERE used_at_ms <= ? LIMIT ?)`);
  // Reads sessions_by_use too. A session is opened no later than it is used.
  const date = db.prepare(`
    UPDATE sessions
    SET used_at_ms = @nowMs, opened_at_ms = MIN(opened_at_ms, @nowMs)
    WHERE id_hash IN (SELECT id_hash FROM sessions WHERE used_at_ms > @nowMs LIMIT @limit)`);
  return {
    byHash: (idHash: Buffer) => byHash.get(idHash),
    open: (row: { idHash: Buffer; keyId: number; atMs: number }) => void open.run(row),
    touch: (idHash: Buffer, atMs: number) => void touch.run({ idHash, atMs }),
    close: (idHash: Buffer) => void close.run(idHash),
    /** Removes sessions last used by then, as many as the limit says at most. */
    expire: (usedByMs: number, limit: number) => expire.run(usedByMs, limit).changes,
    /** What a wrong clock dated ahead of now was used now: else it would live on until then. */
    dateNow: (nowMs: number, limit: number) => date.run({ nowMs, limit }).changes,
  };
}
