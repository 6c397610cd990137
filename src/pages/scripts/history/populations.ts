import { type Answer, ask } from '../lib/api.js';
import { button, element } from '../lib/dom.js';
import { remember, remembered } from '../lib/kept.js';
import { byId, words } from '../lib/page.js';
import { drawLike } from './drawing.js';
import type { Capability, Compared, Reading } from './reading.js';

const DAY_MS = 24 * 60 * 60 * 1000;
const KEPT = 'history-compare';
const own = words.history;

/** Stops what an earlier window still waits for. */
let current = new AbortController();

/**
 * Draws each reading among its like as its place comes into view: one question at a time, so
 * that a page of many readings leaves the service to others.
 */
export function drawPopulations(): void {
  current.abort();
  current = new AbortController();
  const { signal } = current;
  const compare = document.getElementById('compare') as HTMLFormElement | null;
  if (!compare) return;
  const compared = comparedBy(compare);
  compare.onchange = () => {
    remember(KEPT, comparedIn(compare));
    drawPopulations();
  };
  let queue = Promise.resolve();
  const observer = new IntersectionObserver(
    (entries) => {
      for (const { isIntersecting, target } of entries) {
        if (!isIntersecting) continue;
        observer.unobserve(target);
        queue = queue.then(() => load(target as HTMLElement, compared, signal));
      }
    },
    { rootMargin: '200px' },
  );
  signal.addEventListener('abort', () => observer.disconnect());
  for (const place of document.querySelectorAll('.population')) observer.observe(place);
}

/** What is chosen in the form: at first what was chosen last in this browser. */
function comparedBy(form: HTMLFormElement): Compared {
  const kept = remembered<Compared>(KEPT);
  if (kept) {
    byId<HTMLSelectElement>('compare-days').value = String(kept.days);
    byId<HTMLSelectElement>('compare-cells').value = kept.cells;
  }
  return comparedIn(form);
}

function comparedIn(form: HTMLFormElement): Compared {
  const fields = new FormData(form);
  const cells = fields.get('cells') === 'same' ? 'same' : 'all';
  return { days: Number(fields.get('days')), cells };
}

async function load(place: HTMLElement, compared: Compared, signal: AbortSignal): Promise<void> {
  if (signal.aborted) return;
  const reading = JSON.parse(place.dataset.reading ?? '{}') as Reading;
  const answer = await ask<Capability>(addressOf(reading, compared));
  if (signal.aborted || !place.isConnected) return;
  if (answer.kind === 'done') drawLike(place, reading, answer.body);
  else place.querySelector('.drawing')?.replaceChildren(...notLoaded(answer, place, compared));
}

function addressOf(reading: Reading, { days, cells }: Compared): string {
  const query = new URLSearchParams({ model: reading.model, characteristic: reading.code });
  const at = reading.endedAt === null ? undefined : Date.parse(reading.endedAt);
  if (days > 0 && at !== undefined) {
    query.set('from', new Date(at - days * DAY_MS).toISOString());
    query.set('until', new Date(at + days * DAY_MS).toISOString());
  }
  if (cells === 'same') query.set('cell', reading.cell);
  return `/v1/capability?${query}`;
}

function notLoaded(
  answer: Exclude<Answer<unknown>, { kind: 'done' }>,
  place: HTMLElement,
  compared: Compared,
): HTMLElement[] {
  const why = answer.problem?.detail ?? words.network.lostDetail;
  const again = button(own.tryAgain, () => void load(place, compared, current.signal));
  return [element('p', {}, `${own.notLoaded} ${why}`), again];
}
