import { html, type Markup } from '../../http/html.js';
import { iso } from '../../time.js';
import { type Found, type History, historyAddress } from './common.js';

/** One moment of a history: when, and what happened then. */
interface Moment {
  at: string;
  text: string;
}

/**
 * A slider over the moments of a history, one step each, the last of them now. What a step
 * says stands beside it, so that the script needs no words of its own.
 */
export function asOfPanel({ asOfMs, viewing }: Found, whole: History): Markup {
  const { words, format } = viewing;
  const moments = momentsOf(whole);
  const last = moments.length;
  const value = asOfMs === undefined ? last : stepAt(moments, asOfMs);
  const steps = [
    ...moments.map(({ at, text }) => ({
      at,
      says: `${format.dateTime(Date.parse(at))}: ${text}`,
    })),
    { at: null, says: words.history.asItIsNow },
  ];
  const said = asOfMs === undefined ? words.history.asItIsNow : format.dateTime(asOfMs);
  return html`<section class="panel as-of" id="as-of" aria-labelledby="as-of-title"><h2 id="as-of-title">${words.history.asOfLabel}</h2>
<label class="visually-hidden" for="as-of-step">${words.history.asOfLabel}</label>
<input type="range" id="as-of-step" min="0" max="${last}" step="1" value="${value}" aria-describedby="as-of-hint" aria-valuetext="${steps[value]?.says ?? said}" data-now="${historyAddress(whole.unit)}" data-steps="${JSON.stringify(steps)}" autocomplete="off">
<p id="as-of-says" class="says">${asOfMs === undefined ? said : (steps[value]?.says ?? said)}</p>
<p class="hint" id="as-of-hint">${words.history.asOfHint}</p></section>`;
}

/** The moment at which what stands below is looked at, with the way back. */
export function asOfTitle({ asOfMs, viewing, history }: Found): Markup | null {
  if (asOfMs === undefined) return null;
  const { words, format } = viewing;
  return html`<div class="answer noted then"><p class="heading">${words.history.asItWas(format.dateTime(asOfMs))}</p><p>${words.history.asItWasNote} <a href="${historyAddress(history.unit)}">${words.history.backToNow}</a></p></div>`;
}

/** What happened at one instant is one moment, told by its first event. */
function momentsOf({ timeline }: History): Moment[] {
  const byInstant = new Map<string, string[]>();
  for (const { at, text } of timeline) byInstant.set(at, [...(byInstant.get(at) ?? []), text]);
  return [...byInstant]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([at, texts]) => ({ at, text: texts.join('; ') }));
}

/** The last moment that had come by an instant; the first where none had. */
function stepAt(moments: readonly Moment[], asOfMs: number): number {
  const asOf = iso(asOfMs);
  return Math.max(
    0,
    moments.findLastIndex(({ at }) => at <= asOf),
  );
}
