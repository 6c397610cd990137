import { tellUnanswered } from '../lib/answer.js';
import { byId } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';

/** One moment of the history; the last step is now, and has no instant. */
interface Step {
  at: string | null;
  says: string;
}

/** How long the slider has to rest before its moment is asked for. */
const REST_MS = 200;

/**
 * Lets the slider lead through the moments of the history: it says each at once, and shows
 * everything as of the one where it rests, whose address the page then bears.
 * @param shown what follows when another moment is shown
 */
export function followAsOf(shown: () => void): void {
  const slider = byId<HTMLInputElement>('as-of-step');
  const steps = JSON.parse(slider.dataset.steps ?? '[]') as Step[];
  let resting: number | undefined;
  let asked = 0;
  slider.addEventListener('input', () => {
    const step = steps[Number(slider.value)];
    if (!step) return;
    byId('as-of-says').textContent = step.says;
    slider.setAttribute('aria-valuetext', step.says);
    window.clearTimeout(resting);
    resting = window.setTimeout(() => void go(step), REST_MS);
  });

  async function go({ at }: Step): Promise<void> {
    const now = slider.dataset.now ?? '';
    const address = at === null ? now : `${now}&asOf=${encodeURIComponent(at)}`;
    asked += 1;
    const own = asked;
    byId('record').setAttribute('aria-busy', 'true');
    const had = await refresh(['record'], address);
    // A later step's answer may have come first: then this one was swapped in for nothing.
    if (own !== asked) return;
    byId('record').setAttribute('aria-busy', 'false');
    if (!had) {
      tellUnanswered({ kind: 'unanswered', why: 'network' });
      return;
    }
    window.history.replaceState(null, '', address);
    shown();
  }
}
