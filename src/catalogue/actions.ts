import type { z } from 'zod';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { type Fault, Problem } from '../problems.js';
import { iso } from '../time.js';
import type {
  ConfigurationRow,
  ConfigurationTerms,
  ModelRow,
  PartRow,
  RepairCode,
} from './records.js';
import { conflictBetween, earliestEffect } from './rules.js';
import type { configurationDraft, modelDraft, partDraft } from './schema.js';

type ConfigurationDraft = z.output<typeof configurationDraft>;

export function addPartClass(command: Command, row: { code: string; name: string }) {
  if (command.plant.catalogue.hasClass(row.code)) {
    throw new Problem('part-class-exists', `There is a part class ${row.code} already.`);
  }
  command.record('part-class.added', row);
  return row;
}

export function addPart(command: Command, draft: z.output<typeof partDraft>): PartRow {
  const { catalogue } = command.plant;
  if (catalogue.part(draft.number, draft.revision)) {
    throw new Problem('part-exists', `Part ${draft.number} revision ${draft.revision} exists.`);
  }
  if (draft.class !== undefined && !catalogue.hasClass(draft.class)) {
    throw new Problem('part-class-unknown', `There is no part class ${draft.class}.`);
  }
  const row: PartRow = {
    id: catalogue.nextPartId(),
    number: draft.number,
    revision: draft.revision,
    name: draft.name,
    tracking: draft.tracking,
    class: draft.class ?? null,
    gtin: draft.gtin ?? null,
    attributes: draft.attributes ?? {},
  };
  command.record('part.added', row);
  return row;
}

export function addModel(command: Command, draft: z.output<typeof modelDraft>): ModelRow {
  const { catalogue } = command.plant;
  if (catalogue.model(draft.code)) {
    throw new Problem('model-exists', `There is a model ${draft.code} already.`);
  }
  const row: ModelRow = {
    id: catalogue.nextModelId(),
    code: draft.code,
    name: draft.name,
    ratedPowerKw: draft.ratedPowerKw,
    attributes: draft.attributes ?? {},
  };
  command.record('model.added', row);
  return row;
}

export function addRepairCode(command: Command, row: RepairCode): RepairCode {
  if (command.plant.catalogue.repairCode(row.kind, row.code)) {
    throw new Problem('repair-code-exists', `There is a ${row.kind} ${row.code} already.`);
  }
  command.record('repair-code.added', row);
  return row;
}

/** Drafts the next revision of a configuration. */
export function draftConfiguration(command: Command, draft: ConfigurationDraft): ConfigurationRow {
  const { plant, actor, now } = command;
  const { terms, faults } = configurationTerms(plant, draft);
  if (faults.length > 0) throw faultyConfiguration(faults);
  if (plant.catalogue.configurationDraft(draft.code)) {
    throw new Problem('draft-exists', `Configuration ${draft.code} has a draft already.`);
  }
  const id = plant.catalogue.nextConfigurationId();
  command.record('configuration.drafted', {
    ...terms,
    id,
    code: draft.code,
    revision: plant.catalogue.lastConfiguration(draft.code).revision + 1,
    draftedById: actor.keyId,
    draftedAtMs: now,
  });
  return existingConfiguration(plant, id);
}

/** Replaces what a draft says, if nobody changed it since `version`. */
export function reviseConfiguration(
  command: Command,
  id: number,
  version: number,
  draft: ConfigurationDraft,
): ConfigurationRow {
  const { plant, actor } = command;
  const row = existingConfiguration(plant, id);
  assertEditable(row, version);
  const { terms, faults } = configurationTerms(plant, draft);
  if (draft.code !== row.code) {
    faults.push({ pointer: '/code', detail: `must stay ${row.code} over all revisions` });
  }
  if (faults.length > 0) throw faultyConfiguration(faults);
  command.record('configuration.revised', { ...terms, id, draftedById: actor.keyId });
  return existingConfiguration(plant, id);
}

/** What an approver says: the version that was read, and from when it is to be in force. */
export interface Approval {
  version?: number | undefined;
  effectiveFrom?: number | undefined;
}

