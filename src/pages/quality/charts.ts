import type { ChartRow, SignalRow } from '../../charts/records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { icon } from '../icons.js';
import { answerPlace, fieldOf, optionsOf, tableOf, timeOf } from '../parts.js';
import type { View, Viewing } from '../screen.js';
import { choiceOf } from './characteristics.js';
import {
  cellField,
  filterForm,
  labelled,
  modelField,
  pagesNavigation,
  selectField,
} from './parts.js';
import { type QualityQuery, runsAddress, type Scope, scopeOf } from './query.js';

const CHARTS_SHOWN = 500;
const SIGNALS_SHOWN = 100;

/** The control charts, their open signals, and a form that opens another. */
export function chartsView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { charts: words } = viewing.words.quality;
  const scope = scopeOf(query, viewing);
  const state = query.state ?? 'active';
  const filter = { model: scope.model, cell: scope.cell };
  const charts = plant.charts.list(
    { ...filter, retired: Number(state === 'retired') },
    0,
    CHARTS_SHOWN,
  );
  const signals = plant.charts.signals(
    { ...filter, chart: null, acknowledged: 0 },
    0,
    SIGNALS_SHOWN + 1,
  );
  return {
    title: words.title,
    wide: true,
    main: html`${pagesNavigation(viewing, 'charts', scope)}
${answerPlace(words.answers)}
${filterForm(
  viewing,
  'charts',
  scope,
  [
    modelField(plant, viewing, scope.model),
    cellField(plant, viewing, scope.cell),
    selectField('state', words.state, labelled(words.states), state),
  ],
  false,
)}
<section class="panel" id="open-signals" aria-labelledby="signals-title"><h2 id="signals-title">${words.openSignals}</h2>
${signals.length > SIGNALS_SHOWN ? html`<p>${words.moreSignals(SIGNALS_SHOWN)}</p>` : null}
${signalTable(viewing, words.openSignals, signals.slice(0, SIGNALS_SHOWN), words.noSignals)}</section>
<section class="panel" id="charts" aria-labelledby="charts-title"><h2 id="charts-title">${words.list}</h2>${chartTable(viewing, charts)}</section>
${viewing.actor.roles.includes('quality') ? opening(plant, viewing, scope) : null}`,
    data: { asked: [] },
  };
}

/** What a chart is called: its kind and what it watches. */
export function nameOfChart(
  { words }: Viewing,
  chart: Pick<ChartRow, 'kind' | 'characteristic' | 'model' | 'cell'>,
): string {
  const { charts: own } = words.quality;
  return own.named(own.kinds[chart.kind], chart.characteristic, chart.model, chart.cell);
}

function chartTable(viewing: Viewing, charts: readonly ChartRow[]): Markup {
  const { words, format } = viewing;
  const own = words.quality.charts;
  return tableOf(
    own.list,
    [
      {
        title: own.chart,
        cell: (one) => html`<a href="/quality/charts/${one.id}">${nameOfChart(viewing, one)}</a>`,
      },
      {
        title: own.openSignals,
        isNumber: true,
        cell: (one) => openCount(own.noneOpen, one.openSignals),
      },
      { title: own.points, isNumber: true, cell: (one) => one.state.points },
      { title: own.whichRuns, cell: (one) => words.quality.capability.whichRuns[one.runs] },
      { title: own.frozen, cell: (one) => timeOf(format, one.frozenAtMs) },
      { title: own.openedBy, cell: (one) => one.openedBy },
    ],
    charts,
    own.noCharts,
  );
}

function openCount(none: string, count: number): Content {
  return count === 0
    ? html`<span class="soft">${none}</span>`
    : html`<strong>${icon('caution')} ${count}</strong>`;
}

/** Signals with the motors of each and the way to its chart. */
export function signalTable(
  viewing: Viewing,
  caption: string,
  signals: readonly SignalRow[],
  none: string,
): Markup {
  const { words, format } = viewing;
  const own = words.quality.charts;
  return tableOf(
    caption,
    [
      { title: own.signal, cell: (one) => one.id },
      { title: own.when, cell: (one) => timeOf(format, one.atMs) },
      {
        title: own.chart,
        cell: (one) =>
          html`<a href="/quality/charts/${one.chart}">${nameOfChart(viewing, { ...one, cell: null })}</a>`,
      },
      {
        title: own.rule,
        cell: (one) =>
          own.signalled(
            own.figures[one.figure],
            own.rules[one.rule],
            one.direction === null ? null : own.directions[one.direction],
          ),
      },
      { title: own.value, isNumber: true, cell: (one) => format.number(one.value) },
      { title: words.quality.columns.cell, cell: (one) => one.cell },
      {
        title: own.motors,
        cell: (one) => html`<a href="${runsAddress(one.runs)}">${own.runsOf(one.runs.length)}</a>`,
      },
      { title: own.found, cell: (one) => acknowledgement(viewing, one) },
    ],
    signals,
    none,
  );
}

function acknowledgement(
  { words, format }: Viewing,
  { acknowledgedAtMs, acknowledgedBy, reason }: SignalRow,
): Content {
  const own = words.quality.charts;
  if (acknowledgedAtMs === null) return html`<strong>${icon('caution')} ${own.open}</strong>`;
  return html`${reason} <span class="soft">${acknowledgedBy}, ${timeOf(format, acknowledgedAtMs)}</span>`;
}

/** The form that opens a chart; what a kind does not take is left out by the script. */
function opening(plant: Plant, viewing: Viewing, scope: Scope): Markup {
  const { charts: words, capability } = viewing.words.quality;
  const { model, characteristics } = choiceOf(plant, scope.model);
  const options = characteristics.map(({ code, name }) => [code, name] as const);
  return html`<details class="panel" id="opening"><summary>${words.openOne}</summary>
<p class="soft">${words.openLead}</p>
<form id="open-form" class="fields">
<input type="hidden" name="model" value="${model}">
${fieldOf('open-kind', words.kind, html`<select id="open-kind" name="kind">${optionsOf(labelled(words.kinds))}</select>`)}
${fieldOf('open-characteristic', capability.characteristic, html`<select id="open-characteristic" name="characteristic" aria-describedby="open-characteristic-hint">${optionsOf(options)}</select>`, { id: 'open-characteristic-hint', text: words.modelHint(model ?? '') })}
${fieldOf('open-cell', viewing.words.quality.cell, html`<input id="open-cell" name="cell" maxlength="40" autocomplete="off" aria-describedby="open-cell-hint">`, { id: 'open-cell-hint', text: words.cellHint })}
${fieldOf('open-runs', words.whichRuns, html`<select id="open-runs" name="runs">${optionsOf(labelled(capability.whichRuns))}</select>`)}
${fieldOf('open-last', words.baselineLast, html`<input id="open-last" name="last" type="number" min="2" max="10000" value="50" required aria-describedby="open-last-hint">`, { id: 'open-last-hint', text: words.baselineHint })}
${fieldOf('open-subgroup', words.subgroupSize, html`<input id="open-subgroup" name="subgroupSize" type="number" min="2" max="25" value="5" aria-describedby="open-subgroup-hint">`, { id: 'open-subgroup-hint', text: words.subgroupHint })}
${fieldOf('open-rules', words.rulesChosen, html`<select id="open-rules" name="rules" aria-describedby="open-rules-hint">${optionsOf(labelled(words.ruleSets))}</select>`, { id: 'open-rules-hint', text: words.rulesHint })}
<button class="main">${words.openIt}</button>
</form></details>`;
}
