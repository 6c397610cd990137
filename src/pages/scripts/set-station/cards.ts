import { type Child, element, icon } from '../lib/dom.js';
import { byId, format, words } from '../lib/page.js';
import type { Half, HalfName, Order } from './scan.js';

const own = words.setStation;

/** Shows a scanned half in its card, with the reason where it would be refused. */
export function showHalf(half: Half): void {
  const { name, part, partRevision, attributes, refusal } = half;
  const of = part === null ? null : own.revision(part, partRevision ?? '');
  const more = [of, ...Object.values(attributes)].filter((one) => one !== null).join(', ');
  const why = refusal && element('p', { class: 'why' }, icon('refused'), ` ${refusal.title}`);
  fill(half.is, refusal ? 'refused' : 'taken', [
    element('p', { class: 'name' }, name),
    element('p', { class: 'soft' }, more),
    why,
  ]);
}

/** Shows a card as it is before anything was scanned. */
export function showEmpty(name: HalfName | 'order'): void {
  const empty = contentOf(name).dataset.empty ?? '';
  fill(name, '', [element('p', { class: 'soft' }, empty)]);
}

/** Shows the order that was chosen at this station. */
export function showOrder({ number, model, set, quantity, dueOn }: Order): void {
  const due = own.due(format.calendarDay(dueOn));
  fill('order', 'taken', [
    element('p', { class: 'name' }, number),
    element('p', {}, `${model}, ${own.progress(set, quantity)}, ${due}`),
    element('p', { class: 'soft' }, own.chosenHere),
  ]);
}

function fill(name: HalfName | 'order', kind: string, children: Child[]): void {
  byId(`${name}-card`).className = `half panel ${kind}`;
  contentOf(name).replaceChildren(...children.filter((one) => one !== null && one !== undefined));
}

function contentOf(name: HalfName | 'order'): HTMLElement {
  const content = byId(`${name}-card`).querySelector<HTMLElement>('.content');
  if (!content) throw new Error(`the card of ${name} has no content`);
  return content;
}
