import { z } from 'zod';
import {
  attributes,
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
import { areCommensurable } from '../measurement/units.js';
import { iso, isoOrNull } from '../time.js';
import type { Hold, UnitRow } from './records.js';

/** Fastenings, lots or components in one request, at most. */
export const LIST_LIMIT = 200;

/** Query members that name a unit of any class. */
export const whichUnit = {
  serial: scanText,
  class: code
    .optional()
    .meta({ description: 'Needed only where units of several classes bear the serial.' }),
};

/** What a unit is, as every answer that shows one says it first. */
export const identity = {
  class: z.string(),
  serial: z.string(),
  part: z.string().nullable(),
  partRevision: z.string().nullable(),
  model: z.string().nullable(),
};

const ucum = z.string().min(1).max(40);

export const fasteningDraft = z
  .strictObject({
    joint: label(60).meta({ description: 'Which fastener of the unit, such as cylinder head 4.' }),
    tool: code,
    torque: z.number(),
    torqueLower: z.number(),
    torqueUpper: z.number(),
    torqueUnit: ucum.meta({ description: 'UCUM code of a torque.', example: 'N.m' }),
    angle: z.number().nullable().optional(),
    angleLower: z.number().nullable().optional(),
    angleUpper: z.number().nullable().optional(),
    angleUnit: ucum
      .nullable()
      .optional()
      .meta({ description: 'UCUM code of an angle.', example: 'deg' }),
    occurredAt: instant.optional(),
  })
  .refine((f) => f.torqueUpper > f.torqueLower, {
    path: ['torqueUpper'],
    message: 'must be above the lower limit',
  })
  .refine((f) => areCommensurable(f.torqueUnit, 'N.m'), {
    path: ['torqueUnit'],
    message: 'is not a known unit of torque',
  })
  .refine((f) => f.angleUnit == null || areCommensurable(f.angleUnit, 'deg'), {
    path: ['angleUnit'],
    message: 'is not a known unit of angle',
  })
  .refine((f) => (f.angleLower ?? f.angleUpper ?? f.angle) == null || f.angleUnit != null, {
    path: ['angleUnit'],
    message: 'is needed with an angle',
  })
  .refine((f) => f.angleLower == null || f.angleUpper == null || f.angleUpper > f.angleLower, {
    path: ['angleUpper'],
    message: 'must be above the lower limit',
  })
  .meta({ id: 'FasteningDraft' });

export const lotUse = z.strictObject({
  part: code,
  revision: code,
  lot: label(40).meta({ description: 'The lot code on the container or bag.' }),
});

const partOf = z.strictObject({ number: code, revision: code });
const result = z.enum(['accepted', 'rejected']);

export const unitDraft = z
  .strictObject({
    class: code,
    serial: scanText,
    part: partOf.optional().meta({ description: 'May be left out where the scan names the part.' }),
    attributes: attributes.optional(),
    inspection: z.strictObject({
      result,
      note: label(500).nullable().optional(),
    }),
    fastenings: z.array(fasteningDraft).max(LIST_LIMIT).optional(),
    lots: z.array(lotUse).max(LIST_LIMIT).optional(),
    components: z
      .array(z.strictObject({ class: code, serial: scanText, position: code.optional() }))
      .max(LIST_LIMIT)
      .optional()
      .meta({
        description:
          'Accepted components that are in it, each in its position (its class where left out).',
      }),
    station: code.optional(),
    occurredAt: instant.optional(),
  })
  .meta({ id: 'UnitDraft' });

export const unitShape = z
  .strictObject({
    ...identity,
    attributes: z.record(z.string(), z.string()),
    state: z.string(),
    onHold: z.boolean(),
    enteredAt: timeOf,
  })
  .meta({ id: 'Unit' });
export const unitPage = page(unitShape);

export function presentUnit(row: UnitRow): z.input<typeof unitShape> {
  return {
    class: row.class,
    serial: row.serial,
    part: row.part,
    partRevision: row.partRevision,
    model: row.model,
    attributes: row.attributes,
    state: row.state,
    onHold: row.openHolds > 0,
    enteredAt: iso(row.enteredAtMs),
  };
}

export const unitQuery = z.strictObject({
  ...pageQuery,
  class: code.optional(),
  state: code.optional(),
  part: code.optional(),
  onHold: z.stringbool({ truthy: ['true'], falsy: ['false'] }).optional(),
});

const about = {
  class: code.meta({ description: 'The class whose serial is scanned.' }),
  unit: scanText,
  station: code.optional(),
  occurredAt: instant.optional(),
};

export const inspectionDraft = z.strictObject({
  ...about,
  result,
  note: label(500).nullable().optional(),
  fastenings: z.array(fasteningDraft).max(LIST_LIMIT).optional(),
});

export const fasteningsDraft = z.strictObject({
  ...about,
  fastenings: z.array(fasteningDraft).min(1).max(LIST_LIMIT),
});

export const fasteningsAnswer = z
  .strictObject({
    unit: unitShape,
    outside: z
      .array(z.string())
      .meta({ description: 'Joints fastened outside their window; each puts the unit on hold.' }),
  })
  .meta({ id: 'FasteningAnswer' });

export const lotUsesDraft = z.strictObject({
  ...about,
  lots: z.array(lotUse).min(1).max(LIST_LIMIT),
});

export const installationDraft = z.strictObject({
  parentClass: code,
  parent: scanText,
  position: code,
  childClass: code,
  child: scanText,
  station: code.optional(),
  occurredAt: instant.optional(),
});

export const removalDraft = z.strictObject({
  class: code,
  unit: scanText,
  reason,
  as: result.meta({ description: 'What it is from now on: accepted for use again, or rejected.' }),
  station: code.optional(),
  occurredAt: instant.optional(),
});

export const holdDraft = z.strictObject({
  ...about,
  cause: code.meta({ example: 'quality' }),
  reason,
});

export const holdShape = z
  .strictObject({
    id: z.int(),
    class: z.string(),
    serial: z.string(),
    cause: z.string(),
    reason: z.string(),
    placedAt: timeOf,
    placedBy: z.string(),
    liftedAt: timeOf.nullable(),
    liftedBy: z.string().nullable(),
    liftReason: z.string().nullable(),
  })
  .meta({ id: 'Hold' });
export const holdPage = page(holdShape);

export function presentHold(row: Hold): z.input<typeof holdShape> {
  return {
    id: row.id,
    class: row.class,
    serial: row.serial,
    cause: row.cause,
    reason: row.reason,
    placedAt: iso(row.placedAtMs),
    placedBy: row.placedBy,
    liftedAt: isoOrNull(row.liftedAtMs),
    liftedBy: row.liftedBy,
    liftReason: row.liftReason,
  };
}

export const holdQuery = z.strictObject({
  ...pageQuery,
  open: z.stringbool({ truthy: ['true'], falsy: ['false'] }).optional(),
});

export const holdParams = z.strictObject({ hold: idText });
export const liftDraft = z.strictObject({ reason });
