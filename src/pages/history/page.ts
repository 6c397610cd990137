import { z } from 'zod';
import { historyOf } from '../../genealogy/history.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { code, instant, SCAN_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { Problem } from '../../problems.js';
import { answerOf, answerPlace } from '../parts.js';
import { screen, type View, type Viewing } from '../screen.js';
import { holds, release, repairs, timeline } from './aftermath.js';
import { asOfPanel, asOfTitle } from './as-of.js';
import { classTitles, type Found, historyAddress } from './common.js';
import { containForm } from './contain.js';
import { identity, sets, tree } from './record.js';
import { runs } from './runs.js';

const query = z.strictObject({
  serial: z.string().max(SCAN_LIMIT).optional(),
  class: code.optional(),
  asOf: instant.optional(),
});
type Query = z.output<typeof query>;

export const history = screen({
  name: 'history',
  path: '/history',
  roles: 'any',
  startFor: ['read'],
  query,
  show: (plant, { query }, viewing) => {
    const words = viewing.words.history;
    const serial = query.serial?.trim() ?? '';
    if (serial === '') {
      return {
        title: words.title,
        main: html`${answerPlace(words.answers)}${searchForm(viewing, '')}<p class="lead">${words.lead}</p>`,
      };
    }
    try {
      return recordView(plant, { ...query, serial }, viewing);
    } catch (error) {
      if (error instanceof Problem) return withoutRecord(plant, serial, error, viewing);
      throw error;
    }
  },
});

function searchForm({ words: { history: words } }: Viewing, serial: string): Markup {
  return html`<form id="search-form" class="search panel" method="get" action="/history" role="search">
<label for="serial">${words.searchLabel}</label>
<div class="search-line"><input id="serial" name="serial" value="${serial}" autofocus autocomplete="off" autocapitalize="none" spellcheck="false" enterkeyhint="search" maxlength="${SCAN_LIMIT}" aria-describedby="serial-hint"><button class="main">${words.find}</button></div>
<p class="hint" id="serial-hint">${words.searchHint}</p>
</form>`;
}

/** Several units to choose from, or why nothing was found, with the search at hand. */
function withoutRecord(plant: Plant, serial: string, problem: Problem, viewing: Viewing): View {
  const words = viewing.words.history;
  const document = problem.document();
  const body =
    problem.slug === 'serial-ambiguous'
      ? choiceOf(plant, serial, (document as { classes?: string[] }).classes ?? [], viewing)
      : refusalOf(String(document.title), problem.message);
  return {
    title: words.title,
    main: html`${answerPlace(words.answers)}${searchForm(viewing, serial)}${body}`,
  };
}

function refusalOf(title: string, detail: Content): Markup {
  return answerOf('refused', title, { body: html`<p>${detail}</p>` });
}

function choiceOf(
  plant: Plant,
  serial: string,
  classes: readonly string[],
  { words: { history: words } }: Viewing,
): Markup {
  const titleOf = classTitles(plant);
  const links = classes.map(
    (unitClass) =>
      html`<li><a class="action main" href="${historyAddress({ class: unitClass, serial })}">${words.titleOf(titleOf(unitClass), serial)}</a></li>`,
  );
  return html`<section class="panel" id="choice" aria-labelledby="choice-title"><h2 id="choice-title">${words.several(serial)}</h2><ul class="choices">${links}</ul></section>`;
}

function recordView(plant: Plant, asked: Query & { serial: string }, viewing: Viewing): View {
  const { words, now } = viewing;
  const whole = historyOf(plant, { serial: asked.serial, class: asked.class }, now);
  const { class: unitClass, serial } = whole.unit;
  const then = (asOf: number) => historyOf(plant, { serial, class: unitClass, asOf }, now);
  const found: Found = {
    plant,
    history: asked.asOf === undefined ? whole : then(asked.asOf),
    asOfMs: asked.asOf,
    viewing,
    classTitle: classTitles(plant),
  };
  const title = words.history.titleOf(found.classTitle(unitClass), serial);
  return {
    title,
    charts: true,
    main: html`${answerPlace(words.history.answers)}
<div class="ways">${searchForm(viewing, '')}${asOfPanel(found, whole)}</div>
${recordOf(found)}
${mayContain(viewing) ? containForm(found, whole) : null}`,
  };
}

/** All that depends on the moment that is looked at: the script puts a fresh one in its place. */
function recordOf(found: Found): Markup {
  const parts = [identity, tree, sets, runs, holds, repairs, release, timeline];
  return html`<div id="record" aria-busy="false">${asOfTitle(found)}${parts.map((part) => part(found))}</div>`;
}

function mayContain({ actor }: Viewing): boolean {
  return actor.roles.includes('quality');
}
