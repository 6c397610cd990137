import { type Content, html, type Markup } from '../http/html.js';
import type { Characteristic } from '../testing/rules.js';
import { iso } from '../time.js';
import type { Facts, Run, RunFact } from './facts.js';
import { gauge } from './gauge.js';
import { pairsOf, tableOf } from './table.js';
import {
  inwardLimit,
  quantityText,
  rangeText,
  type ShowTime,
  valueText,
  type Words,
  yesOrNo,
} from './words.js';

const CAUTION =
  'These figures come from running engines, which bring moving and hot parts, fuel, and exhaust with carbon monoxide, which kills without warning. They are a record and no instruction: engines are run by trained and licensed people only, behind the plant’s interlocks and ventilation and under local codes.';

const LEGEND =
  'In the drawings the long strokes are the specification limits and the bar is where a value is accepted; dashed strokes end the bar where a guard band narrows it. A dot conforms, a cross does not. An arrowhead at the edge: the value lies beyond the drawing.';

/** Every test run with its readings against the limits that were in force. */
export function runs({ runs: all }: Facts, { time }: Words): Markup {
  if (all.length === 0) {
    return section(html`<p class="none">No test run is recorded.</p>`);
  }
  return section(
    html`<p class="note"><strong>Caution.</strong> ${CAUTION}</p><p>${LEGEND}</p>${all.map((one) => runPart(one, time))}`,
  );
}

function section(content: Markup): Markup {
  return html`<section aria-labelledby="runs"><h2 id="runs">Test runs</h2>
${content}</section>
`;
}

function runPart(fact: RunFact, time: ShowTime): Markup {
  const { run, specification, posted } = fact;
  const since = specification.effectiveFromMs;
  return html`<h3>Run ${run.id}: ${verdictOf(run)}</h3>
<div class="ahead">${pairsOf([
    ['Motor', `${run.motor}, model ${run.model}`],
    ['Cell', run.cell],
    ['Attempt', run.attempt],
    ['Started', html`${time(run.startedAt)} by ${run.startedBy}`],
    [run.state === 'aborted' ? 'Aborted' : 'Ended', time(run.endedAt) ?? 'still open'],
    ['Reason', run.abortReason],
    [
      'Specification',
      html`revision ${run.specificationRevision}${since === null ? null : html`, in force from ${time(iso(since))}`}${specification.approvedBy === null ? null : `, approved by ${specification.approvedBy}`}`,
    ],
    ['The cell’s own opinion', opinionOf(run)],
    ['Readings posted', `${posted}${posted > 0 ? '; the last of each characteristic counts' : ''}`],
  ])}</div>
${run.judgements.length > 0 ? judgedTable(fact) : postedTable(fact)}`;
}

function verdictOf(run: Run): Content {
  if (run.verdict === 'pass') return 'passed';
  if (run.verdict === 'fail') return html`<span class="bad">FAILED</span>`;
  return run.state === 'aborted' ? 'aborted, no verdict' : 'open, no verdict';
}

function opinionOf(run: Run): string | null {
  if (run.cellVerdict === null) return null;
  return `${run.cellVerdict}${run.disagreement ? '; the verdict here differs' : ''}`;
}

type Judgement = Run['judgements'][number];

function judgedTable({ run, specification }: RunFact): Markup {
  const byCode = new Map(specification.characteristics.map((one) => [one.code, one]));
  const of = (judgement: Judgement) => byCode.get(judgement.code);
  return tableOf<Judgement>({
    caption: `Run ${run.id}: readings as judged, unrounded, by specification revision ${run.specificationRevision}`,
    none: 'Nothing was judged.',
    rows: run.judgements,
    columns: [
      {
        label: 'Characteristic',
        cell: (one) =>
          html`${one.name} <span class="code">${one.code}${of(one)?.kind === 'derived' ? ', computed' : ''}</span>`,
      },
      { label: 'Value', cell: (one) => judgedValueText(one, of(one)) },
      { label: 'Specification', cell: (one) => limitsText(one, of(one)) },
      { label: 'Accepted', cell: (one) => acceptedText(one, decimalsOf(of(one))) },
      { label: 'Drawing', cell: gaugeOf },
      { label: 'Result', cell: (one) => resultText(one) },
      { label: 'Margin', cell: (one) => marginText(one.margin), look: 'number' },
    ],
  });
}

function judgedValueText(judgement: Judgement, characteristic: Characteristic | undefined): string {
  const { value, unit, acceptLower: lower, acceptUpper: upper } = judgement;
  if (value === null) return 'not measured';
  if (typeof value === 'boolean') return yesOrNo(value);
  const decimals = decimalsOf(characteristic);
  return quantityText(valueText(value, decimals, { lower, upper }), unit);
}

function limitsText(judgement: Judgement, characteristic: Characteristic | undefined): string {
  if (characteristic?.kind === 'attribute') return `expected: ${yesOrNo(characteristic.expected)}`;
  return rangeText(judgement, judgement.unit);
}

/** Acceptance limits, where a guard band makes them differ from the specification's. */
function acceptedText(judgement: Judgement, decimals: number): string | null {
  const { lower, upper, acceptLower, acceptUpper, unit } = judgement;
  if (acceptLower === lower && acceptUpper === upper) return null;
  const accepted = {
    lower: inwardLimit(acceptLower, decimals, 'lower'),
    upper: inwardLimit(acceptUpper, decimals, 'upper'),
  };
  return rangeText(accepted, unit);
}

function decimalsOf(characteristic: Characteristic | undefined): number {
  return characteristic && 'decimals' in characteristic ? characteristic.decimals : 3;
}

function gaugeOf({ value, ...limits }: Judgement): Markup | null {
  return typeof value === 'number' ? gauge({ value, ...limits }) : null;
}

function resultText({ conforms, value }: Judgement): Content {
  if (conforms === true) return 'conforms';
  if (conforms === false) return html`<span class="bad">DOES NOT CONFORM</span>`;
  return value === null ? 'not judged' : 'no limits';
}

/** The margin in hundredths; one that is nearly 0 keeps a digit, so that its sign is seen. */
function marginText(margin: number | null): string | null {
  if (margin === null) return null;
  const text = margin.toFixed(2);
  return Number(text) === 0 && margin !== 0 ? margin.toPrecision(1) : text;
}

/** Readings of a run that nobody judged, as the cell posted them. */
function postedTable({ run, specification, last }: RunFact): Markup {
  return tableOf({
    caption: `Run ${run.id}: the last reading of each characteristic as posted; nothing was judged`,
    none: 'It holds no readings.',
    rows: specification.characteristics.flatMap((characteristic) => {
      const reading = last.get(characteristic.code);
      return reading ? [{ characteristic, reading }] : [];
    }),
    columns: [
      {
        label: 'Characteristic',
        cell: ({ characteristic: { name, code } }) =>
          html`${name} <span class="code">${code}</span>`,
      },
      {
        label: 'As posted',
        cell: ({ characteristic, reading: { value, unit } }) => {
          if (typeof value === 'boolean') return yesOrNo(value);
          const own = characteristic.kind === 'attribute' ? null : characteristic.unit;
          return quantityText(value, unit ?? own);
        },
      },
    ],
  });
}
