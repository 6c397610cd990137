import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { KeyRow } from './records.js';
import {
  hashSecret,
  isPseudonym,
  isSecret,
  newSecret,
  pseudonymOf,
  readToken,
  tokenOf,
} from './rules.js';
import type { Role } from './schema.js';

interface NewKey {
  name: string;
  roles: Role[];
  expiresAt?: number | undefined;
}

/** Issues a key; its token is in the answer and nowhere else. */
export function issueKey(command: Command, draft: NewKey): { key: KeyRow; token: string } {
  const { plant, now } = command;
  if (plant.access.byName(draft.name)) {
    throw new Problem('key-name-taken', `A key named ${draft.name} exists or existed.`);
  }
  if (isPseudonym(draft.name)) {
    throw new Problem('key-name-taken', `${draft.name} is kept for a key that loses its name.`);
  }
  const issued = addKey(plant, draft, now);
  const { id, roles, expiresAtMs } = issued.key;
  command.record('key.issued', { keyId: id, roles: [...roles], expiresAtMs });
  return issued;
}

/** Writes a key and returns it with its token. The first key of all is made by this alone. */
export function addKey(plant: Plant, draft: NewKey, now: number): { key: KeyRow; token: string } {
  if (draft.expiresAt !== undefined && draft.expiresAt <= now) {
    throw new Problem('request-invalid', 'A key must expire in the future.', {
      errors: [{ pointer: '/expiresAt', detail: 'must lie in the future' }],
    });
  }
  const secret = newSecret();
  const key: KeyRow = {
    id: plant.access.nextId(),
    name: draft.name,
    secretHash: hashSecret(secret),
    roles: [...new Set(draft.roles)],
    createdAtMs: now,
    expiresAtMs: draft.expiresAt ?? null,
    revokedAtMs: null,
  };
  plant.access.add(key);
  return { key, token: tokenOf(key.id, secret) };
}

/** Revokes a key at once; revoking it again changes nothing. */
export function revokeKey(command: Command, keyId: number): KeyRow {
  const { plant, actor, now } = command;
  const key = plant.access.byId(keyId);
  if (!key) throw new Problem('key-unknown', `There is no key ${keyId}.`);
  if (key.id === actor.keyId) throw new Problem('key-is-own', 'A key cannot revoke itself.');
  if (key.revokedAtMs !== null) return key;
  // A clock that was put back must not keep a key alive.
  const revokedAtMs = Math.max(now, key.createdAtMs);
  plant.access.revoke(keyId, revokedAtMs);
  command.record('key.revoked', { keyId });
  return { ...key, revokedAtMs };
}

/**
 * Takes a person's name out of every record: the key of somebody who has left is from now
 * on shown by a number. The journal holds ids alone, so its chain stays as it was.
 */
export function pseudonymiseKey(command: Command, keyId: number): KeyRow {
  const { plant, now } = command;
  const key = plant.access.byId(keyId);
  if (!key) throw new Problem('key-unknown', `There is no key ${keyId}.`);
  if (isInForce(key, now)) {
    throw new Problem('key-in-force', `Key ${key.name} is in force; revoke it first.`);
  }
  const name = pseudonymOf(keyId);
  if (key.name === name) return key;
  plant.access.rename(keyId, name);
  command.record('key.pseudonymised', { keyId });
  return { ...key, name };
}

/** Whose token this is; undefined when it is unknown, wrong, expired or revoked. */
export function authenticate(plant: Plant, token: string, now: number): KeyRow | undefined {
  const read = readToken(token);
  const key = read && plant.access.byId(read.keyId);
  if (!key || !isSecret(read.secret, key.secretHash)) return undefined;
  return isInForce(key, now) ? key : undefined;
}

/** Whether a key is neither revoked nor expired. */
export function isInForce({ revokedAtMs, expiresAtMs }: KeyRow, now: number): boolean {
  return revokedAtMs === null && (expiresAtMs === null || expiresAtMs > now);
}
