import { hash } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import { Problem } from '../problems.js';

/** Kept long enough for a station that was cut off over a long weekend. */
export const KEEP_ANSWERS_MS = 7 * 24 * 60 * 60 * 1000;

export interface StoredAnswer {
  status: number;
  location: string | null;
  body: string;
}

interface StoredRow extends StoredAnswer {
  fingerprint: Buffer;
}

/** Stored answers' SQL on one connection. */
export function idempotencyRecords(db: Database) {
  const find = db.prepare<[number, string], StoredRow>(`
    SELECT fingerprint, status, location, body
    FROM idempotency
    WHERE key_id = ? AND idempotency_key = ?`);
  const keep = db.prepare(`
    INSERT INTO idempotency
      (key_id, idempotency_key, fingerprint, status, location, body, recorded_at_ms)
    VALUES (@keyId, @idempotencyKey, @fingerprint, @status, @location, @body, @recordedAtMs)`);
  // Reads idempotency_by_age; bounded so that a sweep never holds up a scan.
  const expire = db.prepare(`
    DELETE FROM idempotency
    WHERE (key_id, idempotency_key) IN (
      SELECT key_id, idempotency_key FROM idempotency WHERE recorded_at_ms < ? LIMIT ?)`);
  // Reads idempotency_by_age too.
  const date = db.prepare(`
    UPDATE idempotency
    SET recorded_at_ms = @nowMs
    WHERE (key_id, idempotency_key) IN (
      SELECT key_id, idempotency_key FROM idempotency WHERE recorded_at_ms > @nowMs LIMIT @limit)`);
  return {
    find: (keyId: number, key: string) => find.get(keyId, key),
    keep: (row: StoredRow & { keyId: number; idempotencyKey: string; recordedAtMs: number }) => {
      keep.run(row);
    },
    expire: (beforeMs: number, limit: number) => expire.run(beforeMs, limit).changes,
    /** What a wrong clock dated ahead of now is as old as now: else it would be kept until then. */
    dateNow: (nowMs: number, limit: number) => date.run({ nowMs, limit }).changes,
  };
}

/** SHA-256 of what a request asks: method, address and the parsed body, so spacing is no matter. */
export function fingerprintOf(method: string, address: string, body: unknown): Buffer {
  return hash('sha256', `${method} ${address}\n${JSON.stringify(body) ?? ''}`, 'buffer');
}

/** @throws Problem idempotency-key-reused when the key was first used for something else */
export function assertSameRequest(known: Buffer, now: Buffer): void {
  if (known.equals(now)) return;
  throw new Problem(
    'idempotency-key-reused',
    'This Idempotency-Key came before with another request; nothing was changed.',
  );
}

/**
 * The commands now being carried out, by API key and Idempotency-Key, so that a twin
 * that arrives meanwhile is told to come back.
 */
export class InFlight {
  readonly #running = new Map<string, Buffer>();

  /** @throws Problem idempotency-key-reused, idempotency-in-flight */
  enter(keyId: number, key: string, fingerprint: Buffer): () => void {
    const name = `${keyId} ${key}`;
    const known = this.#running.get(name);
    if (known) {
      assertSameRequest(known, fingerprint);
      throw new Problem('idempotency-in-flight', 'The first of these two is being carried out.');
    }
    this.#running.set(name, fingerprint);
    return () => this.#running.delete(name);
  }
}