/** Puts a draft in force from a date on; the second person does this. */
export function approveConfiguration(
  command: Command,
  id: number,
  { version, effectiveFrom }: Approval,
): ConfigurationRow {
  const { plant, actor, now } = command;
  const row = existingConfiguration(plant, id);
  if (version !== undefined) assertEditable(row, version);
  const predecessor = plant.catalogue.lastConfiguration(row.code).effectiveFromMs;
  const effectiveFromMs = assertApprovable(row, actor.keyId, now, predecessor, effectiveFrom);
  command.record('configuration.approved', {
    id,
    effectiveFromMs,
    approvedById: actor.keyId,
    approvedAtMs: now,
  });
  return existingConfiguration(plant, id);
}

export function existingConfiguration(plant: Plant, id: number): ConfigurationRow {
  const row = plant.catalogue.configuration(id);
  if (!row) throw new Problem('configuration-unknown', `There is no configuration ${id}.`);
  return row;
}

export function existingModel(plant: Plant, code: string): ModelRow {
  const model = plant.catalogue.model(code);
  if (!model) throw new Problem('model-unknown', `There is no model ${code}.`);
  return model;
}

interface Draft {
  state: 'draft' | 'approved';
  version: number;
  draftedById: number;
  effectiveFromMs: number | null;
}

/** @throws Problem not-a-draft, version-conflict */
export function assertEditable(row: Draft, version: number): void {
  assertDraft(row);
  if (row.version !== version) {
    throw new Problem(
      'version-conflict',
      `The draft is at version ${row.version}, not ${version}.`,
    );
  }
}

function assertDraft(row: Draft): void {
  if (row.state === 'approved') {
    throw new Problem('not-a-draft', 'It is approved: draft a new revision to supersede it.');
  }
}

/**
 * The moment from which a draft may be in force.
 * @throws Problem not-a-draft, approval-by-author, effective-date-past
 */
export function assertApprovable(
  row: Draft,
  approver: number,
  now: number,
  predecessorFromMs: number | null,
  wanted: number | undefined,
): number {
  assertDraft(row);
  if (row.draftedById === approver) {
    throw new Problem('approval-by-author', 'This key made the last edit; another one approves.');
  }
  const earliest = earliestEffect(now, predecessorFromMs);
  const from = wanted ?? row.effectiveFromMs ?? earliest;
  if (from < earliest) {
    throw new Problem(
      'effective-date-past',
      `It can take effect from ${iso(earliest)} on, not from ${iso(from)}.`,
      { earliest: iso(earliest) },
    );
  }
  return from;
}

/** What a draft decides, and every reason why it cannot be right. */
export function configurationTerms(
  plant: Plant,
  draft: ConfigurationDraft,
): { terms: ConfigurationTerms; faults: Fault[] } {
  const { catalogue } = plant;
  const faults: Fault[] = [];
  const model = catalogue.model(draft.model);
  if (!model) faults.push({ pointer: '/model', detail: `there is no model ${draft.model}` });
  const sides = [
    ['powerhead', draft.powerheadNumber, draft.powerheadRevision],
    ['lower-unit', draft.lowerUnitNumber, draft.lowerUnitRevision],
  ] as const;
  for (const [partClass, number, revision] of sides) {
    const member = partClass === 'powerhead' ? 'powerhead' : 'lowerUnit';
    const part = revision ? catalogue.part(number, revision) : catalogue.anyRevision(number);
    if (!part) {
      const pointer = `/${member}${revision ? 'Revision' : 'Number'}`;
      faults.push({
        pointer,
        detail: `there is no part ${number}${revision ? ` revision ${revision}` : ''}`,
      });
    } else if (part.class !== partClass) {
      faults.push({ pointer: `/${member}Number`, detail: `part ${number} is no ${partClass}` });
    }
  }
  const attributes = draft.attributes ?? {};
  const conflict = model && conflictBetween(model.attributes, attributes);
  if (conflict) {
    const { attribute, a, b } = conflict;
    faults.push({
      pointer: `/attributes/${attribute}`,
      detail: `the model has ${a}, not ${b}`,
    });
  }
  const terms: ConfigurationTerms = {
    modelId: model?.id ?? 0,
    powerheadNumber: draft.powerheadNumber,
    powerheadRevision: draft.powerheadRevision ?? null,
    lowerUnitNumber: draft.lowerUnitNumber,
    lowerUnitRevision: draft.lowerUnitRevision ?? null,
    attributes,
    discontinued: draft.discontinued ?? false,
    effectiveFromMs: draft.effectiveFrom ?? null,
  };
  return { terms, faults };
}

function faultyConfiguration(errors: Fault[]): Problem {
  return new Problem('configuration-faulty', 'The configuration cannot be right as drafted.', {
    errors,
  });
}
