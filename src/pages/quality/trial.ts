import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { address } from '../../yield/rework-links.js';
import { caution } from '../parts.js';
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
import { type QualityQuery, scopeOf } from './query.js';

/** Specifications offered, the newest ones. */
const OFFERED = 1000;

/** What a draft's limits would have said of past runs. */
export function trialView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { trial: words } = viewing.words.quality;
  const scope = scopeOf(query, viewing);
  const offered = offeredOf(plant, scope.model);
  const { specification = offered[0]?.id, runs = 'all', unmeasured = 'apart' } = query;
  const { cell, fromDay, untilDay } = scope;
  const options = offered.map(({ id, model, revision, state, note }): [string, string] => [
    String(id),
    words.named(model, revision, state, note),
  ]);
  const asked = {
    id: 'trial',
    show: 'trial',
    address: address(`/v1/specifications/${specification}/trial`, {
      fromDay,
      untilDay,
      cell,
      runs,
      unmeasured,
    }),
  };
  return {
    title: words.title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'trial', scope)}
${caution(words.cautionTitle, words.caution)}
${filterForm(viewing, 'trial', scope, [
  modelField(plant, viewing, scope.model),
  selectField('specification', words.specification, options, String(specification)),
  cellField(plant, viewing, cell),
  windowFields(viewing, scope),
  selectField('runs', words.runs, labelled(words.whichRuns), runs),
  selectField('unmeasured', words.unmeasured, labelled(words.whatUnmeasured), unmeasured),
])}
${
  specification === undefined
    ? html`<p class="panel">${words.none}</p>`
    : questionPanel(viewing, {
        id: 'trial',
        title: words.result,
        lead: words.lead,
        charts: [words.yieldChart],
      })
}`,
    data: { asked: specification === undefined ? [] : [asked] },
  };
}

/** Drafts first, since they are what a trial is for; then approved ones, the newest first. */
function offeredOf(plant: Plant, model: string | null) {
  const all = plant.specifications.list({ model, state: null }, 0, OFFERED).reverse();
  return [
    ...all.filter((one) => one.state === 'draft'),
    ...all.filter((one) => one.state !== 'draft'),
  ];
}
