import { html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import type { RepairRow } from '../../repair/records.js';
import { judgementsOf } from '../../testing/present.js';
import { answerPlace, fieldOf, tableOf, timeOf } from '../parts.js';
import { scanForm } from '../parts-scan.js';
import { screen, type Viewing } from '../screen.js';

/** Motors shown at once; the rest waits shorter. */
const SHOWN_LIMIT = 200;

export const repairBench = screen({
  name: 'repair-bench',
  path: '/repair-bench',
  roles: ['repair', 'quality'],
  startFor: ['repair'],
  show: (plant, _, viewing) => {
    const words = viewing.words.repairBench;
    return {
      title: words.title,
      main: html`${answerPlace(words.answers)}
${scanForm({ id: 'motor', label: words.scanLabel, hint: words.scanHint, button: words.open })}
${waitingPanel(plant, viewing)}
${openPanel(viewing)}`,
    };
  },
});

/** An open repair, with what failed and where. */
interface Waiting {
  repair: RepairRow;
  failed: string;
  cell: string | null;
  attempt: number | null;
  isHeld: boolean;
}

function waitingOf(plant: Plant, repair: RepairRow): Waiting {
  const run = repair.runId === null ? undefined : plant.testing.run(repair.runId);
  const failed = run ? judgementsOf(plant, run).filter((one) => one.conforms === false) : [];
  return {
    repair,
    failed: run ? failed.map((one) => one.name).join(', ') : repair.complaint,
    cell: run?.cell ?? null,
    attempt: run?.attempt ?? null,
    isHeld: (plant.units.byId(repair.motorId)?.openHolds ?? 0) > 0,
  };
}

function waitingPanel(plant: Plant, viewing: Viewing): Markup {
  const { format, now } = viewing;
  const words = viewing.words.repairBench;
  const repairs = plant.repair.waiting(SHOWN_LIMIT);
  const table = tableOf<Waiting>(
    words.waiting,
    [
      {
        title: words.motor,
        cell: ({ repair, isHeld }) =>
          html`<a class="serial" href="/repair-bench/${repair.id}">${repair.motor}</a>${isHeld ? html` <strong>${words.onHold}</strong>` : null}`,
      },
      { title: words.waits, cell: ({ repair }) => format.duration(now - repair.openedAtMs) },
      { title: words.whatFailed, cell: ({ failed }) => failed },
      { title: words.cell, cell: ({ cell }) => html`<span class="whole">${cell}</span>` },
      { title: words.attempt, isNumber: true, cell: ({ attempt }) => attempt },
      { title: words.model, cell: ({ repair }) => repair.model },
      { title: words.since, cell: ({ repair }) => timeOf(format, repair.openedAtMs) },
      { title: words.repair, isNumber: true, cell: ({ repair }) => repair.id },
    ],
    repairs.map((one) => waitingOf(plant, one)),
    words.noneWaiting,
  );
  const cut = repairs.length < SHOWN_LIMIT ? null : html`<p>${words.cut(SHOWN_LIMIT)}</p>`;
  return html`<section class="panel" id="waiting" aria-labelledby="waiting-title"><h2 id="waiting-title">${words.waiting}</h2>${table}${cut}</section>`;
}

/** For what was found outside of a test run. */
function openPanel({ words: { repairBench: words } }: Viewing): Markup {
  const motor = html`<input id="open-motor" name="motor" required maxlength="500" autocomplete="off" autocapitalize="none" spellcheck="false">`;
  const complaint = html`<input id="complaint" name="complaint" required maxlength="500" autocomplete="off" aria-describedby="complaint-hint">`;
  return html`<details class="panel" id="open"><summary>${words.openTitle}</summary>
<form id="open-form" class="fields">
${fieldOf('open-motor', words.motor, motor)}
${fieldOf('complaint', words.complaint, complaint, { id: 'complaint-hint', text: words.complaintHint })}
<button class="main">${words.openDo}</button>
</form></details>`;
}
