import { z } from 'zod';
import { instant, label, page, timeOf } from '../http/shapes.js';
import { iso, isoOrNull } from '../time.js';
import type { KeyRow } from './records.js';

/** What a key may do. `read` asks only; every key may ask. */
export const role = z
  .enum(['set', 'cell', 'repair', 'quality', 'configuration', 'admin', 'read'])
  .meta({ id: 'Role', description: 'What an API key may do. Every key may ask questions.' });
export type Role = z.output<typeof role>;

export const keyDraft = z.strictObject({
  name: label(80).meta({
    description: 'Names the person or station in every record; never used twice.',
  }),
  roles: z.array(role).min(1).max(7),
  expiresAt: instant.optional(),
});

export const keyShape = z
  .strictObject({
    id: z.int(),
    name: z.string(),
    roles: z.array(role),
    createdAt: timeOf,
    expiresAt: timeOf.nullable(),
    revokedAt: timeOf.nullable(),
  })
  .meta({ id: 'ApiKey' });

export const issuedKey = z
  .strictObject({
    key: keyShape,
    token: z.string().nullable().meta({
      description:
        'What to send as a bearer token. It is shown this once: a repeated request is answered with null.',
    }),
  })
  .meta({ id: 'IssuedApiKey' });

export const keyPage = page(keyShape);

/** A key as callers see it: never its hash. */
export function presentKey(row: KeyRow): z.input<typeof keyShape> {
  return {
    id: row.id,
    name: row.name,
    roles: [...row.roles],
    createdAt: iso(row.createdAtMs),
    expiresAt: isoOrNull(row.expiresAtMs),
    revokedAt: isoOrNull(row.revokedAtMs),
  };
}
