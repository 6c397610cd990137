import type { RepairCode } from '../../catalogue/records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { existingRepair } from '../../repair/actions.js';
import type { RepairRow } from '../../repair/records.js';
import { repairParams } from '../../repair/schema.js';
import type { MotorState } from '../../units/records.js';
import {
  answerOf,
  answerPlace,
  caution,
  factsOf,
  fieldOf,
  optionsOf,
  serialLink,
  timeOf,
} from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { exchangePanel, exchangesPanel } from './exchange.js';
import { whatFailed } from './what-failed.js';

export const repairPage = screen({
  name: 'repair-bench',
  path: '/repair-bench/{repair}',
  roles: ['repair', 'quality'],
  startFor: [],
  params: repairParams,
  show: (plant, { params }, viewing) => {
    const words = viewing.words.repairBench;
    const repair = existingRepair(plant, params.repair);
    const { panel, charts } = whatFailed(plant, repair, viewing);
    const classes = plant.catalogue.classes().map(({ code, name }) => [code, name]);
    return {
      title: words.repairOf(repair.id, repair.motor),
      charts: charts.length > 0,
      data: {
        repair: repair.id,
        motor: repair.motor,
        classes: Object.fromEntries(classes),
        charts,
      },
      main: html`${answerPlace(words.answers)}
${holdsOf(plant, repair, viewing)}
<div class="standing-caution" id="bench-caution">${repair.closedAtMs === null ? caution(words.caution, words.cautionText) : null}</div>
${headPanel(plant, repair, viewing)}
${panel}
<div id="work">${repair.closedAtMs === null ? openWork(plant, repair, viewing) : ended(plant, repair, viewing)}</div>
<p><a class="action" href="/repair-bench">${words.toBench}</a></p>`,
    };
  },
});

function holdsOf(plant: Plant, { motorId }: RepairRow, { words }: Viewing): Markup[] {
  const own = words.repairBench;
  return plant.units.openHoldsOf([motorId]).map(({ cause, reason }) =>
    answerOf('waiting', own.holdNotice, {
      body: html`<p>${own.holdDetail(cause, reason)}</p>`,
    }),
  );
}

function headPanel(plant: Plant, repair: RepairRow, viewing: Viewing): Markup {
  const { format, now } = viewing;
  const words = viewing.words.repairBench;
  const run = repair.runId === null ? undefined : plant.testing.run(repair.runId);
  const facts: [string, Content][] = [
    [words.motor, serialLink(repair.motor, 'motor')],
    [words.model, repair.model],
    [words.since, timeOf(format, repair.openedAtMs)],
  ];
  if (repair.closedAtMs === null) {
    facts.push([words.waits, format.duration(now - repair.openedAtMs)]);
  }
  if (run) facts.push([words.cell, run.cell], [words.attempt, run.attempt], [words.run, run.id]);
  return html`<div class="panel" id="head">${factsOf(facts)}</div>`;
}

/** What is done at the bench, as far as the key may do it. */
function openWork(plant: Plant, repair: RepairRow, viewing: Viewing): Markup {
  const { words, actor } = viewing;
  const own = words.repairBench;
  const mayRepair = actor.roles.includes('repair');
  return html`${mayRepair ? exchangePanel(plant, repair, viewing) : html`<div class="panel"><p>${own.forRepair}</p></div>`}
${exchangesPanel(plant, repair, viewing)}
<div class="columns">${mayRepair ? closePanel(plant, viewing) : null}${retestPanel(plant, repair, viewing)}</div>`;
}

function closePanel(plant: Plant, { words }: Viewing): Markup {
  const own = words.repairBench;
  const codes = plant.catalogue.repairCodes();
  const choice = (kind: RepairCode['kind']) => {
    const options = codes
      .filter((one) => one.kind === kind)
      .map(({ code, name }): [string, string] => [code, name])
      .sort(([, a], [, b]) => a.localeCompare(b));
    const control = html`<select id="${kind}" name="${kind}" required>${optionsOf([['', own.choose], ...options])}</select>`;
    return fieldOf(kind, own[kind], control);
  };
  const note = html`<textarea id="note" name="note" rows="3" maxlength="2000" aria-describedby="note-hint"></textarea>`;
  return html`<section class="panel" aria-labelledby="close-title"><h2 id="close-title">${own.close}</h2><form id="close-form" class="fields narrow">${choice('symptom')}${choice('cause')}${choice('action')}${fieldOf('note', own.note, note, { id: 'note-hint', text: own.noteHint })}<button class="main">${own.closeDo}</button></form></section>`;
}

/** A test without a repair: for quality, while nothing was exchanged. */
function retestPanel(plant: Plant, { id }: RepairRow, { words, actor }: Viewing): Markup {
  const own = words.repairBench;
  const isTouched = plant.repair.exchanges(id).length > 0;
  const mayAllow = actor.roles.includes('quality');
  const control = html`<input id="retest-reason" name="reason" required maxlength="500" autocomplete="off">`;
  const form = html`<p>${own.retestHow}</p><form id="retest-form" class="fields narrow">${fieldOf('retest-reason', own.retestReason, control)}<button class="main">${own.retestDo}</button></form>`;
  const sentence = html`<p>${isTouched ? own.retestTouched : own.retestForQuality}</p>`;
  return html`<section class="panel" id="retest" aria-labelledby="retest-title"><h2 id="retest-title">${own.retest}</h2>${mayAllow && !isTouched ? form : sentence}</section>`;
}

/** How a repair ended, and where its motor goes now. */
function ended(plant: Plant, repair: RepairRow, viewing: Viewing): Markup {
  const { words, format } = viewing;
  const own = words.repairBench;
  const { outcome, closedAtMs, closedBy } = repair;
  if (outcome === null || closedAtMs === null) throw new Error(`repair ${repair.id} is open`);
  const at = html`${timeOf(format, closedAtMs)} <span class="soft">${own.by(closedBy ?? '')}</span>`;
  const facts: [string, Content][] = [[own.closedAt, at]];
  for (const kind of ['symptom', 'cause', 'action'] as const) {
    const code = repair[kind];
    if (code !== null)
      facts.push([own[kind], plant.catalogue.repairCode(kind, code)?.name ?? code]);
  }
  if (repair.note !== null) facts.push([own.note, repair.note]);
  return html`<section class="panel" aria-labelledby="outcome-title"><h2 id="outcome-title">${own.outcome}: ${own.outcomes[outcome]}</h2>${factsOf(facts)}<h3>${own.nextStep}</h3><p>${nextOf(plant, repair, viewing)}</p></section>
${exchangesPanel(plant, repair, viewing)}`;
}

function nextOf(plant: Plant, { motorId }: RepairRow, { words }: Viewing): string | undefined {
  const state = plant.units.byId(motorId)?.state;
  return words.repairBench.next[state as MotorState];
}
