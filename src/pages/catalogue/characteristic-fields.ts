import { type Content, html, type Markup } from '../../http/html.js';
import { derivationNames } from '../../testing/derivations.js';
import type { Characteristic } from '../../testing/rules.js';
import { optionsOf } from '../parts.js';
import type { Viewing } from '../screen.js';

type Numeric = Exclude<Characteristic, { kind: 'attribute' }>;

/** The fields of one characteristic; those of its kind show. Empty for a new one. */
export function characteristicFields(one: Characteristic | undefined, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const { form: own } = words;
  const kind = one?.kind ?? 'measured';
  const title = one ? `${one.code}: ${one.name}` : own.newCharacteristic;
  const numeric = one === undefined || one.kind === 'attribute' ? undefined : one;
  const kinds = Object.entries(words.kindOf);
  return html`<details class="characteristic" data-kind="${kind}"><summary>${title}</summary>
<div class="fields">
${selectField('kind', words.kind, optionsOf(kinds, kind))}
${inputField('code', words.code, one?.code ?? '', 40)}
${inputField('name', own.name, one?.name ?? '', 80)}
${requiredField(one?.required ?? true, words.required)}
${numericFields(numeric, viewing)}
${attributeFields(one, viewing)}
${derivedFields(one, viewing)}
</div>
<div class="actions"><button type="button" class="quiet" data-act="up">${own.up}</button><button type="button" class="quiet" data-act="down">${own.down}</button><button type="button" class="quiet" data-act="remove">${own.remove}</button></div>
</details>`;
}

function numericFields(
  one: Numeric | undefined,
  { words: { catalogue: words } }: Viewing,
): Content {
  const { form: own } = words;
  const number = (member: keyof Numeric & string, label: string) =>
    inputField(member, label, text(one?.[member]), 40, 'numeric', { isNumber: true });
  return [
    inputField('unit', words.unit, one?.unit ?? '', 40, 'numeric', { hint: own.unitHint }),
    number('lower', own.lower),
    number('upper', own.upper),
    number('guardBand', words.guardBand),
    number('nominal', words.nominal),
    number('standardUncertainty', words.uncertainty),
    number('decimals', words.decimals),
  ];
}

function attributeFields(one: Characteristic | undefined, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const expected = one?.kind === 'attribute' ? one.expected : true;
  const answers: [string, string][] = [
    ['true', words.yes],
    ['false', words.no],
  ];
  const options = optionsOf(answers, String(expected));
  return selectField('expected', words.form.expected, options, 'attribute');
}

function derivedFields(one: Characteristic | undefined, viewing: Viewing): Content {
  const { form: own } = viewing.words.catalogue;
  const derivation = one?.kind === 'derived' ? one.derivation : undefined;
  const names = derivationNames.map((name): [string, string] => [name, name]);
  return [
    selectField('function', own.function, optionsOf(names, derivation?.function), 'derived'),
    inputField('inputs', own.inputs, derivation?.inputs.join(' ') ?? '', 500, 'derived', {
      hint: own.inputsHint,
    }),
  ];
}

function text(value: unknown): string {
  return value === null || value === undefined ? '' : String(value);
}

function requiredField(isRequired: boolean, label: string): Markup {
  return html`<label class="choice"><input type="checkbox" data-member="required"${isRequired ? html` checked` : null}> ${label}</label>`;
}

/** A label around its field: there are too many for names of their own. */
function inputField(
  member: string,
  label: string,
  value: string,
  longest: number,
  of = '',
  { hint, isNumber }: { hint?: string; isNumber?: boolean } = {},
): Markup {
  return html`<label class="in ${of}">${label}<input data-member="${member}" value="${value}" maxlength="${longest}" autocomplete="off" autocapitalize="none" spellcheck="false"${isNumber ? html` inputmode="decimal"` : null}>${hint === undefined ? null : html`<span class="hint">${hint}</span>`}</label>`;
}

function selectField(member: string, label: string, options: Content, of = ''): Markup {
  return html`<label class="in ${of}">${label}<select data-member="${member}">${options}</select></label>`;
}
