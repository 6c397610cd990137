import { z } from 'zod';
import { code, instant, label, page, timeOf } from '../http/shapes.js';
import { derivationNames } from '../testing/derivations.js';
import type { Characteristic } from '../testing/rules.js';
import { iso, isoOrNull } from '../time.js';
import type { SpecificationHead, SpecificationRow } from './specification-records.js';

/** Characteristics of one specification at most; the packed position of a reading allows more. */
export const CHARACTERISTIC_LIMIT = 500;

const limit = z.number().nullable().optional();
const common = { code, name: label(80), required: z.boolean().optional() };
const judged = {
  unit: z.string().max(40).meta({ description: 'UCUM code.', example: 'kPa' }),
  lower: limit.meta({ description: 'Lower specification limit; a value on the limit conforms.' }),
  upper: limit.meta({ description: 'Upper specification limit; a value on the limit conforms.' }),
  guardBand: z.number().min(0).optional().meta({
    description:
      'Narrows both limits to the acceptance limits (ISO 14253-1), in the unit. Left out with an uncertainty given: 1.645 standard uncertainties; else 0.',
  }),
  nominal: limit.meta({
    description: 'Where the margin is 1; needed with one limit only, where no middle exists.',
  }),
  standardUncertainty: z.number().positive().nullable().optional(),
  decimals: z
    .int()
    .min(0)
    .max(9)
    .optional()
    .meta({ description: 'For showing only; values are judged unrounded.' }),
};

const measured = z.strictObject({ kind: z.literal('measured'), ...common, ...judged });
const attribute = z.strictObject({
  kind: z.literal('attribute'),
  ...common,
  expected: z.boolean().meta({ description: 'The answer that conforms.' }),
});
const derived = z.strictObject({
  kind: z.literal('derived'),
  ...common,
  ...judged,
  derivation: z.strictObject({
    function: z.enum(derivationNames),
    inputs: z
      .array(code)
      .min(1)
      .max(12)
      .meta({ description: 'Codes of measured characteristics.' }),
  }),
});

export const characteristicDraft = z
  .discriminatedUnion('kind', [measured, attribute, derived])
  .meta({ id: 'CharacteristicDraft' });

const promptDraft = z.strictObject({
  text: label(300).meta({ description: 'What the cell or its operator does next.' }),
  caution: label(300).nullable().optional(),
  characteristics: z.array(characteristicDraft).max(CHARACTERISTIC_LIMIT).optional(),
});

export const specificationDraft = z
  .strictObject({
    model: code,
    note: label(500).meta({ description: 'What this revision is for.' }),
    effectiveFrom: instant.optional(),
    prompts: z.array(promptDraft).min(1).max(200),
  })
  .meta({ id: 'SpecificationDraft' });

const number = z.number().nullable();
const judgedShape = {
  unit: z.string(),
  lower: number,
  upper: number,
  guardBand: z.number(),
  nominal: number,
  standardUncertainty: number,
  decimals: z.int(),
};
const commonShape = { code: z.string(), name: z.string(), required: z.boolean() };
export const characteristicShape = z
  .discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('measured'), ...commonShape, ...judgedShape }),
    z.strictObject({ kind: z.literal('attribute'), ...commonShape, expected: z.boolean() }),
    z.strictObject({
      kind: z.literal('derived'),
      ...commonShape,
      ...judgedShape,
      derivation: z.strictObject({ function: z.string(), inputs: z.array(z.string()) }),
    }),
  ])
  .meta({ id: 'Characteristic' });

export const promptShape = z
  .strictObject({
    text: z.string(),
    caution: z.string().nullable(),
    characteristics: z.array(characteristicShape),
  })
  .meta({ id: 'Prompt' });

const headShape = {
  id: z.int(),
  model: z.string(),
  revision: z.int(),
  note: z.string(),
  state: z.enum(['draft', 'approved']),
  version: z.int(),
  effectiveFrom: timeOf.nullable(),
  draftedBy: z.string(),
  draftedAt: timeOf,
  approvedBy: z.string().nullable(),
  approvedAt: timeOf.nullable(),
};
export const specificationHead = z.strictObject(headShape).meta({ id: 'SpecificationHead' });
export const specificationPage = page(specificationHead);
export const specificationShape = z
  .strictObject({ ...headShape, prompts: z.array(promptShape) })
  .meta({
    id: 'Specification',
    description: 'The ordered prompts and characteristics by which a model’s hot test is judged.',
  });

export function presentHead(row: SpecificationHead): z.input<typeof specificationHead> {
  return {
    id: row.id,
    model: row.model,
    revision: row.revision,
    note: row.note,
    state: row.state,
    version: row.version,
    effectiveFrom: isoOrNull(row.effectiveFromMs),
    draftedBy: row.draftedBy,
    draftedAt: iso(row.draftedAtMs),
    approvedBy: row.approvedBy,
    approvedAt: isoOrNull(row.approvedAtMs),
  };
}

export function presentSpecification(row: SpecificationRow): z.input<typeof specificationShape> {
  return {
    ...presentHead(row),
    prompts: row.prompts.map(({ text, caution, characteristics }) => ({
      text,
      caution,
      characteristics: characteristics.map((one) => ({ ...one })),
    })),
  };
}

/** One line of the CSV form: a characteristic under its prompt, or a prompt without any. */
export const specificationLine = z
  .strictObject({
    model: z.string(),
    prompt: z.string(),
    caution: z.string().nullable(),
    kind: z.string().nullable(),
    code: z.string().nullable(),
    name: z.string().nullable(),
    required: z.boolean().nullable(),
    unit: z.string().nullable(),
    lower: number,
    upper: number,
    guardBand: number,
    nominal: number,
    standardUncertainty: number,
    decimals: number,
    expected: z.boolean().nullable(),
    function: z.string().nullable(),
    inputs: z.string().nullable(),
  })
  .meta({ id: 'SpecificationLine' });
export const specificationLinePage = page(specificationLine);

export function presentLines(row: SpecificationRow): z.input<typeof specificationLine>[] {
  return row.prompts.flatMap((prompt): z.input<typeof specificationLine>[] => {
    const start = { model: row.model, prompt: prompt.text, caution: prompt.caution };
    if (prompt.characteristics.length === 0) return [{ ...start, ...emptyLine }];
    return prompt.characteristics.map((one) => ({ ...start, ...lineOf(one) }));
  });
}

const emptyLine = {
  kind: null,
  code: null,
  name: null,
  required: null,
  unit: null,
  lower: null,
  upper: null,
  guardBand: null,
  nominal: null,
  standardUncertainty: null,
  decimals: null,
  expected: null,
  function: null,
  inputs: null,
};

function lineOf(one: Characteristic) {
  const { kind, code: name, ...rest } = one;
  const start = { ...emptyLine, kind, code: name };
  if ('derivation' in rest) {
    const { derivation, ...judgedPart } = rest;
    return {
      ...start,
      ...judgedPart,
      function: derivation.function,
      inputs: derivation.inputs.join(' '),
    };
  }
  return { ...start, ...rest };
}

export const differenceShape = z
  .strictObject({
    code: z.string().nullable().meta({ description: 'The characteristic; null for a prompt.' }),
    change: z.enum(['added', 'removed', 'changed']),
    member: z.string().nullable(),
    from: z.string().nullable(),
    to: z.string().nullable(),
  })
  .meta({ id: 'SpecificationDifference' });
export const differencePage = page(differenceShape);
