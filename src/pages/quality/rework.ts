import { html } from '../../http/html.js';
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

/** Rework: how often, how long, what waits now, and what cures. */
export function reworkView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const words = viewing.words.quality.rework;
  const scope = scopeOf(query, viewing);
  const { model, cell } = scope;
  const { timesBy: by = 'model', curesOf: of = 'characteristic' } = query;
  const chosen = { loops: words.loopsChart, waiting: words.waitingChart };
  return {
    title: words.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'rework', scope)}
${filterForm(viewing, 'rework', scope, [
  modelField(plant, viewing, model),
  cellField(plant, viewing, cell),
  windowFields(viewing, scope),
  selectField('timesBy', words.timesBy, labelled(words.slices), by),
  selectField('curesOf', words.curesOf, labelled(words.cured), of),
])}
<div class="columns broad">${questionPanel(viewing, { id: 'loops', title: words.loops, lead: words.loopsLead, charts: [chosen.loops] })}${questionPanel(viewing, { id: 'waiting', title: words.waiting, lead: words.waitingLead, charts: [chosen.waiting] })}</div>
${questionPanel(viewing, { id: 'times', title: words.times, lead: words.timesLead, charts: [words.timesChart] })}
${questionPanel(viewing, { id: 'cures', title: words.cures, lead: words.curesLead, charts: [words.curesChart] })}
<div class="columns broad">${questionPanel(viewing, { id: 'refails', title: words.refails, lead: words.refailsLead })}${questionPanel(viewing, { id: 'no-fault', title: words.noFault, lead: words.noFaultLead })}</div>`,
    data: {
      asked: [
        askedTable('loops', 'loops', '/v1/rework/loops-per-motor', scope),
        askedTable('waiting', 'waiting-ages', '/v1/rework/waiting/ages', { model, cell }),
        askedTable('times', 'times', '/v1/rework/times', { by, ...scope }),
        askedTable('cures', 'cures', '/v1/rework/cures', { of, ...scope }),
        askedTable('refails', 'refails', '/v1/rework/refails', scope),
        askedTable('no-fault', 'no-fault', '/v1/rework/no-fault-found', scope),
      ],
    },
  };
}
