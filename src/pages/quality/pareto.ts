import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import type { View, Viewing } from '../screen.js';
import {
  cellField,
  filterForm,
  modelField,
  pagesNavigation,
  questionPanel,
  windowFields,
} from './parts.js';
import { askedTable, type QualityQuery, scopeOf } from './query.js';

const kinds = ['characteristic', 'cause', 'action', 'symptom'] as const;

/** What fails, why, and what was done about it: the largest first, with cumulative shares. */
export function paretoView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const words = viewing.words.quality.pareto;
  const scope = scopeOf(query, viewing);
  return {
    title: words.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'pareto', scope)}
${filterForm(viewing, 'pareto', scope, [
  modelField(plant, viewing, scope.model),
  cellField(plant, viewing, scope.cell),
  windowFields(viewing, scope),
])}
<p class="soft">${words.lead}</p>
<div class="columns broad">${kinds.map((of) => questionPanel(viewing, { id: `of-${of}`, title: words.of[of], charts: [words.chart] }))}</div>`,
    data: {
      asked: kinds.map((of) => ({
        ...askedTable(`of-${of}`, 'pareto', '/v1/rework/pareto', { of, ...scope }),
        of,
      })),
    },
  };
}
