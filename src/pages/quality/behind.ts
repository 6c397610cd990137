import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { Problem } from '../../problems.js';
import { serialLink, tableOf, timeOf } from '../parts.js';
import type { View, Viewing } from '../screen.js';
import { pagesNavigation, questionPanel } from './parts.js';
import { type QualityQuery, runsAddress, scopeOf } from './query.js';

/** Runs that are listed on a page. */
const RUNS_A_PAGE = 100;

/** The table that a figure's link leads to: motors, runs or readings, each with its history. */
export function behindView(_plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { behind: words } = viewing.words.quality;
  if (query.of === undefined) throw new Problem('route-unknown', words.nothingAsked);
  const asked = { id: 'behind', show: 'behind', address: query.of, csv: query.of };
  return {
    title: words.title,
    wide: true,
    main: html`${pagesNavigation(viewing, null, scopeOf(query, viewing))}
${questionPanel(viewing, { id: 'behind', title: words.listed, lead: words.lead })}`,
    data: { asked: [asked] },
  };
}

/** Runs by their numbers, with their motors. */
export function runsView(plant: Plant, query: QualityQuery, viewing: Viewing): View {
  const { words, format } = viewing;
  const { behind: own, columns } = words.quality;
  const asked = [
    ...new Set(
      (query.run ?? '')
        .split(',')
        .filter((one) => one !== '')
        .map(Number),
    ),
  ];
  const from = Math.min(Number(query.behind ?? 0), asked.length);
  const until = Math.min(from + RUNS_A_PAGE, asked.length);
  const runs = asked.slice(from, until).flatMap((id) => plant.testing.run(id) ?? []);
  const isCut = asked.length > RUNS_A_PAGE;
  const title = own.runs(isCut ? asked.length : runs.length);
  const table = tableOf(
    title,
    [
      { title: columns.run, cell: (run) => run.id },
      { title: columns.motor, cell: (run) => serialLink(run.motor, 'motor') },
      { title: columns.model, cell: (run) => run.model },
      { title: columns.cell, cell: (run) => run.cell },
      {
        title: columns.endedAt,
        cell: (run) => (run.endedAtMs === null ? null : timeOf(format, run.endedAtMs)),
      },
      { title: columns.attempt, cell: (run) => run.attempt, isNumber: true },
      {
        title: columns.verdict,
        cell: (run) => (run.verdict === null ? null : own.verdicts[run.verdict]),
      },
    ],
    runs,
    own.noRuns,
  );
  const start = from > 0 ? html`<a href="${runsAddress(asked)}">${own.first}</a>` : null;
  const next =
    until < asked.length
      ? html`<p><a href="${runsAddress(asked, until)}" class="action" id="next-page">${own.more}</a></p>`
      : null;
  const which = isCut ? html`<p>${own.someRuns(from + 1, until)} ${start}</p>` : null;
  return {
    title: own.runsTitle,
    wide: true,
    main: html`${pagesNavigation(viewing, null, scopeOf(query, viewing))}
<section class="panel" id="runs" aria-labelledby="runs-title"><h2 id="runs-title">${title}</h2>${which}${table}${next}</section>`,
  };
}
