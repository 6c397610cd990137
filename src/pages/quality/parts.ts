import { type Content, html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { plantDay } from '../../time.js';
import { firstPassYield } from '../../yield/questions.js';
import { addDays } from '../../yield/rules.js';
import { icon } from '../icons.js';
import { chartPlace, fieldOf, optionsOf } from '../parts.js';
import type { Viewing } from '../screen.js';
import { pageAddress, pathOf, type Scope, type ViewName, views } from './query.js';

/** Models offered in a filter. */
const MODELS_OFFERED = 500;
const PRESETS = [7, 28, 91, 365];

/** The navigation of the screen's own pages; the filter goes along. */
export function pagesNavigation(
  { words }: Viewing,
  current: ViewName | null,
  scope: Scope,
): Markup {
  const items = views.map((view) => {
    const here = view === current ? html` aria-current="page"` : null;
    return html`<li><a href="${pageAddress(view, scope)}"${here}>${words.quality.pages[view]}</a></li>`;
  });
  return html`<nav class="pages" aria-label="${words.quality.pagesLabel}"><ul>${items}</ul></nav>`;
}

/**
 * A form whose answer is a page with an address that can be kept.
 * @param hasWindow whether usual windows are offered beside it
 */
export function filterForm(
  viewing: Viewing,
  view: ViewName,
  scope: Scope,
  fields: Content,
  hasWindow = true,
): Markup {
  const words = viewing.words.quality;
  return html`<form class="filters panel" method="get" action="${pathOf(view)}" aria-label="${words.filter}">
<div class="fields">${fields}</div>
<div class="actions"><button class="main">${words.show}</button>${hasWindow ? presets(viewing, view, scope) : null}</div>
</form>`;
}

function presets(viewing: Viewing, view: ViewName, scope: Scope): Markup {
  const words = viewing.words.quality;
  const today = plantDay(viewing.now, viewing.settings.timeZone);
  const links = PRESETS.map((days) => {
    const window = { fromDay: addDays(today, 1 - days), untilDay: today };
    return html`<a href="${pageAddress(view, { ...scope, ...window })}">${words.lastDays(days)}</a> `;
  });
  const all = pageAddress(view, { ...scope, fromDay: null, untilDay: null });
  return html`<p class="presets">${words.presets} ${links}<a href="${all}">${words.allDays}</a></p>`;
}

export function modelField(
  plant: Plant,
  viewing: Viewing,
  chosen: string | null,
  all = true,
): Markup {
  const words = viewing.words.quality;
  const models = plant.catalogue
    .models(0, MODELS_OFFERED)
    .map(({ code, name }): [string, string] => [code, `${code}, ${name}`]);
  return selectField(
    'model',
    words.model,
    all ? [['', words.allModels], ...models] : models,
    chosen,
  );
}

/** Cells that ever ran a test, from the roll-up by months: a few rows for each cell. */
export function cellField(plant: Plant, viewing: Viewing, chosen: string | null): Markup {
  const words = viewing.words.quality;
  const cells = firstPassYield(plant, { by: 'cell' }).map((one) => one.slice);
  if (chosen !== null && !cells.includes(chosen)) cells.push(chosen);
  const options = cells.map((cell): [string, string] => [cell, cell]);
  return selectField('cell', words.cell, [['', words.allCells], ...options], chosen);
}

export function windowFields(viewing: Viewing, { fromDay, untilDay }: Scope): Markup {
  const words = viewing.words.quality;
  return html`${fieldOf('fromDay', words.fromDay, html`<input id="fromDay" name="fromDay" type="date" value="${fromDay}">`)}${fieldOf('untilDay', words.untilDay, html`<input id="untilDay" name="untilDay" type="date" value="${untilDay}">`)}`;
}

export function selectField(
  name: string,
  label: string,
  options: readonly (readonly [value: string, label: string])[],
  chosen: string | null | undefined,
): Markup {
  return fieldOf(
    name,
    label,
    html`<select id="${name}" name="${name}">${optionsOf(options, chosen ?? undefined)}</select>`,
  );
}

/** Options of a choice whose labels stand in the words under the same keys. */
export function labelled<K extends string>(labels: Readonly<Record<K, string>>): [K, string][] {
  return Object.entries(labels) as [K, string][];
}

interface QuestionPanel {
  id: string;
  title: string;
  /** What the figures are, in words. */
  lead?: Content;
  /** Titles of the charts that it draws; a panel without any shows its table at once. */
  charts?: readonly string[];
}

/** A place for an answer that the script asks for after the first paint: see scripts/quality/panel.ts. */
export function questionPanel({ words }: Viewing, panel: QuestionPanel): Markup {
  const { id, title, lead, charts = [] } = panel;
  const own = words.quality;
  const places = charts.map((name, i) =>
    i === charts.length - 1
      ? chartPlace(
          `${id}-chart-${i}`,
          name,
          words.chart.asTable,
          html`<div class="as-table"></div>`,
        )
      : html`<figure class="chart" id="${id}-chart-${i}"><figcaption>${name}</figcaption><div class="drawing"></div></figure>`,
  );
  return html`<section class="panel asked" id="${id}" aria-labelledby="${id}-title">
<h2 id="${id}-title">${title}</h2>
${lead === undefined ? null : html`<p class="soft">${lead}</p>`}
<div class="state" role="status"><p class="soft">${icon('waiting')} ${own.asking}</p><noscript><p>${own.needsScript}</p></noscript></div>
<div class="shown" hidden><div class="said"></div>${charts.length > 0 ? places : html`<div class="as-table"></div>`}</div>
<p class="sources"></p>
</section>
`;
}
