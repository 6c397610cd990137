import { html } from '../../http/html.js';
import { PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import type { View, Viewing } from '../screen.js';
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

/** First-pass yield over time and side by side, and what happened on the way to the test. */
export function yieldView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const words = viewing.words.quality;
  const scope = scopeOf(query, viewing);
  const { by = 'day', split = 'model' } = query;
  const { fromDay, untilDay } = scope;
  const own = words.yield;
  return {
    title: own.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'yield', scope)}
${filterForm(viewing, 'yield', scope, [
  modelField(plant, viewing, scope.model),
  cellField(plant, viewing, scope.cell),
  windowFields(viewing, scope),
  selectField('by', own.by, labelled(own.periods), by),
  selectField('split', own.split, labelled(own.slices), split),
])}
${questionPanel(viewing, { id: 'over-time', title: own.overTime, lead: own.definition, charts: [own.overTimeChart(own.periods[by])] })}
${questionPanel(viewing, { id: 'side-by-side', title: own.sideBySide(own.slices[split]), charts: [own.sideBySideChart] })}
<div class="columns">${questionPanel(viewing, { id: 'way', title: own.way, lead: own.wayLead })}${questionPanel(viewing, { id: 'refused-sets', title: own.refusedSets })}</div>`,
    data: {
      asked: [
        {
          ...askedTable('over-time', 'yield-over-time', '/v1/yield/first-pass', {
            by,
            ...scope,
            limit: PAGE_LIMIT,
          }),
          by,
        },
        askedTable('side-by-side', 'yield-side-by-side', '/v1/yield/first-pass', {
          by: split,
          ...scope,
        }),
        askedTable('way', 'way', '/v1/yield/rolled-throughput', { fromDay, untilDay }),
        askedTable('refused-sets', 'refused-sets', '/v1/yield/refused-sets', { fromDay, untilDay }),
      ],
    },
  };
}
