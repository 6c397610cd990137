import { z } from 'zod';
import { attributes, code, instant, label, page, timeOf } from '../http/shapes.js';
import { hasValidGtinCheckDigit } from '../scan/check-character.js';
import { iso, isoOrNull } from '../time.js';
import type { ConfigurationRow, ModelRow, PartRow } from './records.js';

// Part classes -------------------------------------------------------------

export const partClassShape = z
  .strictObject({ code, name: label(80) })
  .meta({ id: 'PartClass', description: 'What kind of unit a serial belongs to.' });
export const partClassPage = page(partClassShape);

// Parts --------------------------------------------------------------------

const gtin = z
  .string()
  .regex(/^\d{14}$/, 'must be 14 digits')
  .refine(hasValidGtinCheckDigit, 'has a wrong check digit, so no scan could ever agree with it');

export const partDraft = z
  .strictObject({
    number: code,
    revision: code,
    name: label(80),
    tracking: z.enum(['serial', 'lot']),
    class: code
      .optional()
      .meta({ description: 'Part class; needed exactly when tracked by serial.' }),
    gtin: gtin.optional(),
    attributes: attributes.optional(),
  })
  .refine((part) => (part.tracking === 'serial') === (part.class !== undefined), {
    path: ['class'],
    message: 'is needed exactly when the part is tracked by serial',
  })
  .refine((part) => part.class !== 'motor', {
    path: ['class'],
    message: 'motors are models, not parts',
  });

export const partShape = z
  .strictObject({
    id: z.int(),
    number: z.string(),
    revision: z.string(),
    name: z.string(),
    tracking: z.enum(['serial', 'lot']),
    class: z.string().nullable(),
    gtin: z.string().nullable(),
    attributes: z.record(z.string(), z.string()),
  })
  .meta({ id: 'Part' });
export const partPage = page(partShape);

export const presentPart = (row: PartRow): z.input<typeof partShape> => ({ ...row });

// Models -------------------------------------------------------------------

export const modelDraft = z.strictObject({
  code,
  name: label(80),
  ratedPowerKw: z.number().positive().max(10_000),
  attributes: attributes.optional(),
});

export const modelShape = z
  .strictObject({
    id: z.int(),
    code: z.string(),
    name: z.string(),
    ratedPowerKw: z.number(),
    attributes: z.record(z.string(), z.string()),
  })
  .meta({ id: 'Model' });
export const modelPage = page(modelShape);

export const presentModel = (row: ModelRow): z.input<typeof modelShape> => ({ ...row });

// Configurations -----------------------------------------------------------

export const configurationDraft = z
  .strictObject({
    code: code.meta({ description: 'Names the rule over all its revisions.' }),
    model: code,
    powerheadNumber: code,
    powerheadRevision: code
      .nullable()
      .optional()
      .meta({ description: 'Every revision where left out.' }),
    lowerUnitNumber: code,
    lowerUnitRevision: code
      .nullable()
      .optional()
      .meta({ description: 'Every revision where left out.' }),
    attributes: attributes.optional(),
    discontinued: z.boolean().optional().meta({
      description: 'True in a revision that ends the rule: from then on it takes no pair.',
    }),
    effectiveFrom: instant
      .optional()
      .meta({ description: 'The moment of approval where left out.' }),
  })
  .meta({ id: 'ConfigurationDraft' });

const revisionState = z.enum(['draft', 'approved']);

export const configurationShape = z
  .strictObject({
    id: z.int(),
    code: z.string(),
    revision: z.int(),
    state: revisionState,
    version: z.int(),
    model: z.string(),
    powerheadNumber: z.string(),
    powerheadRevision: z.string().nullable(),
    lowerUnitNumber: z.string(),
    lowerUnitRevision: z.string().nullable(),
    attributes: z.record(z.string(), z.string()),
    discontinued: z.boolean(),
    effectiveFrom: timeOf.nullable(),
    draftedBy: z.string(),
    draftedAt: timeOf,
    approvedBy: z.string().nullable(),
    approvedAt: timeOf.nullable(),
  })
  .meta({
    id: 'Configuration',
    description:
      'From its effective date until a later revision of the same code: this model takes this powerhead and this lower unit.',
  });
export const configurationPage = page(configurationShape);

export function presentConfiguration(row: ConfigurationRow): z.input<typeof configurationShape> {
  return {
    id: row.id,
    code: row.code,
    revision: row.revision,
    state: row.state,
    version: row.version,
    model: row.model,
    powerheadNumber: row.powerheadNumber,
    powerheadRevision: row.powerheadRevision,
    lowerUnitNumber: row.lowerUnitNumber,
    lowerUnitRevision: row.lowerUnitRevision,
    attributes: row.attributes,
    discontinued: row.discontinued,
    effectiveFrom: isoOrNull(row.effectiveFromMs),
    draftedBy: row.draftedBy,
    draftedAt: iso(row.draftedAtMs),
    approvedBy: row.approvedBy,
    approvedAt: isoOrNull(row.approvedAtMs),
  };
}

export const approval = z.strictObject({
  version: z.int().min(1).optional().meta({
    description: 'The version that the approver read; refused where it was edited since.',
  }),
  effectiveFrom: instant.optional().meta({
    description: 'Overrides the draft’s date. Not in the past: history stays as it was judged.',
  }),
});

export const importAnswer = z.strictObject({
  drafted: z.int().meta({ description: 'How many drafts the file made.' }),
});

// Repair codes -------------------------------------------------------------

export const repairCodeShape = z
  .strictObject({
    kind: z.enum(['symptom', 'cause', 'action']),
    code,
    name: label(80),
  })
  .meta({ id: 'RepairCode' });
export const repairCodePage = page(repairCodeShape);
