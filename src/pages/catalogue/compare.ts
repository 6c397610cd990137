import { type Difference, specificationDifferences } from '../../catalogue/rules.js';
import { existingSpecification } from '../../catalogue/specification-actions.js';
import type { SpecificationHead, SpecificationRow } from '../../catalogue/specification-records.js';
import { type Content, html, type Markup } from '../../http/html.js';
import { PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { symbolOf } from '../../report/words.js';
import { fieldOf, optionsOf, tableOf } from '../parts.js';
import type { Viewing } from '../screen.js';
import { limitsText } from './content.js';

/** What changed from another revision to this one: from the one before, unless another is chosen. */
export function comparePanel(
  plant: Plant,
  row: SpecificationRow,
  fromId: number | undefined,
  viewing: Viewing,
): Markup {
  const words = viewing.words.catalogue;
  const others = plant.specifications
    .list({ model: row.model, state: null }, 0, PAGE_LIMIT)
    .filter(({ id }) => id !== row.id);
  const before = others.filter(({ revision }) => revision < row.revision).at(-1) ?? others.at(-1);
  const otherId = fromId ?? before?.id;
  const body =
    otherId === undefined
      ? html`<p class="soft">${words.noOther}</p>`
      : html`${chooser(others, otherId, viewing)}${differencesTable(existingSpecification(plant, otherId), row, viewing)}`;
  return html`<section class="panel" id="compare" aria-labelledby="compare-title"><h2 id="compare-title">${words.compare}</h2>${body}</section>`;
}

function chooser(
  others: readonly SpecificationHead[],
  chosen: number,
  { words: { catalogue: words } }: Viewing,
): Markup {
  const options = others.map((one): [string, string] => [
    String(one.id),
    `${words.revision(one.revision)}: ${one.note}`,
  ]);
  return html`<form class="compare" method="get">${fieldOf('compare-from', words.compareWith, html`<select id="compare-from" name="from">${optionsOf(options, String(chosen))}</select>`)}<button>${words.compareGo}</button></form>`;
}

function differencesTable(from: SpecificationRow, to: SpecificationRow, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  return tableOf<Difference>(
    words.differences(from.revision, to.revision),
    [
      {
        title: words.characteristic,
        cell: ({ code }) => (code === null ? words.prompt : html`<code>${code}</code>`),
      },
      { title: words.change, cell: ({ change }) => words.changeOf[change] },
      {
        title: words.member,
        cell: ({ member }) => (member === null ? null : (words.memberOf[member] ?? member)),
      },
      { title: words.before, cell: (one) => sideText(one, one.from, from, viewing) },
      { title: words.after, cell: (one) => sideText(one, one.to, to, viewing) },
    ],
    specificationDifferences(from.prompts, to.prompts),
    words.noDifferences,
  );
}

/** One side of a difference: a characteristic that the other has not, in words; else the member. */
function sideText(
  { code, change, member }: Difference,
  text: string | null,
  { characteristics }: SpecificationRow,
  viewing: Viewing,
): Content {
  const words = viewing.words.catalogue;
  if (text === null) return null;
  if (change !== 'changed' && code !== null) {
    const one = characteristics.find((it) => it.code === code);
    if (!one) return text;
    const unit = one.kind === 'attribute' ? '' : ` ${symbolOf(one.unit)}`;
    return `${one.name}, ${words.kindOf[one.kind]}, ${limitsText(one, viewing)}${unit}`;
  }
  if (member === 'kind') return words.kindOf[text as keyof typeof words.kindOf] ?? text;
  if (member === 'derivation') {
    const { function: name, inputs } = JSON.parse(text) as { function: string; inputs: string[] };
    return words.computed(name, inputs.join(', '));
  }
  if (text === 'true') return words.yes;
  return text === 'false' ? words.no : text;
}
