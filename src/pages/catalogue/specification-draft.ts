import { z } from 'zod';
import { existingModel } from '../../catalogue/actions.js';
import { existingSpecification } from '../../catalogue/specification-actions.js';
import type { Prompt, SpecificationRow } from '../../catalogue/specification-records.js';
import { html, type Markup } from '../../http/html.js';
import { code, PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { answerPlace, fieldOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { characteristicFields } from './characteristic-fields.js';
import { effectiveField, wayBack } from './common.js';

/** Edits a model's draft where it has one; else drafts the next revision from the latest. */
export const specificationDraft = screen({
  name: 'catalogue',
  path: '/catalogue/models/{model}/specification',
  roles: ['quality'],
  startFor: [],
  params: z.strictObject({ model: code }),
  show: (plant, { params }, viewing) => {
    const model = existingModel(plant, params.model);
    const words = viewing.words.catalogue;
    const draft = plant.specifications.specificationDraft(model.id);
    const latest = draft ?? latestOf(plant, model.code);
    return {
      title: words.form.title(model.code),
      main: html`${wayBack(viewing, model.code)}${answerPlace(words.answers)}
<p class="lead">${leadOf(draft, latest, viewing)} ${words.form.notSaved}</p>
${specificationForm(model.code, draft, latest, viewing)}`,
    };
  },
});

function latestOf(plant: Plant, model: string): SpecificationRow | undefined {
  const [latest] = plant.specifications
    .list({ model, state: 'approved' }, 0, PAGE_LIMIT)
    .sort((a, b) => b.revision - a.revision);
  return latest && existingSpecification(plant, latest.id);
}

function leadOf(
  draft: SpecificationRow | undefined,
  latest: SpecificationRow | undefined,
  { words: { catalogue } }: Viewing,
): string {
  if (draft) return catalogue.form.leadEdit(draft.revision);
  return latest ? catalogue.form.lead(latest.revision) : catalogue.form.leadEmpty;
}

function specificationForm(
  model: string,
  draft: SpecificationRow | undefined,
  latest: SpecificationRow | undefined,
  viewing: Viewing,
): Markup {
  const words = viewing.words.catalogue;
  const { form: own } = words;
  const address = draft ? `/v1/specifications/${draft.id}` : '/v1/specifications';
  const prompts = latest?.prompts ?? [];
  const empty: Prompt = { text: '', caution: null, characteristics: [] };
  return html`<form id="specification-form" data-address="${address}" data-model="${model}" data-version="${draft?.version ?? ''}" novalidate>
<div class="panel fields">
${fieldOf('note', words.note, html`<textarea id="note" name="note" rows="2" maxlength="500" required data-pointer="/note" aria-describedby="note-hint">${draft?.note ?? ''}</textarea>`, { id: 'note-hint', text: own.noteHint })}
${effectiveField('specification-from', viewing, draft?.effectiveFromMs ?? null)}
</div>
<div id="prompts" data-pointer="/prompts" tabindex="-1">${prompts.map((one) => promptFields(one, viewing))}</div>
<div class="actions"><button type="button" id="add-prompt">${own.addPrompt}</button></div>
<div class="actions save"><button class="main">${draft ? own.save : words.configurationForm.draft}</button></div>
<template id="new-prompt">${promptFields(empty, viewing)}</template>
<template id="new-characteristic">${characteristicFields(undefined, viewing)}</template>
</form>`;
}

/** One prompt with its characteristics; the script numbers it and moves its parts. */
function promptFields({ text, caution, characteristics }: Prompt, viewing: Viewing): Markup {
  const { form: own } = viewing.words.catalogue;
  return html`<fieldset class="prompt panel"><legend></legend>
<label class="in">${own.text}<textarea data-member="text" rows="2" maxlength="300">${text}</textarea></label>
<label class="in">${own.caution}<textarea data-member="caution" rows="2" maxlength="300">${caution}</textarea><span class="hint">${own.cautionHint}</span></label>
<div class="characteristics">${characteristics.map((one) => characteristicFields(one, viewing))}</div>
<div class="actions"><button type="button" data-act="add">${own.addCharacteristic}</button><button type="button" class="quiet" data-act="up">${own.up}</button><button type="button" class="quiet" data-act="down">${own.down}</button><button type="button" class="quiet" data-act="remove">${own.removePrompt}</button></div>
</fieldset>`;
}
