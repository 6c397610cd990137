import { z } from 'zod';
import { code, idText, label, page, pageQuery, reason, timeOf } from '../http/shapes.js';
import { iso, isoOrNull } from '../time.js';
import { condition } from '../tracing/schema.js';
import type { ContainedInWords } from './questions.js';
import type { ContainmentRow } from './records.js';

/** Units disposed of in one request at most. */
export const DISPOSE_LIMIT = 10_000;

export const containmentParams = z.strictObject({ containment: idText });

export const containmentDraft = z
  .strictObject({ title: label(200), where: condition })
  .meta({ id: 'ContainmentDraft' });

export const containmentShape = z
  .strictObject({
    id: z.int(),
    title: z.string(),
    where: z.unknown().meta({ description: 'The frozen question; see Condition.' }),
    openedAt: timeOf,
    openedBy: z.string(),
    closedAt: timeOf.nullable(),
    closedBy: z.string().nullable(),
    closeReason: z.string().nullable(),
    units: z.int(),
    held: z
      .int()
      .meta({ description: 'Units that were inside when they were picked, and were held.' }),
    waiting: z.int().meta({ description: 'Units without a disposition yet.' }),
  })
  .meta({ id: 'Containment' });
export const containmentPage = page(containmentShape);

export const disposition = z.enum(['clear', 'rework', 'scrap', 'concession', 'notified']);

export const containedShape = z
  .strictObject({
    class: z.string(),
    serial: z.string(),
    model: z.string().nullable(),
    stateThen: z.string().meta({ description: 'Where it was when it was picked.' }),
    stateNow: z.string(),
    held: z.boolean(),
    reasons: z.array(z.string()),
    joinedAt: timeOf,
    disposition: disposition.nullable(),
    evidence: z.string().nullable(),
    disposedAt: timeOf.nullable(),
    disposedBy: z.string().nullable(),
  })
  .meta({ id: 'ContainedUnit' });
export const containedPage = page(containedShape);

const flag = z.stringbool({ truthy: ['true'], falsy: ['false'] });
export const containedQuery = z.strictObject({
  ...pageQuery,
  waiting: flag
    .optional()
    .meta({ description: 'Only units without a disposition, or only those with one.' }),
  held: flag.optional().meta({
    description:
      'Only units that were held, or only those that had left: the list for notification.',
  }),
});

export const dispositionDraft = z
  .strictObject({
    units: z
      .array(z.strictObject({ class: code, serial: label(40) }))
      .min(1)
      .max(DISPOSE_LIMIT),
    disposition,
    evidence: reason.meta({
      description: 'What it rests on: an inspection record, a letter, a test.',
    }),
  })
  .meta({ id: 'ContainmentDisposition' });

export const closureDraft = z.strictObject({ reason });

/** What a command's answer says when units joined open containments by it. */
export const joinedShape = z.strictObject({
  containment: z.int(),
  title: z.string(),
  serial: z.string(),
  held: z.boolean(),
});

export function presentContainment(row: ContainmentRow): z.input<typeof containmentShape> {
  return {
    id: row.id,
    title: row.title,
    where: row.condition,
    openedAt: iso(row.openedAtMs),
    openedBy: row.openedBy,
    closedAt: isoOrNull(row.closedAtMs),
    closedBy: row.closedBy,
    closeReason: row.closeReason,
    units: row.units,
    held: row.held,
    waiting: row.waiting,
  };
}

export function presentContained(row: ContainedInWords): z.input<typeof containedShape> {
  return {
    class: row.class,
    serial: row.serial,
    model: row.model,
    stateThen: row.stateThen,
    stateNow: row.stateNow,
    held: row.holdId !== null,
    reasons: row.reasons,
    joinedAt: iso(row.joinedAtMs),
    disposition: row.disposition,
    evidence: row.evidence,
    disposedAt: isoOrNull(row.disposedAtMs),
    disposedBy: row.disposedBy,
  };
}
