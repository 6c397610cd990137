import { html, type Markup } from '../../http/html.js';
import type { Viewing } from '../screen.js';

/** A revision on a time line, of a configuration or of a specification. */
export interface Revision {
  id: number;
  revision: number;
  state: 'draft' | 'approved';
  /** Null for a draft that takes effect with its approval. */
  effectiveFromMs: number | null;
  /** Whether it ends what it is a revision of. */
  discontinued?: boolean;
}

/** A revision with what it is at this moment, and until when it is in force. */
export interface Placed<R extends Revision> {
  row: R;
  standing: 'draft' | 'past' | 'now' | 'future' | 'ended';
  /** Null: no later revision is approved. */
  untilMs: number | null;
}

/** Revisions in the order of their numbers, each with its time in force. */
export function placed<R extends Revision>(rows: readonly R[], now: number): Placed<R>[] {
  const approved = rows
    .filter((row) => row.state === 'approved')
    .sort((a, b) => (a.effectiveFromMs ?? 0) - (b.effectiveFromMs ?? 0));
  const inOrder = [...approved, ...rows.filter((row) => row.state === 'draft')];
  return inOrder.map((row) => {
    const next = approved[approved.indexOf(row) + 1];
    const untilMs = row.state === 'draft' ? null : (next?.effectiveFromMs ?? null);
    return { row, standing: standingOf(row, untilMs, now), untilMs };
  });
}

function standingOf(
  row: Revision,
  untilMs: number | null,
  now: number,
): Placed<Revision>['standing'] {
  if (row.state === 'draft') return 'draft';
  if ((row.effectiveFromMs ?? 0) > now) return 'future';
  if (untilMs !== null && untilMs <= now) return 'past';
  return row.discontinued ? 'ended' : 'now';
}

/** The span that time lines below each other share, so that they can be compared. */
export interface Span {
  fromMs: number;
  toMs: number;
}

const DAY_MS = 24 * 60 * 60 * 1000;
/** Room before the first and behind the last date, as a share of the time between. */
const BEFORE = 0.03;
const BEHIND = 0.15;

export function spanOf(rows: readonly Revision[], now: number): Span {
  const dates = [now, ...rows.flatMap((row) => row.effectiveFromMs ?? [])];
  const [first, last] = [Math.min(...dates), Math.max(...dates)];
  const length = Math.max(last - first, DAY_MS);
  return { fromMs: first - BEFORE * length, toMs: last + BEHIND * length };
}

const HEIGHT = 60;
/** Narrower bars, in percent, have no room for their revision; the words say it. */
const LABELLED = 7;

/**
 * Which revision was, is and will be in force: bars on a line of time, and the same in words.
 * What is now, was and will be differ by outline, not by colour.
 */
export function timeLine<R extends Revision>(
  all: readonly Placed<R>[],
  span: Span,
  viewing: Viewing,
): Markup {
  const { format, now, words } = viewing;
  const bars = all.map((one) => barOf(one, span));
  const at = place(now, span);
  return html`<div class="line"><svg class="time-line" width="100%" height="${HEIGHT}" aria-hidden="true" focusable="false"><line class="axis" x1="0" x2="100%" y1="34" y2="34"/>${bars}<line class="present" x1="${at}%" x2="${at}%" y1="2" y2="40"/><text class="at-present" x="${at}%" y="54" text-anchor="${at < 50 ? 'start' : 'end'}">${words.catalogue.line.axisNow(format.day(now))}</text></svg><p class="ends" aria-hidden="true"><span>${format.day(span.fromMs)}</span><span>${format.day(span.toMs)}</span></p><p class="says">${sentencesOf(all, viewing).join(' ')}</p></div>`;
}

function barOf({ row, standing, untilMs }: Placed<Revision>, span: Span): Markup | null {
  if (row.effectiveFromMs === null) return null;
  const x = place(row.effectiveFromMs, span);
  const width = Math.max(0.4, place(untilMs ?? span.toMs, span) - x);
  const ends = row.discontinued === true;
  const label =
    width < LABELLED || ends
      ? null
      : html`<text class="${standing}" x="${round(x + 0.7)}%" y="22">${row.revision}</text>`;
  return html`<rect class="${standing}${ends ? ' ending' : ''}" x="${x}%" y="${ends ? 15 : 6}" width="${round(width)}%" height="${ends ? 3 : 22}"/>${label}`;
}

function place(ms: number, { fromMs, toMs }: Span): number {
  return round((100 * (ms - fromMs)) / (toMs - fromMs));
}

function round(percent: number): number {
  return Math.round(percent * 100) / 100;
}

function sentencesOf(
  all: readonly Placed<Revision>[],
  { words: { catalogue: words }, format }: Viewing,
): string[] {
  const { line } = words;
  const when = (ms: number | null) => format.dateTime(ms ?? 0);
  const current = all.find(({ standing }) => standing === 'now' || standing === 'ended');
  const sentences = [current ? currentSentence(current) : line.none];
  for (const { row, standing } of all) {
    if (standing === 'future') {
      const say = row.discontinued ? line.nextEnds : line.next;
      sentences.push(say(row.revision, when(row.effectiveFromMs)));
    }
    if (standing === 'draft') {
      sentences.push(
        row.effectiveFromMs === null
          ? line.draft(row.revision)
          : line.draftFor(row.revision, when(row.effectiveFromMs)),
      );
    }
  }
  return sentences;

  function currentSentence({ row, standing }: Placed<Revision>): string {
    const say = standing === 'ended' ? line.ended : line.now;
    return say(row.revision, when(row.effectiveFromMs));
  }
}
