import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { address } from '../../yield/rework-links.js';
import type { View, Viewing } from '../screen.js';
import { choiceOf } from './characteristics.js';
import {
  filterForm,
  labelled,
  modelField,
  pagesNavigation,
  questionPanel,
  selectField,
  windowFields,
} from './parts.js';
import { type QualityQuery, scopeOf } from './query.js';

/** Test cells compared by one characteristic: means, spread, and whether they differ. */
export function cellsView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { cells: words, capability } = viewing.words.quality;
  const scope = scopeOf(query, viewing);
  const { model, characteristics } = choiceOf(plant, scope.model);
  const { runs = 'first', characteristic = characteristics[0]?.code } = query;
  const { fromDay, untilDay } = scope;
  const of = { model, characteristic, fromDay, untilDay, runs };
  const asked = {
    id: 'comparison',
    show: 'cells',
    address: address('/v1/cells/comparison', of),
    pairs: address('/v1/cells/comparison/pairs', of),
    weeks: address('/v1/cells/comparison/weeks', of),
  };
  return {
    title: words.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'cells', scope)}
${filterForm(viewing, 'cells', scope, [
  modelField(plant, viewing, model, false),
  selectField(
    'characteristic',
    capability.characteristic,
    characteristics.map(({ code, name }) => [code, name] as const),
    characteristic,
  ),
  windowFields(viewing, scope),
  selectField('runs', capability.runs, labelled(capability.whichRuns), runs),
])}
${
  characteristic === undefined
    ? html`<p class="panel">${words.nothingMeasured}</p>`
    : questionPanel(viewing, {
        id: 'comparison',
        title: words.compared,
        lead: words.lead,
        charts: [words.meansChart, words.weeksChart],
      })
}`,
    data: { asked: characteristic === undefined ? [] : [asked] },
  };
}
