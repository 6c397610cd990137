import { existingChart } from '../../charts/actions.js';
import type { BaselineRow, ChartRow, SignalRow } from '../../charts/records.js';
import { presentChartDetail } from '../../charts/schema.js';
import { type Content, html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { address } from '../../yield/rework-links.js';
import { answerPlace, factsOf, fieldOf, optionsOf, timeOf } from '../parts.js';
import type { View, Viewing } from '../screen.js';
import { nameOfChart, signalTable } from './charts.js';
import { pagesNavigation, questionPanel } from './parts.js';
import type { Scope } from './query.js';

const SIGNALS_SHOWN = 1000;
const POINTS_USUAL = 100;
const POINTS_OFFERED = [50, 100, 250, 1000];

export interface ChartQuery {
  baseline?: number | undefined;
  last?: number | undefined;
}

/** One control chart: its points with limits, its signals, and what quality does with them. */
export function chartView(plant: Plant, id: number, query: ChartQuery, viewing: Viewing): View {
  const { charts: words } = viewing.words.quality;
  const chart = existingChart(plant, id);
  const baselines = plant.charts.baselines(id);
  const { last = POINTS_USUAL, baseline = chart.baseline } = query;
  const signals = plant.charts.signals(
    { chart: id, model: null, cell: null, acknowledged: null },
    0,
    SIGNALS_SHOWN,
  );
  const path = `/v1/charts/${id}/points`;
  const asked = {
    id: 'points',
    show: 'control-chart',
    address: address(path, { baseline, last, limit: 1000 }),
    csv: address(path, { baseline, limit: 1000 }),
    none: words.noPoints,
    kind: chart.kind,
    unit: chart.unit,
  };
  const scope: Scope = { model: chart.model, cell: chart.cell, fromDay: null, untilDay: null };
  const canAct = viewing.actor.roles.includes('quality');
  const title = nameOfChart(viewing, chart);
  return {
    title,
    wide: true,
    charts: true,
    main: html`${pagesNavigation(viewing, 'charts', scope)}
${answerPlace(words.answers)}
${facts(viewing, chart, baselines)}
${pointChoice(viewing, chart, baselines, { baseline, last })}
${questionPanel(viewing, { id: 'points', title: words.pointsOf(baseline), lead: words.pointsLead, charts: words.drawn[chart.kind] })}
<section class="panel" id="signals" aria-labelledby="signals-title"><h2 id="signals-title">${words.signals}</h2>${signalTable(viewing, words.signals, [...signals].reverse(), words.noSignals)}
${canAct ? acknowledging(viewing, signals) : null}</section>
${canAct && chart.retiredAtMs === null ? changing(viewing) : null}`,
    data: { asked: [asked], chart: id },
  };
}

function facts(viewing: Viewing, chart: ChartRow, baselines: readonly BaselineRow[]): Markup {
  const { words, format } = viewing;
  const own = words.quality.charts;
  const { runsTaken, runsWaiting, ...detail } = presentChartDetail(chart, baselines);
  const frozen = detail.baselines.find((one) => one.inForce);
  const figure = (value: number | null | undefined): Content =>
    value == null ? own.noFigure : format.number(Number(value.toPrecision(6)));
  const signalling =
    frozen && frozen.signalling > 0
      ? html`<p><strong>${own.signalling(frozen.signalling)}</strong></p>`
      : null;
  const retired =
    chart.retiredAtMs === null
      ? null
      : html`<p><strong>${own.retired(chart.retiredBy ?? '', chart.retireReason ?? '')}</strong> ${timeOf(format, chart.retiredAtMs)}</p>`;
  return html`<section class="panel" id="facts" aria-labelledby="facts-title"><h2 id="facts-title">${own.definition}</h2>${retired}${factsOf(
    [
      [own.openSignals, chart.openSignals],
      [own.whichRuns, words.quality.capability.whichRuns[chart.runs]],
      [
        own.frozen,
        frozen
          ? html`${own.frozenFrom(frozen.points, frozen.runs)}, ${timeOf(format, chart.frozenAtMs)}`
          : own.noFigure,
      ],
      [own.centre, figure(frozen?.centre)],
      [own.lower, figure(frozen?.lower)],
      [own.upper, figure(frozen?.upper)],
      [own.sigma, figure(frozen?.sigma)],
      [
        own.rulesChosen,
        detail.rules.length === 0
          ? own.byLimits
          : detail.rules.map((one) => own.rules[one]).join(', '),
      ],
      [own.runsTaken, runsWaiting === 0 ? runsTaken : own.waiting(runsTaken, runsWaiting)],
      [own.openedBy, html`${chart.openedBy}, ${timeOf(format, chart.openedAtMs)}`],
    ],
  )}${signalling}</section>`;
}

function pointChoice(
  viewing: Viewing,
  chart: ChartRow,
  baselines: readonly BaselineRow[],
  chosen: { baseline: number; last: number },
): Markup {
  const { words, format } = viewing;
  const own = words.quality.charts;
  const counts = [...new Set([...POINTS_OFFERED, chosen.last])].sort((a, b) => a - b);
  const frozen = baselines.map(
    ({ number, frozenAtMs, reason }) =>
      [String(number), own.baselineNamed(number, format.dateTime(frozenAtMs), reason)] as const,
  );
  return html`<form class="filters panel" method="get" action="/quality/charts/${chart.id}" aria-label="${words.quality.filter}"><div class="fields">
${fieldOf(
  'last',
  own.lastPoints,
  html`<select id="last" name="last">${optionsOf(
    counts.map((one) => [String(one), own.pointsCount(one)] as const),
    String(chosen.last),
  )}</select>`,
)}
${fieldOf('baseline', own.baseline, html`<select id="baseline" name="baseline">${optionsOf(frozen, String(chosen.baseline))}</select>`)}
</div><div class="actions"><button class="main">${words.quality.show}</button></div></form>`;
}

/** The form that says what was found about a signal. */
function acknowledging(viewing: Viewing, signals: readonly SignalRow[]): Content {
  const { words, format } = viewing;
  const own = words.quality.charts;
  const open = signals.filter((one) => one.acknowledgedAtMs === null);
  if (open.length === 0) return null;
  const options = open.map(
    (one) =>
      [
        String(one.id),
        own.signalNamed(one.id, format.dateTime(one.atMs), own.rules[one.rule]),
      ] as const,
  );
  return html`<form id="acknowledge-form" class="fields" aria-label="${own.acknowledge}">
${fieldOf('signal', own.whichSignal, html`<select id="signal" name="signal">${optionsOf(options, options.at(-1)?.[0])}</select>`)}
${fieldOf('reason', own.reason, html`<textarea id="reason" name="reason" required maxlength="500" rows="2" aria-describedby="reason-hint"></textarea>`, { id: 'reason-hint', text: own.reasonHint })}
<label class="choice"><input type="checkbox" id="withEarlier" name="withEarlier"> ${own.withEarlier}</label>
<button class="main">${own.acknowledgeIt}</button></form>`;
}

/** What else quality does with a chart that is in use. */
function changing(viewing: Viewing): Markup {
  const own = viewing.words.quality.charts;
  return html`<details class="panel" id="changing"><summary>${own.change}</summary>
<form id="baseline-form" class="fields" aria-label="${own.newBaseline}">
${fieldOf('new-last', own.baselineLast, html`<input id="new-last" name="last" type="number" min="2" max="10000" value="50" required aria-describedby="new-last-hint">`, { id: 'new-last-hint', text: own.newBaselineHint })}
${fieldOf('new-reason', own.why, html`<input id="new-reason" name="reason" required maxlength="500" autocomplete="off">`)}
<button>${own.newBaseline}</button></form>
<form id="retire-form" class="fields" aria-label="${own.retireIt}">
${fieldOf('retire-reason', own.why, html`<input id="retire-reason" name="reason" required maxlength="500" autocomplete="off" aria-describedby="retire-hint">`, { id: 'retire-hint', text: own.retireHint })}
<button>${own.retireIt}</button></form></details>`;
}
