import type { SignalRow } from '../../charts/records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { icon } from '../icons.js';
import { serialLink, tableOf, timeOf } from '../parts.js';
import type { Viewing } from '../screen.js';
import { COUNTED_AT_MOST, type LiveFigures } from './figures.js';

type Shown = Pick<Viewing, 'words' | 'format'>;

/** The regions of the screen by their ids: what the page holds and the stream sends anew. */
export function boardOf(figures: LiveFigures, shown: Shown): Readonly<Record<string, Markup>> {
  return {
    'live-day': dayRegion(figures, shown),
    'live-today': todayRegion(figures, shown),
    'live-waiting': waitingRegion(figures, shown),
    'live-holds': holdsRegion(figures, shown),
    'live-signals': signalsRegion(figures, shown),
    'live-places': placesRegion(figures, shown),
  };
}

/** The figures in a sentence, for readers by ear. */
export function announcementOf({ sets, tests, signals }: LiveFigures, { words }: Shown): string {
  return words.live.announced(sets.set, tests?.completedRuns ?? 0, signals.open);
}

/** The page of a list of the interface. */
function behind(link: string): string {
  return `/quality/behind?of=${encodeURIComponent(link)}`;
}

function region(id: string, title: string, content: Content): Markup {
  return html`<section class="panel" id="${id}" aria-labelledby="${id}-title"><h2 id="${id}-title">${title}</h2>${content}</section>`;
}

function dayRegion({ day, shift }: LiveFigures, { words, format }: Shown): Markup {
  return html`<p id="live-day">${words.live.lead(format.calendarDay(day), shift)}</p>`;
}

/** A figure to be read from afar, and what it leads to. */
function tile(label: string, value: Content, href: string | null, note: Content = null): Markup {
  const figure =
    href === null
      ? html`<span class="figure">${value}</span>`
      : html`<a class="figure" href="${href}">${value}</a>`;
  return html`<div class="tile"><dt>${label}</dt><dd>${figure}${note === null ? null : html` <span class="soft">${note}</span>`}</dd></div>`;
}

function todayRegion({ sets, tests, links }: LiveFigures, { words, format }: Shown): Markup {
  const own = words.live;
  const count = (value: number) => format.number(value);
  const {
    completedRuns = 0,
    passedRuns = 0,
    firstRuns = 0,
    firstPasses = 0,
    abortedRuns = 0,
  } = tests ?? {};
  const share = tests?.firstPassYield ?? null;
  return region(
    'live-today',
    own.today,
    html`<dl class="tiles">${tile(own.sets, count(sets.set), behind(links.sets))}${tile(own.tests, count(completedRuns), behind(links.completed))}${tile(own.firstTests, count(firstRuns), behind(links.firstTests))}${tile(own.firstPassYield, share === null ? own.noTests : format.percent(share), share === null ? null : behind(links.firstTests), share === null ? null : own.passedOf(firstPasses, firstRuns))}${tile(own.failedTests, count(completedRuns - passedRuns), behind(links.failed))}${tile(own.abortedTests, count(abortedRuns), behind(links.aborted))}${tile(own.refusedSets, count(sets.refused), behind(links.refused))}</dl>`,
  );
}

function waitingRegion({ waiting }: LiveFigures, { words, format }: Shown): Markup {
  const own = words.live;
  const tiles = waiting.map(({ state, motors }) =>
    tile(own.states[state], counted(motors, { words, format }), `/live/${state}`),
  );
  return region('live-waiting', own.waiting, html`<dl class="tiles">${tiles}</dl>`);
}

function counted(count: number, { words, format }: Shown): string {
  const shown = format.number(count);
  return count >= COUNTED_AT_MOST ? words.live.atLeast(shown) : shown;
}

function holdsRegion({ holds }: LiveFigures, shown: Shown): Markup {
  const { words, format } = shown;
  const own = words.live;
  const table = tableOf(
    own.lastHolds,
    [
      { title: own.unit, cell: (one) => serialLink(one.serial, one.class) },
      { title: own.reason, cell: (one) => one.reason },
      { title: own.placed, cell: (one) => timeOf(format, one.placedAtMs) },
    ],
    holds.last,
    own.noHolds,
  );
  const all =
    holds.open === 0
      ? null
      : html`<p><a href="${behind('/v1/holds?open=true')}">${own.allHolds}</a></p>`;
  return region(
    'live-holds',
    own.holds,
    html`<p class="figure">${counted(holds.open, shown)}</p>${table}${all}`,
  );
}

function signalsRegion({ signals }: LiveFigures, shown: Shown): Markup {
  const { words, format } = shown;
  const own = words.live;
  const { columns, charts } = words.quality;
  const table = tableOf(
    own.signals,
    [
      { title: charts.when, cell: (one) => timeOf(format, one.atMs) },
      {
        title: charts.chart,
        cell: (one) =>
          html`<a href="/quality/charts/${one.chart}">${charts.named(charts.kinds[one.kind], one.characteristic, one.model, null)}</a>`,
      },
      { title: charts.rule, cell: (one) => seen(one, shown) },
      { title: columns.cell, cell: (one) => one.cell },
      {
        title: columns.state,
        cell: (one) =>
          one.acknowledgedAtMs === null
            ? html`<strong>${icon('caution')} ${charts.open}</strong>`
            : one.reason,
      },
    ],
    signals.last,
    own.noSignals,
  );
  return region(
    'live-signals',
    own.signals,
    html`<p class="figure">${own.openSignals(counted(signals.open, shown))}</p>${table}<p><a href="/quality/charts">${own.allSignals}</a></p>`,
  );
}

function seen({ figure, rule, direction }: SignalRow, { words }: Shown): string {
  const { charts } = words.quality;
  return charts.signalled(
    charts.figures[figure],
    charts.rules[rule],
    direction === null ? null : charts.directions[direction],
  );
}

/** Where it happened: set stations and test cells of the day. */
function placesRegion({ stations, cells }: LiveFigures, { words, format }: Shown): Markup {
  const own = words.live;
  const count = (value: number) => format.number(value);
  const sets = tableOf(
    own.bySet,
    [
      { title: own.station, cell: (one) => html`<a href="${behind(one.link)}">${one.station}</a>` },
      { title: own.sets, isNumber: true, cell: (one) => count(one.set) },
      { title: own.refusedSets, isNumber: true, cell: (one) => count(one.refused) },
    ],
    stations,
    own.none,
  );
  const tests = tableOf(
    own.byCell,
    [
      { title: own.cell, cell: (one) => html`<a href="${behind(one.link)}">${one.slice}</a>` },
      {
        title: own.tests,
        isNumber: true,
        cell: (one) => html`<a href="${behind(one.runsLink)}">${count(one.completedRuns)}</a>`,
      },
      { title: own.passed, isNumber: true, cell: (one) => count(one.passedRuns) },
      {
        title: own.firstPassYield,
        isNumber: true,
        cell: (one) => (one.firstPassYield === null ? null : format.percent(one.firstPassYield)),
      },
    ],
    cells,
    own.none,
  );
  return html`<div class="columns" id="live-places"><section class="panel" aria-labelledby="live-sets-title"><h2 id="live-sets-title">${own.bySet}</h2>${sets}</section><section class="panel" aria-labelledby="live-cells-title"><h2 id="live-cells-title">${own.byCell}</h2>${tests}</section></div>`;
}
