import type { z } from 'zod';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { type Characteristic, characteristicFaults, guardBandFor } from '../testing/rules.js';
import { type Approval, assertApprovable, assertEditable, existingModel } from './actions.js';
import type { Prompt, SpecificationRow } from './specification-records.js';
import {
  CHARACTERISTIC_LIMIT,
  type characteristicDraft,
  type specificationDraft,
} from './specification-schema.js';

type Draft = z.output<typeof specificationDraft>;

/** Drafts the next revision of a model's specification. */
export function draftSpecification(command: Command, draft: Draft): SpecificationRow {
  const { plant, actor, now } = command;
  const model = existingModel(plant, draft.model);
  const prompts = soundPrompts(draft);
  if (plant.specifications.specificationDraft(model.id)) {
    throw new Problem('draft-exists', `Model ${model.code} has a draft specification already.`);
  }
  const id = plant.specifications.nextId();
  command.record('specification.drafted', {
    id,
    modelId: model.id,
    revision: plant.specifications.last(model.id).revision + 1,
    note: draft.note,
    effectiveFromMs: draft.effectiveFrom ?? null,
    prompts,
    draftedById: actor.keyId,
    draftedAtMs: now,
  });
  return existingSpecification(plant, id);
}

/** Replaces what a draft says, if nobody changed it since `version`. */
export function reviseSpecification(
  command: Command,
  id: number,
  version: number,
  draft: Draft,
): SpecificationRow {
  const { plant, actor } = command;
  const row = existingSpecification(plant, id);
  assertEditable(row, version);
  if (draft.model !== row.model) {
    throw faulty([{ pointer: '/model', detail: `must stay ${row.model}` }]);
  }
  command.record('specification.revised', {
    id,
    note: draft.note,
    effectiveFromMs: draft.effectiveFrom ?? null,
    prompts: soundPrompts(draft),
    draftedById: actor.keyId,
  });
  return existingSpecification(plant, id);
}

/** Puts a draft in force from a date on; the second person does this. */
export function approveSpecification(
  command: Command,
  id: number,
  { version, effectiveFrom }: Approval,
): SpecificationRow {
  const { plant, actor, now } = command;
  const row = existingSpecification(plant, id);
  if (version !== undefined) assertEditable(row, version);
  const predecessor = plant.specifications.last(row.modelId).effectiveFromMs;
  const effectiveFromMs = assertApprovable(row, actor.keyId, now, predecessor, effectiveFrom);
  command.record('specification.approved', {
    id,
    effectiveFromMs,
    approvedById: actor.keyId,
    approvedAtMs: now,
  });
  return existingSpecification(plant, id);
}

export function existingSpecification(plant: Plant, id: number): SpecificationRow {
  const row = plant.specifications.specification(id);
  if (!row) throw new Problem('specification-unknown', `There is no specification ${id}.`);
  return row;
}

function soundPrompts(draft: Draft): Prompt[] {
  const prompts = promptsOf(draft);
  const errors = specificationFaults(prompts);
  if (errors.length > 0) throw faulty(errors);
  return prompts;
}

function faulty(errors: Fault[]): Problem {
  return new Problem('specification-faulty', 'The specification cannot be right as drafted.', {
    errors,
  });
}

/** A draft's prompts with every default written out. */
export function promptsOf(draft: Draft): Prompt[] {
  return draft.prompts.map((prompt) => ({
    text: prompt.text,
    caution: prompt.caution ?? null,
    characteristics: (prompt.characteristics ?? []).map(characteristicOf),
  }));
}

function characteristicOf(draft: z.output<typeof characteristicDraft>): Characteristic {
  const common = { code: draft.code, name: draft.name, required: draft.required ?? true };
  if (draft.kind === 'attribute') return { kind: 'attribute', ...common, expected: draft.expected };
  const uncertainty = draft.standardUncertainty ?? null;
  const limited = draft.lower != null || draft.upper != null;
  const defaultBand = uncertainty !== null && limited ? guardBandFor(uncertainty) : 0;
  const judged = {
    unit: draft.unit,
    lower: draft.lower ?? null,
    upper: draft.upper ?? null,
    guardBand: draft.guardBand ?? defaultBand,
    nominal: draft.nominal ?? null,
    standardUncertainty: uncertainty,
    decimals: draft.decimals ?? 3,
  };
  if (draft.kind === 'measured') return { kind: 'measured', ...common, ...judged };
  return { kind: 'derived', ...common, ...judged, derivation: draft.derivation };
}

/** Why prompts cannot be a specification, as pointers into the draft. */
export function specificationFaults(prompts: readonly Prompt[]): Fault[] {
  const places = prompts.flatMap((prompt, p) =>
    prompt.characteristics.map((_, c) => `/prompts/${p}/characteristics/${c}`),
  );
  const all = prompts.flatMap((prompt) => prompt.characteristics);
  if (all.length === 0) return [{ pointer: '/prompts', detail: 'no characteristic is asked for' }];
  if (all.length > CHARACTERISTIC_LIMIT) {
    return [{ pointer: '/prompts', detail: `more than ${CHARACTERISTIC_LIMIT} characteristics` }];
  }
  return characteristicFaults(all).map(({ index, field, detail }) => ({
    pointer: `${places[index]}/${field}`,
    detail,
  }));
}
