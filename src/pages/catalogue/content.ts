import type { Prompt, SpecificationRow } from '../../catalogue/specification-records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { acceptanceLimits } from '../../measurement/limits.js';
import { symbolOf } from '../../report/words.js';
import type { Characteristic } from '../../testing/rules.js';
import { icon } from '../icons.js';
import { tableOf } from '../parts.js';
import type { Viewing } from '../screen.js';

type Numeric = Exclude<Characteristic, { kind: 'attribute' }>;

/** Every prompt of a specification with what is measured and asked under it, and by which limits. */
export function promptsPanel({ prompts }: SpecificationRow, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const parts = prompts.map((prompt, i) => promptPart(prompt, i + 1, viewing));
  return html`<section class="panel" id="prompts" aria-labelledby="prompts-title"><h2 id="prompts-title">${words.prompts}</h2>${parts}</section>`;
}

function promptPart(
  { text, caution, characteristics }: Prompt,
  position: number,
  viewing: Viewing,
): Markup {
  const { words: all, format } = viewing;
  const words = all.catalogue;
  const number = (value: number | null) => (value === null ? null : format.number(value));
  const ofNumeric = (show: (one: Numeric) => Content) => (one: Characteristic) =>
    one.kind === 'attribute' ? null : show(one);
  const table = tableOf<Characteristic>(
    words.promptPlace(position),
    [
      {
        title: words.characteristic,
        cell: (one) => html`${one.name}<br><code class="soft">${one.code}</code>`,
      },
      { title: words.kind, cell: (one) => kindText(one, viewing) },
      { title: words.unit, cell: ofNumeric((one) => symbolOf(one.unit)) },
      { title: words.limits, cell: (one) => limitsText(one, viewing) },
      {
        title: words.guardBand,
        cell: ofNumeric((one) => number(one.guardBand)),
        isNumber: true,
      },
      { title: words.accepted, cell: ofNumeric((one) => acceptedText(one, viewing)) },
      { title: words.nominal, cell: ofNumeric((one) => number(one.nominal)), isNumber: true },
      {
        title: words.uncertainty,
        cell: ofNumeric((one) => number(one.standardUncertainty)),
        isNumber: true,
      },
      { title: words.required, cell: (one) => (one.required ? words.yes : words.no) },
    ],
    characteristics,
    words.noCharacteristics,
  );
  const warning =
    caution === null ? null : html`<p class="prompt-caution">${icon('caution')} ${caution}</p>`;
  return html`<h3>${position}. ${text}</h3>${warning}${table}`;
}

function kindText(one: Characteristic, { words: { catalogue: words } }: Viewing): Content {
  if (one.kind !== 'derived') return words.kindOf[one.kind];
  const { function: name, inputs } = one.derivation;
  return html`${words.kindOf.derived}:<br><span class="soft">${words.computed(name, inputs.join(', '))}</span>`;
}

/** Specification limits, or the answer that conforms. */
export function limitsText(one: Characteristic, viewing: Viewing): string {
  const words = viewing.words.catalogue;
  if (one.kind === 'attribute') return words.expected(one.expected ? words.yes : words.no);
  return rangeText(one.lower, one.upper, viewing);
}

/** Where a guard band narrows the limits. */
function acceptedText(one: Numeric, viewing: Viewing): string | null {
  if (one.guardBand === 0) return null;
  const { lower, upper } = acceptanceLimits(one);
  return rangeText(lower, upper, viewing);
}

function rangeText(
  lower: number | null,
  upper: number | null,
  { words: { catalogue: words }, format }: Viewing,
): string {
  if (lower !== null && upper !== null) {
    return words.between(format.number(lower), format.number(upper));
  }
  if (lower !== null) return words.atLeast(format.number(lower));
  return upper === null ? words.noLimits : words.atMost(format.number(upper));
}
