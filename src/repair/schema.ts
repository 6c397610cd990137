import { z } from 'zod';
import {
  code,
  idText,
  instant,
  label,
  page,
  pageQuery,
  reason,
  scanText,
  timeOf,
} from '../http/shapes.js';
import { refusalShape } from '../pairing/schema.js';
import { iso, isoOrNull } from '../time.js';
import { identity } from '../units/schema.js';
import type { Exchange, RepairRow } from './records.js';

const place = { station: code.optional(), occurredAt: instant.optional() };
export const repairParams = z.strictObject({ repair: idText });

export const repairDraft = z
  .strictObject({
    motor: scanText,
    complaint: label(500).meta({ description: 'The nonconformance, in words.' }),
    ...place,
  })
  .meta({ id: 'RepairDraft' });

export const exchangeDraft = z
  .strictObject({
    parentClass: code.meta({
      description: 'The class of the unit whose part is exchanged; `motor` for a half.',
    }),
    parent: scanText,
    position: code,
    removed: scanText
      .optional()
      .meta({ description: 'What comes out; left out where the position is empty.' }),
    removedAs: z.enum(['accepted', 'rejected']).optional().meta({
      description: 'What the removed part is from now on; rejected where left out.',
    }),
    fitted: z
      .strictObject({ class: code, serial: scanText })
      .optional()
      .meta({ description: 'What goes in; left out where the position stays empty.' }),
    ...place,
  })
  .refine((body) => body.removed !== undefined || body.fitted !== undefined, {
    path: ['fitted'],
    message: 'something must come out or go in',
  })
  .meta({ id: 'ExchangeDraft' });

export const closureDraft = z
  .strictObject({
    symptom: code,
    cause: code,
    action: code,
    note: label(2000).nullable().optional(),
    ...place,
  })
  .meta({ id: 'RepairClosure' });

export const exchangeShape = z
  .strictObject({
    position: z.string(),
    parent: z.string(),
    removedClass: z.string().nullable(),
    removed: z.string().nullable(),
    fittedClass: z.string().nullable(),
    fitted: z.string().nullable(),
    at: timeOf,
  })
  .meta({ id: 'Exchange' });

const repairFields = {
  id: z.int(),
  motor: z.string(),
  model: z.string(),
  run: z.int().nullable().meta({ description: 'The failed run that opened it.' }),
  complaint: z.string(),
  openedAt: timeOf,
  closedAt: timeOf.nullable(),
  closedBy: z.string().nullable(),
  outcome: z.enum(['repaired', 'no-fault-found', 'scrapped', 'concession', 'torn-down']).nullable(),
  symptom: z.string().nullable(),
  cause: z.string().nullable(),
  action: z.string().nullable(),
  note: z.string().nullable(),
};
export const repairShape = z.strictObject(repairFields).meta({ id: 'Repair' });
export const repairPage = page(repairShape);
export const repairDetail = z
  .strictObject({ ...repairFields, exchanges: z.array(exchangeShape) })
  .meta({ id: 'RepairDetail' });

export const repairQuery = z.strictObject({
  ...pageQuery,
  open: z.stringbool({ truthy: ['true'], falsy: ['false'] }).optional(),
  motor: scanText.optional().meta({ description: 'Those of one motor, by its serial or a scan.' }),
});

export const partScanQuery = z.strictObject({
  text: scanText,
  class: code
    .optional()
    .meta({ description: 'Needed only where units of several classes bear the serial.' }),
});

export const partScanShape = z
  .strictObject({
    ...identity,
    inside: z.boolean().meta({ description: 'Whether it is in the motor under repair.' }),
    position: z.string().nullable().meta({ description: 'Where it is, if inside; else null.' }),
    parentClass: z.string().nullable(),
    parent: z.string().nullable().meta({ description: 'Serial of the unit that it is in.' }),
    refusal: refusalShape.nullable().meta({
      description: 'If not inside, the problem that fitting it would be refused with anywhere now.',
    }),
  })
  .meta({ id: 'PartScan' });

export const retestDraft = z
  .strictObject({ motor: scanText, reason, ...place })
  .meta({ id: 'RetestDraft' });

export const dispositionDraft = z
  .strictObject({
    class: code,
    unit: scanText,
    kind: z.enum(['rework', 'scrap', 'concession']),
    reason,
    ...place,
  })
  .meta({ id: 'DispositionDraft' });

export function presentRepair(row: RepairRow): z.input<typeof repairShape> {
  return {
    id: row.id,
    motor: row.motor,
    model: row.model,
    run: row.runId,
    complaint: row.complaint,
    openedAt: iso(row.openedAtMs),
    closedAt: isoOrNull(row.closedAtMs),
    closedBy: row.closedBy,
    outcome: row.outcome,
    symptom: row.symptom,
    cause: row.cause,
    action: row.action,
    note: row.note,
  };
}

export function presentRepairDetail(
  row: RepairRow,
  exchanges: Exchange[],
): z.input<typeof repairDetail> {
  return {
    ...presentRepair(row),
    exchanges: exchanges.map((one) => ({
      position: one.position,
      parent: one.parentSerial,
      removedClass: one.removedClass,
      removed: one.removedSerial,
      fittedClass: one.fittedClass,
      fitted: one.fittedSerial,
      at: iso(one.atMs),
    })),
  };
}
