import { remember, remembered } from '../lib/kept.js';
import { byId } from '../lib/page.js';
import type { OpenRun } from './cell.js';
import { follow } from './follow.js';

const AT = 'test-cell.prompt';

/** The prompt in hand of a run, kept so that a page loaded anew goes on with it. */
let inHand: { run: number; at: number } | undefined = remembered(AT);

function blocks(): HTMLElement[] {
  return [...document.querySelectorAll<HTMLElement>('.prompt')];
}

function codesOf(block: HTMLElement): string[] {
  return (block.dataset.codes ?? '').split(' ').filter((code) => code !== '');
}

function missingIn(run: OpenRun): Set<string> {
  const read = run.judgements.filter((one) => one.value !== null).map((one) => one.code);
  const all = run.judgements.map((one) => one.code);
  return new Set(all.filter((code) => !read.includes(code)));
}

/** Shows the prompt in hand alone; the first of a run that is new here. */
export function showPrompt(run: OpenRun): void {
  const last = blocks().length - 1;
  const at = inHand?.run === run.id ? inHand.at : firstToRead(run);
  show(run.id, Math.min(Math.max(at, 0), last));
  byId('prompt-back').onclick = () => step(run.id, -1);
  byId('prompt-next').onclick = () => step(run.id, 1);
}

/** Where a run goes on that was begun elsewhere: behind the last prompt that was read at. */
function firstToRead(run: OpenRun): number {
  const missing = missingIn(run);
  const prompts = blocks().map(codesOf);
  return follow(0, prompts, new Set(prompts.flat()), missing);
}

/** Goes on by itself when all of a prompt was read. */
export function followReadings(before: OpenRun, now: OpenRun): void {
  if (inHand?.run !== now.id) return;
  const prompts = blocks().map(codesOf);
  const at = follow(inHand.at, prompts, missingIn(before), missingIn(now));
  if (at === inHand.at) return;
  const wasHere = byId('prompts').contains(document.activeElement);
  show(now.id, at);
  if (wasHere) focusPrompt();
}

/** Puts the focus where the prompt in hand is read, or on the prompt itself. */
export function focusPrompt(): void {
  const block = blocks()[inHand?.at ?? 0];
  (block?.querySelector<HTMLElement>('input, button') ?? block)?.focus();
}

function step(run: number, by: number): void {
  const at = (inHand?.at ?? 0) + by;
  if (at < 0 || at >= blocks().length) return;
  show(run, at);
  blocks()[at]?.focus();
}

function show(run: number, at: number): void {
  inHand = { run, at };
  remember(AT, inHand);
  const all = blocks();
  for (const [i, block] of all.entries()) block.hidden = i !== at;
  setEnabled('prompt-back', at > 0);
  setEnabled('prompt-next', at < all.length - 1);
}

/** Stays focusable, so that the focus is not lost at the first and the last prompt. */
function setEnabled(id: string, enabled: boolean): void {
  byId(id).setAttribute('aria-disabled', String(!enabled));
}
