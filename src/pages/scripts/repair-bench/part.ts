import type { ProblemDocument } from '../lib/api.js';
import { button, type Child, element, icon } from '../lib/dom.js';
import { byId, pageData, words } from '../lib/page.js';
import type { AttemptChart } from './attempts.js';

const own = words.repairBench;

/** What the page of a repair carries for its script. */
export interface RepairData {
  repair: number;
  motor: string;
  /** Names of part classes by their codes. */
  classes: Record<string, string>;
  charts: AttemptChart[];
}

/** What a scanned part is to the repair (`/v1/repairs/{repair}/scan`). */
export interface Part {
  class: string;
  serial: string;
  part: string | null;
  partRevision: string | null;
  inside: boolean;
  position: string | null;
  parentClass: string | null;
  parent: string | null;
  refusal: ProblemDocument | null;
}

/** A part with the scan itself, which the exchange is asked with. */
export interface ScannedPart extends Part {
  text: string;
}

export function className(code: string): string {
  return pageData<RepairData>().classes[code] ?? code;
}

export function titleOf(part: Part): string {
  return `${className(part.class)} ${part.serial}`;
}

/** Shows a part in the card of what comes out or goes in, or the card as it is without one. */
export function showPart(card: 'out' | 'in', part: ScannedPart | undefined, letGo: () => void) {
  const place = byId(`${card}-card`);
  const content = place.querySelector<HTMLElement>('.content');
  if (!content) throw new Error(`the card of ${card} has no content`);
  place.className = `half panel ${part ? (part.refusal ? 'refused' : 'taken') : ''}`;
  const children = part
    ? contentOf(part, letGo)
    : [element('p', { class: 'soft' }, content.dataset.empty ?? '')];
  content.replaceChildren(...children.filter((one) => one !== null && one !== undefined));
}

function contentOf(part: ScannedPart, letGo: () => void): Child[] {
  const { refusal, part: number, partRevision, position, parent } = part;
  const of = number === null ? '' : own.part(number, partRevision ?? '');
  const where = position !== null && parent !== null ? own.positionOf(position, parent) : '';
  const why = refusal && element('p', { class: 'why' }, icon('refused'), ` ${refusal.title}`);
  return [
    element('p', { class: 'name' }, part.serial),
    element('p', {}, [className(part.class), of, where].filter((one) => one !== '').join(', ')),
    why,
    element('div', { class: 'actions' }, button(own.letGo, letGo)),
  ];
}
