import type { Applier } from '../journal/applier.js';

/**
 * Keys are administration, not history: the journal keeps who was issued what under
 * its id, and never a name or a hash, so that a name can be pseudonymised later
 * without touching the chain.
 */
const issued: Applier<{ keyId: number; roles: string[]; expiresAtMs: number | null }> = () => {};
const revoked: Applier<{ keyId: number }> = () => {};
const pseudonymised: Applier<{ keyId: number }> = () => {};

export const accessEvents = {
  'key.issued': issued,
  'key.revoked': revoked,
  'key.pseudonymised': pseudonymised,
};
