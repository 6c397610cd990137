import type { Plant } from '../plant.js';
import { isInForce } from './actions.js';
import type { KeyRow } from './records.js';
import { hashSecret, newSecret } from './rules.js';

/** A session that nobody used for so long has ended. */
export const SESSION_IDLE_MS = 12 * 60 * 60 * 1000;
/** How stale the note of a session's last use may become, so that not every look writes. */
const NOTE_USE_EVERY_MS = 5 * 60 * 1000;

/** Opens a session for a key and returns its id: 256 random bits, kept here only as a hash. */
export function openSession(plant: Plant, keyId: number, now: number): string {
  const id = newSecret();
  plant.sessions.open({ idHash: hashSecret(id), keyId, atMs: now });
  return id;
}

export interface SignedIn {
  key: KeyRow;
  /** True when the session's last use should be noted again. */
  isStale: boolean;
}

/** Who is signed in under a session's id; undefined when it, or its key, is no longer in force. */
export function signedInAs(plant: Plant, id: string, now: number): SignedIn | undefined {
  const session = plant.sessions.byHash(hashSecret(id));
  if (!session || now - session.usedAtMs >= SESSION_IDLE_MS) return undefined;
  const key = plant.access.byId(session.keyId);
  if (!key || !isInForce(key, now)) return undefined;
  return { key, isStale: now - session.usedAtMs >= NOTE_USE_EVERY_MS };
}

/** Notes that a session is in use. */
export function noteUse(plant: Plant, id: string, now: number): void {
  plant.sessions.touch(hashSecret(id), now);
}

/** Ends a session; ending it again changes nothing. */
export function closeSession(plant: Plant, id: string): void {
  plant.sessions.close(hashSecret(id));
}
