import { html } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { Problem } from '../../problems.js';
import { serialLink, tableOf, timeOf } from '../parts.js';
import type { View, Viewing } from '../screen.js';
import { pagesNavigation, questionPanel } from './parts.js';
import { type QualityQuery, scopeOf } from './query.js';

/** Runs of one mark that are listed. */
const RUNS_LISTED = 1000;

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
  const runs = asked.slice(0, RUNS_LISTED).flatMap((id) => plant.testing.run(id) ?? []);
  const table = tableOf(
    own.runs(runs.length),
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
  const more =
    asked.length > runs.length ? html`<p>${own.moreRuns(asked.length, runs.length)}</p>` : null;
  return {
    title: own.runsTitle,
    wide: true,
    main: html`${pagesNavigation(viewing, null, scopeOf(query, viewing))}
<section class="panel" id="runs" aria-labelledby="runs-title"><h2 id="runs-title">${own.runs(runs.length)}</h2>${more}${table}</section>`,
  };
}
