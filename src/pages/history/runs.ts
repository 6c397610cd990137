import { existingSpecification } from '../../catalogue/specification-actions.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { gauge } from '../../report/gauge.js';
import { symbolOf } from '../../report/words.js';
import type { Characteristic } from '../../testing/rules.js';
import { caution, factsOf, optionsOf, tableOf } from '../parts.js';
import { type Found, type Judgement, quantity, type Run, rangeOf, whenOf } from './common.js';
import { outcome } from './record.js';

/** Every run with its readings, the latest completed one opened. */
export function runs(found: Found): Markup {
  const { history, viewing } = found;
  const words = viewing.words.history;
  const latest = history.runs.findLast((run) => run.state === 'completed')?.id;
  const body =
    history.runs.length === 0
      ? html`<p class="soft">${words.noRuns}</p>`
      : html`${caution(words.runCaution, words.runCautionText)}${latest === undefined ? null : [html`<p class="soft">${words.legend}</p>`, comparison(found)]}${history.runs.toReversed().map((run) => runPart(found, run, run.id === latest))}`;
  return html`<section class="panel runs" id="runs" aria-labelledby="runs-title"><h2 id="runs-title">${words.runs}</h2>${body}</section>`;
}

/** With which runs readings are compared: chosen for all of them at once. */
function comparison({ viewing }: Found): Markup {
  const words = viewing.words.history;
  // Numbers as names come in their own order; `all` belongs last.
  const days = ['7', '30', '183', '0'].map((one): [string, string] => [
    one,
    words.around[Number(one)] ?? one,
  ]);
  const cells: [string, string][] = [
    ['all', words.allCells],
    ['same', words.sameCell],
  ];
  return html`<form id="compare" class="fields compare"><div class="field"><label for="compare-days">${words.compareWith}</label><select id="compare-days" name="days" autocomplete="off">${optionsOf(days, '30')}</select></div><div class="field"><label for="compare-cells">${words.whichCells}</label><select id="compare-cells" name="cells" autocomplete="off">${optionsOf(cells, 'all')}</select></div></form>`;
}

function runPart(found: Found, run: Run, isOpen: boolean): Markup {
  const words = found.viewing.words.history;
  return html`<details class="run" id="run-${run.id}"${isOpen ? html` open` : null}><summary><span>${words.run(run.id, verdictOf(found, run))}, ${whenOf(found.viewing.format, run.startedAt)}</span></summary>
${factsOf(runFacts(found, run))}
${run.judgements.length === 0 ? html`<p class="soft">${words.notJudged}</p>` : judged(found, run)}</details>`;
}

function verdictOf({ viewing }: Found, run: Run): string {
  const { verdict } = viewing.words.history;
  if (run.verdict !== null) return verdict[run.verdict];
  return run.state === 'aborted' ? verdict.aborted : verdict.open;
}

function runFacts(found: Found, run: Run): [string, Content][] {
  const { words: all, format } = found.viewing;
  const words = all.history;
  const facts: [string, Content | null][] = [
    [
      words.result,
      run.verdict === null ? null : outcome(words.verdict[run.verdict], run.verdict === 'pass'),
    ],
    [words.motor, run.motor === found.history.unit.serial ? null : run.motor],
    [words.cell, run.cell],
    [words.attempt, run.attempt],
    [words.started, html`${whenOf(format, run.startedAt)} ${words.by(run.startedBy)}`],
    [words.ended, whenOf(format, run.endedAt) ?? words.stillOpen],
    [words.abortReason, run.abortReason],
    [
      words.specification,
      html`<a href="/catalogue/specifications/${run.specification}">${words.revision(run.specificationRevision)}</a>`,
    ],
    [
      words.opinion,
      run.cellVerdict === null
        ? null
        : `${words.verdict[run.cellVerdict]}${run.disagreement ? `; ${words.disagrees}` : ''}`,
    ],
  ];
  return facts.filter(([, value]) => value !== null);
}

