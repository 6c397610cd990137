import { z } from 'zod';
import type { ModelRow, PartRow } from '../../catalogue/records.js';
import { html, type Markup } from '../../http/html.js';
import { idText } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { answerPlace, fieldOf, optionsOf, tableOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { attributesField, attributesOf, modelAddress, textField } from './common.js';

/** Lines of a table before one has to ask for more. */
const LINES = 200;

const query = z.strictObject({ modelsAfter: idText.optional(), partsAfter: idText.optional() });
type Query = z.output<typeof query>;

export const catalogue = screen({
  name: 'catalogue',
  path: '/catalogue',
  roles: 'any',
  startFor: ['configuration'],
  query,
  show: (plant, { query }, viewing) => {
    const words = viewing.words.catalogue;
    return {
      title: words.title,
      main: html`${answerPlace(words.answers)}<p class="lead">${words.lead}</p>
${modelsPanel(plant, query, viewing)}
${partsPanel(plant, query, viewing)}`,
    };
  },
});

function mayAdd({ actor }: Viewing): boolean {
  return actor.roles.includes('configuration');
}

function modelsPanel(plant: Plant, { modelsAfter = 0 }: Query, viewing: Viewing): Markup {
  const { words: all, format, now } = viewing;
  const words = all.catalogue;
  const rows = plant.catalogue.models(modelsAfter, LINES + 1);
  const table = tableOf<ModelRow>(
    words.models,
    [
      { title: words.code, cell: ({ code }) => html`<a href="${modelAddress(code)}">${code}</a>` },
      { title: words.name, cell: (row) => row.name },
      {
        title: words.ratedPower,
        cell: (row) => `${format.number(row.ratedPowerKw)}\u00a0kW`,
        isNumber: true,
      },
      { title: words.attributes, cell: (row) => attributesOf(viewing, row.attributes) },
      {
        title: words.configurationsInForce,
        cell: (row) =>
          plant.catalogue
            .configurationsOfModel(row.id, now)
            .map(({ code }) => code)
            .join(', ') || all.none,
      },
      {
        title: words.specificationInForce,
        cell: (row) => {
          const found = plant.specifications.inForce(row.id, now);
          return found
            ? html`<a href="/catalogue/specifications/${found.id}">${words.revision(found.revision)}</a>`
            : all.none;
        },
      },
    ],
    rows.slice(0, LINES),
    words.noModels,
  );
  return html`<section class="panel" id="models" aria-labelledby="models-title"><h2 id="models-title">${words.models}</h2><div id="models-table">${table}${moreLink(rows, 'modelsAfter', viewing)}</div>${mayAdd(viewing) ? modelForm(viewing) : null}</section>`;
}

function moreLink(
  rows: readonly { id: number }[],
  member: keyof Query,
  { words }: Viewing,
): Markup | null {
  const last = rows[LINES - 1];
  if (rows.length <= LINES || last === undefined) return null;
  const next = `/catalogue?${member}=${last.id}`;
  return html`<p><a class="action" href="${next}">${words.catalogue.more}</a></p>`;
}

function partsPanel(plant: Plant, { partsAfter = 0 }: Query, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const rows = plant.catalogue.parts(partsAfter, LINES + 1);
  const classes = new Map(plant.catalogue.classes().map(({ code, name }) => [code, name]));
  const table = tableOf<PartRow>(
    words.parts,
    [
      { title: words.number, cell: (row) => row.number },
      { title: words.revisionOf, cell: (row) => row.revision },
      { title: words.name, cell: (row) => row.name },
      { title: words.tracking, cell: (row) => words.trackedBy[row.tracking] },
      {
        title: words.unitClass,
        cell: (row) => (row.class === null ? null : (classes.get(row.class) ?? row.class)),
      },
      { title: words.gtin, cell: (row) => row.gtin },
      { title: words.attributes, cell: (row) => attributesOf(viewing, row.attributes) },
    ],
    rows.slice(0, LINES),
    words.noParts,
  );
  return html`<section class="panel" id="parts" aria-labelledby="parts-title"><h2 id="parts-title">${words.parts}</h2><div id="parts-table">${table}${moreLink(rows, 'partsAfter', viewing)}</div>${mayAdd(viewing) ? partForm([...classes], viewing) : null}</section>`;
}

function modelForm(viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  return html`<details><summary>${words.addModel}</summary><form id="model-form" class="fields">
${textField('model-code', 'code', words.code, '', { isNeeded: true })}
${textField('model-name', 'name', words.name, '', { isNeeded: true })}
${textField('model-power', 'ratedPowerKw', words.ratedPowerKw, '', { isNeeded: true, mode: 'decimal' })}
${attributesField('model-attributes', viewing, {})}
<button class="main">${words.add}</button></form></details>`;
}

function partForm(classes: readonly (readonly [string, string])[], viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const tracked = Object.entries(words.trackedBy);
  const named = [['', ''] as const, ...classes];
  return html`<details><summary>${words.addPart}</summary><form id="part-form" class="fields">
${textField('part-number', 'number', words.number, '', { isNeeded: true })}
${textField('part-revision', 'revision', words.revisionOf, '', { isNeeded: true })}
${textField('part-name', 'name', words.name, '', { isNeeded: true })}
${fieldOf('part-tracking', words.tracking, html`<select id="part-tracking" name="tracking" data-pointer="/tracking">${optionsOf(tracked, 'serial')}</select>`)}
${fieldOf('part-class', words.unitClass, html`<select id="part-class" name="class" data-pointer="/class" aria-describedby="part-class-hint">${optionsOf(named)}</select>`, { id: 'part-class-hint', text: words.classHint })}
${textField('part-gtin', 'gtin', words.gtin, '', { hint: words.gtinHint })}
${attributesField('part-attributes', viewing, {})}
<button class="main">${words.add}</button></form></details>`;
}
