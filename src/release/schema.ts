import { z } from 'zod';
import { code, instant, page, pageQuery, scanText, timeOf } from '../http/shapes.js';
import { iso } from '../time.js';
import type { ReleaseRow } from './records.js';

/** Motors of one batch at most. */
export const BATCH_LIMIT = 500;

export const gateQuery = z.strictObject({ motor: scanText });
export const gateShape = z
  .strictObject({
    motor: z.string(),
    releasable: z.boolean(),
    reasons: z.array(z.strictObject({ code: z.string(), detail: z.string() })),
  })
  .meta({ id: 'ReleaseGate' });

export const releaseDraft = z
  .strictObject({
    motors: z.array(scanText).min(1).max(BATCH_LIMIT),
    station: code.optional(),
    occurredAt: instant.optional(),
  })
  .meta({ id: 'ReleaseDraft' });

export const releaseShape = z
  .strictObject({
    motor: z.string(),
    model: z.string(),
    order: z.string(),
    run: z.int().meta({ description: 'The completed run that it is released on.' }),
    releasedAt: timeOf,
    releasedBy: z.string(),
  })
  .meta({ id: 'Release' });
export const releaseAnswer = z.strictObject({ released: z.array(releaseShape) });
export const releasePage = page(releaseShape);
export const releaseQuery = z.strictObject(pageQuery);

export function presentRelease(row: ReleaseRow): z.input<typeof releaseShape> {
  return {
    motor: row.motor,
    model: row.model,
    order: row.order,
    run: row.runId,
    releasedAt: iso(row.atMs),
    releasedBy: row.by,
  };
}
