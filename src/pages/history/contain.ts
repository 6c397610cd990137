import { html, type Markup } from '../../http/html.js';
import { fieldOf, optionsOf } from '../parts.js';
import type { Found, History } from './common.js';

/** What the script makes conditions of: a question of src/tracing for each choice. */
function choicesOf(whole: History) {
  const { unit, tree, runs } = whole;
  const lots = tree.flatMap((node) => node.lots.map((lot) => ({ ...lot, class: node.class })));
  const once = new Map(lots.map((one) => [`${one.part} ${one.partRevision} ${one.lot}`, one]));
  return { unit, lots: [...once.values()], runs: runs.toReversed() };
}

/** Opens a containment for this serial, a lot in it, or its cell around one of its runs. */
export function containForm({ viewing, classTitle }: Found, whole: History): Markup {
  const { words: all, format } = viewing;
  const words = all.history;
  const { unit, lots, runs } = choicesOf(whole);
  const data = {
    unit: { class: unit.class, serial: unit.serial },
    lots: lots.map(({ part, partRevision, lot }) => ({ part, revision: partRevision, lot })),
    runs: runs.map(({ cell, startedAt, endedAt }) => ({
      cell,
      startedAt,
      endedAt: endedAt ?? startedAt,
    })),
  };
  const lotOptions = lots.map((one, i): [string, string] => [
    String(i),
    words.lotIn(
      one.lot,
      words.partOf(one.part, one.partRevision),
      classTitle(one.class).toLowerCase(),
    ),
  ]);
  const runOptions = runs.map((run, i): [string, string] => [
    String(i),
    words.runIn(run.id, run.cell, format.dateTime(Date.parse(run.startedAt))),
  ]);
  const hours = ['1', '8', '24', '72', '168'].map((one): [string, string] => [one, one]);
  return html`<details class="panel" id="contain"><summary>${words.contain}</summary>
<p class="soft">${words.containLead}</p>
<form id="contain-form" data-choices="${JSON.stringify(data)}" autocomplete="off">
<fieldset><legend>${words.containWhat}</legend>
${choice('serial', words.containSerial(classTitle(unit.class).toLowerCase(), unit.serial), true)}
${lots.length === 0 ? null : html`${choice('lot', words.containLot)}<div class="more fields">${fieldOf('contain-lot', words.whichLot, html`<select id="contain-lot" name="lot">${optionsOf(lotOptions)}</select>`)}</div>`}
${runs.length === 0 ? null : html`${choice('cell', words.containCell)}<div class="more fields">${fieldOf('contain-run', words.whichRun, html`<select id="contain-run" name="run">${optionsOf(runOptions)}</select>`)}${fieldOf('contain-hours', words.hours, html`<select id="contain-hours" name="hours">${optionsOf(hours, '24')}</select>`)}</div>`}
</fieldset>
${fieldOf('contain-title', words.containTitle, html`<input id="contain-title" name="title" required maxlength="200" aria-describedby="contain-title-hint">`, { id: 'contain-title-hint', text: words.containTitleHint })}
<div class="actions"><button type="button" id="contain-count">${words.count}</button><button class="main">${words.open}</button></div>
</form></details>`;
}

function choice(value: string, label: string, isChosen = false): Markup {
  return html`<label class="choice"><input type="radio" name="what" value="${value}"${isChosen ? html` checked` : null}> ${label}</label>`;
}
