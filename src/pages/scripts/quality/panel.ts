import { type Answer, ask } from '../lib/api.js';
import { drawChart, type Plot } from '../lib/chart.js';
import { button, type Child, element, icon } from '../lib/dom.js';
import { byId, words } from '../lib/page.js';
import { csvLink } from './csv.js';

const own = words.quality;
/** A long question has 30 seconds in the service, and may wait for its turn before. */
const PATIENCE_MS = 60_000;

/** A question that the page names: see quality/query.ts. */
export interface Asked {
  id: string;
  show: string;
  address: string;
  csv?: string;
  /** What to say where the answer has no rows. */
  none?: string;
  [more: string]: unknown;
}

export type Draw = (plot: Plot, width: number) => SVGElement | HTMLElement;

/** A panel of the page that shows the answer to one question. */
export class Panel {
  readonly #said: HTMLElement;
  readonly #table: HTMLElement;

  constructor(readonly asked: Asked) {
    const place = byId(asked.id);
    this.#said = place.querySelector('.said') as HTMLElement;
    this.#table = place.querySelector('.as-table') as HTMLElement;
  }

  /** What stands above the drawings, or in place of them. */
  say(...children: Child[]): void {
    this.#said.append(...children.filter((one) => one !== null && one !== undefined));
  }

  /** What is the same as the drawings; a panel without any shows it at once. */
  table(...children: Child[]): void {
    this.#table.append(...children.filter((one) => one !== null && one !== undefined));
  }

  draw(position: number, draw: Draw): void {
    drawChart(`${this.asked.id}-chart-${position}`, draw);
  }

  /** Takes a drawing's place away where there is nothing to draw. */
  omit(position: number): void {
    const place = byId(`${this.asked.id}-chart-${position}`);
    const details = place.querySelector('details');
    if (details) place.replaceWith(details);
    else place.remove();
  }

  /** Nothing to show: says so, and nothing else. */
  empty(sentence: string = own.nothing): void {
    const place = byId(this.asked.id).querySelector('.shown') as HTMLElement;
    place.replaceChildren(element('p', {}, sentence));
  }

  /** More places where something of the answer is to be had. */
  source(...links: Child[]): void {
    const place = byId(this.asked.id).querySelector('.sources') as HTMLElement;
    for (const link of links) if (link) place.append(' ', link);
  }
}

export type Show = (answer: never, panel: Panel) => void;

/** Asks a panel's question and shows what came of it, each refusal in its own sentences. */
export async function fill(asked: Asked, show: Show): Promise<void> {
  const place = byId(asked.id);
  const state = place.querySelector('.state') as HTMLElement;
  place.setAttribute('aria-busy', 'true');
  const answer = await ask<never>(asked.address, PATIENCE_MS);
  place.setAttribute('aria-busy', 'false');
  if (answer.kind !== 'done') {
    state.replaceChildren(refusal(answer, () => void fill(asked, show)));
    return;
  }
  state.replaceChildren();
  (place.querySelector('.shown') as HTMLElement).hidden = false;
  const panel = new Panel(asked);
  panel.source(
    element('a', { href: asked.address }, own.theCall),
    asked.csv === undefined ? null : csvLink(own.asCsv, asked.csv),
  );
  if ((answer.body as { items?: unknown[] }).items?.length === 0) panel.empty(asked.none);
  else show(answer.body, panel);
}

function refusal(answer: Exclude<Answer<never>, { kind: 'done' }>, again: () => void): HTMLElement {
  const { network } = words;
  const { problem } = answer;
  const heading = problem?.title ?? network.lost;
  const title = element(
    'p',
    {},
    icon(answer.kind === 'refused' ? 'refused' : 'waiting'),
    ' ',
    element('strong', {}, heading),
  );
  const detail = element('p', {}, problem?.detail ?? network.lostDetail);
  return element('div', { class: 'refusal' }, title, detail, button(own.again, again));
}