function judged(found: Found, run: Run): Markup {
  const words = found.viewing.words.history;
  const characteristics = new Map(
    existingSpecification(found.plant, run.specification).characteristics.map((one) => [
      one.code,
      one,
    ]),
  );
  const of = (one: Judgement) => characteristics.get(one.code);
  const table = tableOf<Judgement>(
    words.judged(run.id),
    [
      {
        title: words.characteristic,
        cell: (one) => html`${one.name}<br><code class="soft">${one.code}</code>`,
      },
      { title: words.value, cell: (one) => valueText(found, one, of(one)) },
      { title: words.specificationLimits, cell: (one) => limitsOf(found, one, of(one)) },
      { title: words.acceptanceLimits, cell: (one) => acceptedOf(found, one) },
      { title: words.drawing, cell: drawingOf },
      { title: words.result, cell: (one) => resultOf(found, one) },
    ],
    run.judgements,
    words.notJudged,
  );
  const numeric = run.judgements.filter((one) => typeof one.value === 'number');
  const places = numeric.map((one) => population(found, run, one, of(one)));
  return html`${table}${
    places.length === 0
      ? null
      : html`<h3>${words.among}</h3><p class="soft">${words.amongLead}</p><div class="populations">${places}</div>`
  }`;
}

function decimalsOf(characteristic: Characteristic | undefined): number {
  return characteristic && 'decimals' in characteristic ? characteristic.decimals : 3;
}

/** A value as its specification shows it, but with all its digits where rounding would belie the verdict. */
function valueText(
  { viewing }: Found,
  judgement: Judgement,
  characteristic: Characteristic | undefined,
): string {
  const { words: all, format } = viewing;
  const words = all.history;
  const { value, unit } = judgement;
  if (value === null) return words.notMeasured;
  if (typeof value === 'boolean') return value ? words.yes : words.no;
  const decimals = decimalsOf(characteristic);
  const tells =
    isAccepted(Number(value.toFixed(decimals)), judgement) === isAccepted(value, judgement);
  return quantity(format, value, unit, tells ? decimals : undefined);
}

function isAccepted(value: number, { acceptLower, acceptUpper }: Judgement): boolean {
  return (
    (acceptLower === null || value >= acceptLower) && (acceptUpper === null || value <= acceptUpper)
  );
}

function limitsOf(
  { viewing }: Found,
  { lower, upper, unit }: Judgement,
  characteristic: Characteristic | undefined,
): string {
  const words = viewing.words.history;
  if (characteristic?.kind === 'attribute') {
    return words.expected(characteristic.expected ? words.yes : words.no);
  }
  return rangeOf(viewing, lower, upper, unit) ?? words.noLimits;
}

/** Where a guard band narrows the limits. */
function acceptedOf({ viewing }: Found, judgement: Judgement): string | null {
  const { lower, upper, acceptLower, acceptUpper, unit } = judgement;
  if (acceptLower === lower && acceptUpper === upper) return null;
  return rangeOf(viewing, acceptLower, acceptUpper, unit);
}

function drawingOf({ value, ...limits }: Judgement): Markup | null {
  return typeof value === 'number' ? gauge({ value, ...limits }) : null;
}

function resultOf({ viewing }: Found, { conforms }: Judgement): Content {
  const words = viewing.words.history;
  if (conforms === null) return words.noLimits;
  return outcome(conforms ? words.conforms : words.conformsNot, conforms);
}

/**
 * A place where the script draws a reading among its like, which it asks for when it comes
 * into view: a first paint that counted populations would wait for them.
 */
function population(
  { viewing }: Found,
  run: Run,
  judgement: Judgement,
  characteristic: Characteristic | undefined,
): Markup {
  const words = viewing.words.history;
  const id = `like-${run.id}-${judgement.code}`;
  const { name, code, value, unit, lower, upper, acceptLower, acceptUpper } = judgement;
  const reading = {
    id,
    name,
    code,
    value,
    unit,
    symbol: symbolOf(unit),
    decimals: decimalsOf(characteristic),
    lower,
    upper,
    acceptLower,
    acceptUpper,
    model: run.model,
    cell: run.cell,
    endedAt: run.endedAt,
  };
  return html`<div class="population" data-reading="${JSON.stringify(reading)}"><figure class="chart" id="${id}"><figcaption>${name}</figcaption><p class="soft said"></p><div class="drawing"><p class="soft">${words.loadingOne}</p></div><details hidden><summary>${viewing.words.chart.asTable}<span class="visually-hidden">: ${name}</span></summary><div class="table"></div></details></figure></div>`;
}
