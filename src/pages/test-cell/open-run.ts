import { existingSpecification } from '../../catalogue/specification-actions.js';
import type { Prompt, SpecificationRow } from '../../catalogue/specification-records.js';
import { html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import { symbolOf } from '../../report/words.js';
import type { RunRow } from '../../testing/records.js';
import type { Characteristic } from '../../testing/rules.js';
import { type Standing, standingOf } from '../../testing/standing.js';
import { icon } from '../icons.js';
import { factsOf, serialLink, timeOf } from '../parts.js';
import { type ReadingShown, readingInWords, readingList, readingsShown } from '../parts-reading.js';
import type { Viewing } from '../screen.js';

/** Names of what is outstanding that stand there at once; the rest is counted. */
const NAMED_LIMIT = 6;

/** A run as it is shown: its specification, and every characteristic with what was read. */
interface Shown {
  specification: SpecificationRow;
  readings: ReadonlyMap<string, ReadingShown>;
  standing: Standing;
}

/**
 * The panels of an open run. What changes with each reading stands in elements marked
 * `data-live`, which the script swaps; fields stand outside of them, so that nobody's typing
 * is lost.
 */
export function openRunPanels(plant: Plant, run: RunRow, viewing: Viewing): Markup {
  const specification = existingSpecification(plant, run.specificationId);
  const standing = standingOf(plant, run);
  const shown = { specification, standing, readings: readingsOf(specification, standing) };
  return html`${headPanel(plant, run, viewing)}
<div class="run-panels">${promptsPanel(shown, viewing)}${readingsPanel(shown, viewing)}${finishPanel(shown, viewing)}</div>`;
}

function readingsOf({ characteristics }: SpecificationRow, { judgements }: Standing) {
  return new Map(readingsShown(characteristics, judgements).map((one) => [one.code, one]));
}

function headPanel(plant: Plant, run: RunRow, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const name = plant.catalogue.modelById(run.modelId)?.name;
  const begun = timeOf(viewing.format, run.startedAtMs);
  const facts = factsOf([
    [words.model, html`${run.model} <span class="soft">${name}</span>`],
    [words.run, run.id],
    [words.attempt, plant.testing.attempts(run.motorId) + 1],
    [words.specification, words.revision(run.specificationRevision)],
    [words.begun, html`${begun} <span class="soft">${words.by(run.startedBy)}</span>`],
  ]);
  return html`<section class="panel" aria-labelledby="run-title"><h2 id="run-title">${words.underTest} ${serialLink(run.motor, 'motor')}</h2>${facts}</section>`;
}

function promptsPanel(shown: Shown, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const { prompts } = shown.specification;
  return html`<section class="panel" id="prompts" aria-labelledby="prompts-title"><h2 id="prompts-title">${words.promptsTitle}</h2>
${prompts.map((one, i) => promptBlock(one, words.promptOf(i + 1, prompts.length), shown, viewing))}
<div class="actions"><button type="button" id="prompt-back">${words.back}</button><button type="button" id="prompt-next">${words.next}</button></div>
</section>`;
}

/** One prompt with its caution and with fields for what a person may read at it. */
function promptBlock(prompt: Prompt, step: string, shown: Shown, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const { text, caution, characteristics } = prompt;
  const asked = characteristics.filter((one) => one.kind !== 'derived');
  const codes = asked.map((one) => one.code).join(' ');
  const warning =
    caution === null
      ? null
      : html`<p class="prompt-caution">${icon('caution')} <span>${caution}</span></p>`;
  return html`<div class="prompt" data-codes="${codes}" tabindex="-1" role="group" aria-label="${step}: ${text}">
<p class="soft">${step}</p><h3>${text}</h3>${warning}
${characteristics.length === 0 ? html`<p>${words.nothingToRead}</p>` : entryForm(characteristics, shown, viewing)}
</div>`;
}

function entryForm(
  characteristics: readonly Characteristic[],
  { readings }: Shown,
  viewing: Viewing,
): Markup {
  const words = viewing.words.testCell;
  const isTyped = characteristics.some((one) => one.kind === 'measured');
  const fields = characteristics.map((one) => {
    const reading = readings.get(one.code);
    return entryField(one, reading ? nowOf(one.code, reading, viewing) : null, viewing);
  });
  return html`<form class="entry" novalidate>${fields}${isTyped ? html`<button class="main">${words.record}</button>` : null}<p class="hint">${words.typeHint}</p></form>`;
}

function nowOf(code: string, reading: ReadingShown, { words, format }: Viewing): Markup {
  return html`<p class="hint" id="now-${code}" data-live>${readingInWords(reading, words, format)}</p>`;
}

function entryField(one: Characteristic, now: Markup | null, { words }: Viewing): Markup {
  const { code, name } = one;
  if (one.kind === 'measured') {
    const unit = symbolOf(one.unit);
    return html`<div class="field"><label for="value-${code}">${name}${unit === '' ? null : html` <span class="soft">in ${unit}</span>`}</label><input id="value-${code}" name="${code}" inputmode="decimal" autocomplete="off" maxlength="40" aria-describedby="now-${code}">${now}</div>`;
  }
  if (one.kind === 'derived') {
    return html`<div class="field"><p class="label">${name} <span class="soft">${words.testCell.computed}</span></p>${now}</div>`;
  }
  const { yes, no } = words.reading;
  return html`<div class="field" role="group" aria-labelledby="ask-${code}" aria-describedby="now-${code}"><p class="label" id="ask-${code}">${name}</p><div class="actions"><button type="button" data-code="${code}" value="true">${yes}</button><button type="button" data-code="${code}" value="false">${no}</button></div>${now}</div>`;
}

function readingsPanel({ specification, readings }: Shown, viewing: Viewing): Markup {
  const words = viewing.words.testCell;
  const groups = specification.prompts.map(({ text, characteristics }) => {
    const own = characteristics.flatMap((one) => readings.get(one.code) ?? []);
    return own.length === 0 ? null : html`<h3>${text}</h3>${readingList(own, viewing)}`;
  });
  const progress = progressInWords([...readings.values()], viewing);
  return html`<section class="panel" id="readings" data-live aria-labelledby="readings-title"><h2 id="readings-title">${words.readingsTitle}</h2><p>${progress}</p>${groups}</section>`;
}

function progressInWords(readings: readonly ReadingShown[], { words }: Viewing): string {
  const { testCell: own } = words;
  const read = readings.filter((one) => one.value !== null).length;
  const bad = readings.filter((one) => one.conforms === false).length;
  const count = own.progress(read, readings.length);
  if (read === 0) return count;
  return `${count}; ${bad === 0 ? own.allAccepted : own.notAccepted(bad)}`;
}

function finishPanel(
  { readings, standing }: Shown,
  { words: { testCell: words } }: Viewing,
): Markup {
  const { outstanding } = standing;
  const named = outstanding
    .slice(0, NAMED_LIMIT)
    .map(({ code }) => html`<li>${readings.get(code)?.name ?? code}</li>`);
  const more = outstanding.length - named.length;
  const list =
    outstanding.length === 0
      ? html`<p>${words.nothingOutstanding}</p>`
      : html`<p>${words.outstanding(outstanding.length)}:</p><ul>${named}${more > 0 ? html`<li>${words.andMore(more)}</li>` : null}</ul>`;
  return html`<section class="panel" aria-labelledby="finish-title"><h2 id="finish-title">${words.finish}</h2>
<div id="outstanding" data-live>${list}</div>
<div class="actions"><button type="button" class="main" id="complete">${words.complete}</button></div>
<details id="abort"><summary>${words.abort}</summary><form id="abort-form" class="fields narrow">
<div class="field"><label for="abort-reason">${words.abortWhy}</label><input id="abort-reason" name="reason" required maxlength="500" autocomplete="off" aria-describedby="abort-hint"><p class="hint" id="abort-hint">${words.abortHint}</p></div>
<button>${words.abortDo}</button></form></details></section>`;
}
