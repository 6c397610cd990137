import { type Content, html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { gateOf } from '../../release/actions.js';
import type { RunRow } from '../../testing/records.js';
import { repairOpenedBy } from '../../testing/standing.js';
import { icon } from '../icons.js';
import { factsOf, serialLink, timeOf } from '../parts.js';
import { readingList, readingsOfRun } from '../parts-reading.js';
import type { Viewing } from '../screen.js';

/** The run that ended last in a cell: its verdict, what failed, and what comes next. */
export function lastRunPanel(plant: Plant, cell: string, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const run = plant.testing.lastEndedIn(cell);
  const content = run ? lastRun(plant, run, viewing) : html`<p>${words.noneYet}</p>`;
  return html`<section class="panel" id="last-run" data-live aria-labelledby="last-title"><h2 id="last-title">${words.lastTitle}</h2>${content}</section>`;
}

function lastRun(plant: Plant, run: RunRow, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const readings = readingsOfRun(plant, run);
  const failed = readings.filter((one) => one.conforms === false);
  return html`${verdictLine(run, viewing)}
${factsOf(factsOfRun(run, viewing))}
${disagreement(run, viewing)}
${failed.length === 0 ? null : html`<h3>${words.whatFailed}</h3>${readingList(failed, viewing)}`}
<h3>${words.nextStep}</h3>${nextStep(plant, run, viewing)}
${readings.length === 0 ? null : html`<details><summary>${words.allReadings}</summary>${readingList(readings, viewing)}</details>`}`;
}

function verdictLine({ motor, verdict, firstPass }: RunRow, { words }: Viewing): Markup {
  const own = words.testCell;
  if (verdict === null) {
    return html`<p class="verdict">${icon('noted')} ${own.aborted(motor)}</p>`;
  }
  if (verdict === 'fail')
    return html`<p class="verdict bad">${icon('refused')} ${own.failed(motor)}</p>`;
  const first = firstPass === 1 ? `, ${own.firstPass}` : '';
  return html`<p class="verdict good">${icon('accepted')} ${own.passed(motor)}${first}</p>`;
}

function factsOfRun(run: RunRow, { words, format }: Viewing): [string, Content][] {
  const own = words.testCell;
  const facts: [string, Content][] = [
    [own.motor, serialLink(run.motor, 'motor')],
    [own.model, run.model],
    [own.run, run.id],
    [own.ended, run.endedAtMs === null ? null : timeOf(format, run.endedAtMs)],
  ];
  if (run.attempt !== null) facts.push([own.attempt, run.attempt]);
  if (run.abortReason !== null) facts.push([own.reason, run.abortReason]);
  return facts;
}

function disagreement({ disagreement, cellVerdict }: RunRow, { words }: Viewing): Markup | null {
  if (disagreement === 0 || cellVerdict === null) return null;
  const { disagrees, verdict } = words.testCell;
  return html`<p><strong>${disagrees(verdict[cellVerdict])}</strong></p>`;
}

/** Where the motor goes now: to release, to its repair, or to another test. */
function nextStep(plant: Plant, run: RunRow, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  if (run.verdict === null) return html`<p>${words.awaitsTest}</p>`;
  if (run.verdict === 'fail') return toRepair(plant, run, viewing);
  const { reasons } = gateOf(plant, run.motor);
  if (reasons.length === 0) return html`<p>${words.mayBeReleased}</p>`;
  const lines = reasons.map(({ detail }) => html`<li>${detail}</li>`);
  return html`<p>${words.gateSays}</p><ul>${lines}</ul>`;
}

function toRepair(plant: Plant, run: RunRow, { words, actor }: Viewing): Markup {
  const own = words.testCell;
  const id = repairOpenedBy(plant, run);
  const repair = id === null ? undefined : plant.repair.repair(id);
  if (!repair) throw new Error(`failed run ${run.id} has no repair`);
  const mayOpen = actor.roles.some((role) => role === 'repair' || role === 'quality');
  const what = repair.closedAtMs === null ? own.toRepair(repair.id) : own.repairEnded(repair.id);
  return html`<p>${what}</p>${mayOpen ? html`<p><a class="action" href="/repair-bench/${repair.id}">${own.openRepair(repair.id)}</a></p>` : null}`;
}
