import { z } from 'zod';
import { html, type Markup } from '../../http/html.js';
import { stationName } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { type CellNotice, cellNotices } from '../../reference/notices.js';
import { answerPlace, caution, fieldOf } from '../parts.js';
import { scanForm } from '../parts-scan.js';
import { screen, type Viewing } from '../screen.js';
import { lastRunPanel } from './last-run.js';
import { openRunPanels } from './open-run.js';

export const testCell = screen({
  name: 'test-cell',
  path: '/test-cell',
  roles: ['cell'],
  startFor: ['cell'],
  query: z.strictObject({ cell: stationName.optional() }),
  show: (plant, { query: { cell } }, viewing) => {
    const words = viewing.words.testCell;
    const open = cell !== undefined && plant.testing.openInCell(cell) !== undefined;
    return {
      title: words.title,
      wide: true,
      main: html`${answerPlace(words.answers)}
<div class="standing-caution">${caution(words.caution, words.cautionText)}</div>
${scanForm({ id: 'scan', label: words.scanLabel, hint: words.scanHint, button: words.begin, hidden: open })}
<div id="cell-region">${cell === undefined ? null : cellContent(plant, cell, viewing)}</div>
${placePanel(viewing)}`,
    };
  },
});

/** What is amiss with a cell, and the run that is open in it, else the one that ended last. */
function cellContent(plant: Plant, cell: string, viewing: Viewing): Markup {
  const run = plant.testing.openInCell(cell);
  return html`${noticesOf(cellNotices(plant, cell, viewing.now), viewing)}
${run ? openRunPanels(plant, run, viewing) : lastRunPanel(plant, cell, viewing)}`;
}

function noticesOf(notices: readonly CellNotice[], { words }: Viewing): Markup {
  return html`<div id="notices" data-live>${notices.map(({ kind, detail }) => caution(words.testCell.notices[kind], detail))}</div>`;
}

/** Which cell this browser stands at: chosen once, kept by the script. */
function placePanel({ words: { testCell: words } }: Viewing): Markup {
  const control = html`<input id="cell" name="cell" required maxlength="40" pattern="[A-Za-z0-9]([A-Za-z0-9._\\/\\-]*[A-Za-z0-9])?" autocomplete="off" autocapitalize="characters" spellcheck="false" aria-describedby="cell-hint">`;
  return html`<details class="panel" id="place"><summary>${words.place}</summary>
<form id="place-form" class="fields">
${fieldOf('cell', words.cell, control, { id: 'cell-hint', text: words.cellHint })}
<label class="choice"><input type="checkbox" id="sound" name="sound"> ${words.sound}</label>
<button class="main">${words.keep}</button>
</form></details>`;
}
