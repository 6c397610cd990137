import { hash, randomBytes, timingSafeEqual } from 'node:crypto';

const SECRET_BYTES = 32;
const tokenForm = /^skeg_(\d{1,15})_([A-Za-z0-9_-]{43})$/;

/** A new secret: 256 random bits as 43 base64url characters. */
export function newSecret(): string {
  return randomBytes(SECRET_BYTES).toString('base64url');
}

/** The token that a caller sends: the key's id, to find it, and its secret, to prove it. */
export function tokenOf(keyId: number, secret: string): string {
  return `skeg_${keyId}_${secret}`;
}

/** Takes a token apart; undefined when it has not the form of one. */
export function readToken(token: string): { keyId: number; secret: string } | undefined {
  const match = tokenForm.exec(token);
  if (!match?.[1] || !match[2]) return undefined;
  return { keyId: Number(match[1]), secret: match[2] };
}

/** SHA-256 of a secret. A 256-bit random secret needs no slow hash. */
export function hashSecret(secret: string): Buffer {
  return hash('sha256', secret, 'buffer');
}

/** True when the secret is the hashed one; takes the same time wherever they differ. */
export function isSecret(secret: string, hash: Buffer): boolean {
  return timingSafeEqual(hashSecret(secret), hash);
}

/** What a former key is shown as in place of its name. */
export function pseudonymOf(keyId: number): string {
  return `former key ${keyId}`;
}

/** Whether a name is one that some key may have to be shown as. */
export function isPseudonym(name: string): boolean {
  return /^former key \d+$/i.test(name);
}
