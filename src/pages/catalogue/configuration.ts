import { z } from 'zod';
import { existingConfiguration, existingModel } from '../../catalogue/actions.js';
import type { ConfigurationRow } from '../../catalogue/records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { code, idText, PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { answerPlace, factsOf, timeOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { approvalPanel } from './approval.js';
import { attributesField, attributesOf, effectiveField, textField, wayBack } from './common.js';
import { placed, spanOf, timeLine } from './time-line.js';

export const configuration = screen({
  name: 'catalogue',
  path: '/catalogue/configurations/{configuration}',
  roles: 'any',
  startFor: [],
  params: z.strictObject({ configuration: idText }),
  show: (plant, { params }, viewing) => {
    const row = existingConfiguration(plant, params.configuration);
    const words = viewing.words.catalogue;
    const mayEdit = row.state === 'draft' && viewing.actor.roles.includes('configuration');
    return {
      title: words.configurationTitle(row.code, row.revision),
      main: html`${wayBack(viewing, row.model)}${answerPlace(words.answers)}
<div id="of-configuration">${stateOf(plant, row, viewing)}${approvalPanel(row, 'configurations', viewing)}</div>
${mayEdit ? html`<section class="panel" aria-labelledby="edit-title"><h2 id="edit-title">${words.edit}</h2>${configurationForm(plant, row.model, row, viewing)}</section>` : null}`,
    };
  },
});

export const configurationDraft = screen({
  name: 'catalogue',
  path: '/catalogue/models/{model}/configuration',
  roles: ['configuration'],
  startFor: [],
  params: z.strictObject({ model: code }),
  query: z.strictObject({ from: idText.optional() }),
  show: (plant, { params, query }, viewing) => {
    const model = existingModel(plant, params.model);
    const words = viewing.words.catalogue;
    const from = query.from === undefined ? undefined : existingConfiguration(plant, query.from);
    return {
      title: words.configurationForm.title(model.code),
      main: html`${wayBack(viewing, model.code)}${answerPlace(words.answers)}<div class="panel">${configurationForm(plant, model.code, from, viewing)}</div>`,
    };
  },
});

function stateOf(plant: Plant, row: ConfigurationRow, viewing: Viewing): Markup {
  const { words: all, now } = viewing;
  const words = all.catalogue;
  const filter = { code: row.code, model: null, state: null, inForceAtMs: null };
  const revisions = plant.catalogue.configurations(filter, 0, PAGE_LIMIT);
  const line = placed(revisions, now);
  const own = line.find((one) => one.row.id === row.id);
  const facts: [string, Content][] = [
    [words.state, own ? words.stateOf[own.standing] : row.state],
    [words.model, row.model],
    [words.powerhead, words.part(row.powerheadNumber, row.powerheadRevision)],
    [words.lowerUnit, words.part(row.lowerUnitNumber, row.lowerUnitRevision)],
    [words.attributes, attributesOf(viewing, row.attributes) ?? all.none],
    ...datesAndKeys(row, own?.untilMs ?? null, viewing),
  ];
  return html`<section class="panel" id="state" aria-label="${words.state}">${factsOf(facts)}${row.discontinued ? html`<p><strong>${words.discontinued}</strong></p>` : null}<h2>${row.code}</h2>${timeLine(line, spanOf(revisions, now), viewing)}</section>`;
}

interface Dated {
  effectiveFromMs: number | null;
  draftedBy: string;
  draftedAtMs: number;
  approvedBy: string | null;
  approvedAtMs: number | null;
}

/** From when until when a revision is in force, and the two keys behind it. */
export function datesAndKeys(
  row: Dated,
  untilMs: number | null,
  { words: { catalogue: words }, format }: Viewing,
): [string, Content][] {
  const facts: [string, Content | null][] = [
    [words.from, row.effectiveFromMs === null ? null : timeOf(format, row.effectiveFromMs)],
    [words.until, untilMs === null ? null : timeOf(format, untilMs)],
    [words.draftedBy, words.byAt(row.draftedBy, format.dateTime(row.draftedAtMs))],
    [
      words.approvedBy,
      row.approvedBy === null || row.approvedAtMs === null
        ? null
        : words.byAt(row.approvedBy, format.dateTime(row.approvedAtMs)),
    ],
  ];
  return facts.filter(([, value]) => value !== null);
}

/**
 * The form of a draft: a new revision of `from`, a draft that is edited, or a new configuration.
 */
function configurationForm(
  plant: Plant,
  model: string,
  from: ConfigurationRow | undefined,
  viewing: Viewing,
): Markup {
  const words = viewing.words.catalogue;
  const { configurationForm: own } = words;
  const isEdit = from?.state === 'draft';
  const address = isEdit ? `/v1/configurations/${from.id}` : '/v1/configurations';
  const any = { hint: own.anyRevision };
  return html`<form id="configuration-form" data-address="${address}" data-model="${model}" data-version="${isEdit ? from.version : ''}">
<div class="fields">
${textField('configuration-code', 'code', own.code, from?.code ?? '', { hint: own.codeHint, isFixed: from !== undefined, isNeeded: true })}
${textField('powerhead-number', 'powerheadNumber', own.powerheadNumber, from?.powerheadNumber ?? '', { list: 'powerheads', isNeeded: true })}
${textField('powerhead-revision', 'powerheadRevision', own.powerheadRevision, from?.powerheadRevision ?? '', any)}
${textField('lower-unit-number', 'lowerUnitNumber', own.lowerUnitNumber, from?.lowerUnitNumber ?? '', { list: 'lower-units', isNeeded: true })}
${textField('lower-unit-revision', 'lowerUnitRevision', own.lowerUnitRevision, from?.lowerUnitRevision ?? '', any)}
${effectiveField('configuration-from', viewing, isEdit ? from.effectiveFromMs : null)}
${attributesField('configuration-attributes', viewing, from?.attributes ?? {})}
</div>
<label class="choice"><input type="checkbox" name="discontinued" data-pointer="/discontinued"${from?.discontinued ? html` checked` : null}> ${own.discontinued}</label>
${partNumbers(plant)}
<div class="actions"><button class="main">${isEdit ? own.save : own.draft}</button></div></form>`;
}

/** Numbers that the two halves' fields offer. */
function partNumbers(plant: Plant): Markup {
  const parts = plant.catalogue.parts(0, PAGE_LIMIT);
  const listOf = (id: string, unitClass: string) => {
    const numbers = new Set(
      parts.filter((one) => one.class === unitClass).map((one) => one.number),
    );
    return html`<datalist id="${id}">${[...numbers].map((one) => html`<option value="${one}"></option>`)}</datalist>`;
  };
  return html`${listOf('powerheads', 'powerhead')}${listOf('lower-units', 'lower-unit')}`;
}
