import { z } from 'zod';
import { existingSpecification } from '../../catalogue/specification-actions.js';
import type { SpecificationRow } from '../../catalogue/specification-records.js';
import { html, type Markup } from '../../http/html.js';
import { idText, PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { answerPlace, factsOf } from '../parts.js';
import { pageAddress } from '../quality/query.js';
import { screen, type Viewing } from '../screen.js';
import { approvalPanel } from './approval.js';
import { modelAddress, wayBack } from './common.js';
import { comparePanel } from './compare.js';
import { datesAndKeys } from './configuration.js';
import { promptsPanel } from './content.js';
import { placed, spanOf, timeLine } from './time-line.js';

export const specification = screen({
  name: 'catalogue',
  path: '/catalogue/specifications/{specification}',
  roles: 'any',
  startFor: [],
  params: z.strictObject({ specification: idText }),
  query: z.strictObject({ from: idText.optional() }),
  show: (plant, { params, query }, viewing) => {
    const row = existingSpecification(plant, params.specification);
    const words = viewing.words.catalogue;
    return {
      title: words.specificationTitle(row.model, row.revision),
      main: html`${wayBack(viewing, row.model)}${answerPlace(words.answers)}
<div id="of-specification">${statePanel(plant, row, viewing)}${approvalPanel(row, 'specifications', viewing)}</div>
${comparePanel(plant, row, query.from, viewing)}
${promptsPanel(row, viewing)}`,
    };
  },
});

function statePanel(plant: Plant, row: SpecificationRow, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const revisions = plant.specifications.list({ model: row.model, state: null }, 0, PAGE_LIMIT);
  const line = placed(revisions, viewing.now);
  const own = line.find((one) => one.row.id === row.id);
  const facts = factsOf([
    [words.state, own ? words.stateOf[own.standing] : row.state],
    [words.note, row.note],
    ...datesAndKeys(row, own?.untilMs ?? null, viewing),
  ]);
  const ofAllRuns = { model: row.model, cell: null, fromDay: null, untilDay: null };
  const trial = pageAddress('trial', ofAllRuns, { specification: row.id });
  const isDraft = row.state === 'draft';
  const edit =
    isDraft && viewing.actor.roles.includes('quality')
      ? html`<a class="action" href="${modelAddress(row.model)}/specification">${words.editSpecification}</a>`
      : null;
  return html`<section class="panel" id="state" aria-label="${words.state}">${facts}${timeLine(line, spanOf(revisions, viewing.now), viewing)}${isDraft ? html`<h2>${words.trial}</h2><p>${words.trialLead} ${words.trialTold}</p>` : null}<div class="actions">${edit}<a class="action" id="trial" href="${trial}">${words.trialLink}</a></div></section>`;
}
