import { byId, format, words } from './lib/page.js';

const own = words.live;
/** Whoever follows by ear is told no more often. */
const ANNOUNCE_EVERY_MS = 30_000;
/** After the service has turned the stream away for good, it is asked again now and then. */
const AGAIN_AFTER_MS = 60_000;

interface Board {
  regions: Record<string, string>;
  announcement: string;
}

let source: EventSource | undefined;
let again: ReturnType<typeof setTimeout> | undefined;
let announcedAt = 0;
let waiting: ReturnType<typeof setTimeout> | undefined;
let newest = '';

if (document.getElementById('live-day')) begin();

/** A hidden page listens to nothing: browsers have few connections for all pages of a service. */
function begin(): void {
  document.addEventListener('visibilitychange', () => (document.hidden ? close() : open()));
  addEventListener('pagehide', close);
  open();
}

function open(): void {
  if (source || document.hidden) return;
  clearTimeout(again);
  source = new EventSource('/live/stream');
  source.addEventListener('board', (event) => take(JSON.parse(event.data) as Board));
  source.addEventListener('error', () => {
    if (source?.readyState !== EventSource.CLOSED) {
      say(own.connection.lost, true);
      return;
    }
    close();
    say(own.connection.ended, true);
    again = setTimeout(open, AGAIN_AFTER_MS);
  });
}

function close(): void {
  source?.close();
  source = undefined;
}

/** Puts regions that changed in place of those here; what had the focus has it again. */
function take({ regions, announcement }: Board): void {
  for (const [id, text] of Object.entries(regions)) {
    const fresh = new DOMParser().parseFromString(text, 'text/html').getElementById(id);
    const shown = byId(id);
    if (!fresh || fresh.outerHTML === shown.outerHTML) continue;
    const focused = shown.contains(document.activeElement) ? document.activeElement : null;
    const place = document.adoptNode(fresh);
    shown.replaceWith(place);
    focusAgain(place, focused);
  }
  say(own.connection.live(format.time(Date.now())), false);
  announce(announcement);
}

function focusAgain(place: Element, focused: Element | null): void {
  const href = focused?.getAttribute('href');
  const label = focused?.getAttribute('aria-label');
  const same = (one: Element) =>
    one.getAttribute('href') === href && one.getAttribute('aria-label') === label;
  if (!focused) return;
  [...place.querySelectorAll<HTMLElement>('a, [tabindex]')].find(same)?.focus();
}

function say(sentence: string, isTrouble: boolean): void {
  const place = byId('live-connection');
  place.textContent = sentence;
  place.classList.toggle('trouble', isTrouble);
  if (isTrouble) announce(sentence);
}

/** Announces the newest sentence now, or once half a minute has gone by since the last. */
function announce(sentence: string): void {
  newest = sentence;
  if (waiting !== undefined) return;
  const wait = Math.max(0, announcedAt + ANNOUNCE_EVERY_MS - Date.now());
  waiting = setTimeout(() => {
    waiting = undefined;
    announcedAt = Date.now();
    byId('live-announcement').textContent = newest;
  }, wait);
}
