import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import type { Role } from './schema.js';

export interface KeyRow {
  id: number;
  name: string;
  secretHash: Buffer;
  roles: readonly Role[];
  createdAtMs: number;
  expiresAtMs: number | null;
  revokedAtMs: number | null;
}

interface StoredKey extends Omit<KeyRow, 'roles'> {
  roles: string;
}

const columns = `
  id,
  name,
  secret_hash AS secretHash,
  roles,
  created_at_ms AS createdAtMs,
  expires_at_ms AS expiresAtMs,
  revoked_at_ms AS revokedAtMs`;

const decode = (row: StoredKey): KeyRow => ({ ...row, roles: JSON.parse(row.roles) as Role[] });

/** API keys' SQL on one connection. */
export function accessRecords(db: Database) {
  const byId = db.prepare<[number], StoredKey>(`SELECT ${columns} FROM api_keys WHERE id = ?`);
  const byName = db.prepare<[string], StoredKey>(`SELECT ${columns} FROM api_keys WHERE name = ?`);
  const list = db.prepare<[number, number], StoredKey>(
    `SELECT ${columns} FROM api_keys WHERE id > ? ORDER BY id LIMIT ?`,
  );
  const add = db.prepare(`
    INSERT INTO api_keys (id, name, secret_hash, roles, created_at_ms, expires_at_ms)
    VALUES (@id, @name, @secretHash, @roles, @createdAtMs, @expiresAtMs)`);
  const rename = db.prepare('UPDATE api_keys SET name = ? WHERE id = ?');
  const revoke = db.prepare('UPDATE api_keys SET revoked_at_ms = ? WHERE id = ?');

  const found = (row: StoredKey | undefined) => (row ? decode(row) : undefined);
  return {
    byId: (id: number) => found(byId.get(id)),
    byName: (name: string) => found(byName.get(name)),
    list: (afterId: number, limit: number) => list.all(afterId, limit).map(decode),
    nextId: nextIdOn(db, 'api_keys'),
    add(key: Omit<KeyRow, 'revokedAtMs'>): void {
      add.run({ ...key, roles: JSON.stringify(key.roles) });
    },
    rename: (id: number, name: string) => void rename.run(name, id),
    revoke(id: number, atMs: number): void {
      revoke.run(atMs, id);
    },
  };
}
