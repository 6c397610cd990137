import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { address } from '../../yield/rework-links.js';
import { fieldOf } from '../parts.js';
import type { View, Viewing } from '../screen.js';
import { choiceOf } from './characteristics.js';
import {
  cellField,
  filterForm,
  labelled,
  modelField,
  pagesNavigation,
  questionPanel,
  selectField,
  windowFields,
} from './parts.js';
import { askedTable, type QualityQuery, scopeOf } from './query.js';

/** Capability of every characteristic of a model, or all figures of one of them. */
export function capabilityView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { capability: words } = viewing.words.quality;
  const scope = scopeOf(query, viewing);
  const { model, characteristics } = choiceOf(plant, scope.model);
  const { characteristic, runs = 'first', subgroup } = query;
  const { cell, fromDay, untilDay } = scope;
  const of = { model, cell, fromDay, untilDay, runs, subgroup };
  const options = characteristics.map(({ code, name }): [string, string] => [code, name]);
  const overview = characteristic === undefined;
  const asked = overview
    ? [askedTable('overview', 'capability-overview', '/v1/capability/overview', of)]
    : [
        {
          id: 'one',
          show: 'capability',
          address: address('/v1/capability', { ...of, characteristic }),
        },
      ];
  return {
    title: words.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'capability', scope)}
${filterForm(viewing, 'capability', scope, [
  modelField(plant, viewing, model, false),
  selectField(
    'characteristic',
    words.characteristic,
    [['', words.every], ...options],
    characteristic,
  ),
  cellField(plant, viewing, cell),
  windowFields(viewing, scope),
  selectField('runs', words.runs, labelled(words.whichRuns), runs),
  fieldOf(
    'subgroup',
    words.subgroup,
    html`<input id="subgroup" name="subgroup" type="number" min="2" max="1000" value="${subgroup}" aria-describedby="subgroup-hint">`,
    { id: 'subgroup-hint', text: words.subgroupHint },
  ),
])}
${
  overview
    ? questionPanel(viewing, {
        id: 'overview',
        title: words.overview(model ?? ''),
        lead: words.overviewLead,
      })
    : questionPanel(viewing, {
        id: 'one',
        title: nameOf(options, characteristic),
        charts: [words.histogram],
      })
}`,
    data: { asked: model === null ? [] : asked },
  };
}

function nameOf(options: readonly [string, string][], code: string): string {
  return options.find(([one]) => one === code)?.[1] ?? code;
}
