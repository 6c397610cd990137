import { filled, numberOf } from './fields.js';

const NUMBERS = [
  'lower',
  'upper',
  'guardBand',
  'nominal',
  'standardUncertainty',
  'decimals',
] as const;

type Field = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;

/**
 * The prompts of the form as the interface takes them. Each field learns the pointer of its
 * member, by which a fault finds it.
 */
export function readPrompts(place: HTMLElement): object[] {
  return [...place.querySelectorAll<HTMLElement>('.prompt')].map((prompt, p) => {
    const own = reader(prompt, `/prompts/${p}`);
    const parts = [...prompt.querySelectorAll<HTMLElement>('.characteristic')];
    return {
      text: own('text') ?? '',
      caution: own('caution') ?? null,
      characteristics: parts.map((part, c) =>
        characteristicOf(reader(part, `/prompts/${p}/characteristics/${c}`), part),
      ),
    };
  });
}

type Read = (member: string, pointer?: string) => string | undefined;

/** Reads the fields of a part and tells each its pointer. */
function reader(part: HTMLElement, at: string): Read {
  return (member, pointer = member) => {
    const field = part.querySelector<Field>(`[data-member="${member}"]`);
    if (!field) return undefined;
    field.dataset.pointer = `${at}/${pointer}`;
    return filled(field.value);
  };
}

function characteristicOf(read: Read, part: HTMLElement): object {
  const kind = read('kind');
  const required = part.querySelector<HTMLInputElement>('[data-member="required"]')?.checked;
  const common = { kind, code: read('code') ?? '', name: read('name') ?? '', required };
  if (kind === 'attribute') return { ...common, expected: read('expected') === 'true' };
  const numbers = Object.fromEntries(NUMBERS.map((member) => [member, numberOf(read(member))]));
  const judged = { ...common, unit: read('unit') ?? '', ...numbers };
  if (kind !== 'derived') return judged;
  const name = read('function', 'derivation/function');
  const inputs = read('inputs', 'derivation/inputs')?.split(/[\s,]+/) ?? [];
  return { ...judged, derivation: { function: name, inputs } };
}
