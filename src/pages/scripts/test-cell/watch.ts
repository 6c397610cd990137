import { tell, tellUnanswered } from '../lib/answer.js';
import { ask } from '../lib/api.js';
import { words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import type { TestCell } from './cell.js';
import { cellName, pageOfCell } from './place.js';

const LOOK_EVERY_MS = 1000;

/** What is told when the cell changed: as it stood before, and as it stands now. */
export type Changed = (before: TestCell | undefined, now: TestCell) => void | Promise<void>;

let known: TestCell | undefined;
let isLost = false;
let timer: ReturnType<typeof setInterval> | undefined;
let looking: Promise<unknown> = Promise.resolve();
let underWay = 0;
let whenChanged: Changed = () => undefined;

/** Asks every second how the cell stands, since its own software posts readings, too. */
export function startWatching(changed: Changed): void {
  whenChanged = changed;
  clearInterval(timer);
  timer = setInterval(() => {
    // A service that is slow to answer is not asked twice at a time.
    if (underWay === 0) void lookNow();
  }, LOOK_EVERY_MS);
  void lookNow();
}

/** Forgets how the cell stood, since the browser stands at another now. */
export function forgetCell(): void {
  known = undefined;
}

/** Looks once more, after any look that is under way, and returns how the cell stands. */
export function lookNow(): Promise<TestCell | undefined> {
  underWay += 1;
  const next = looking.then(look, look).finally(() => {
    underWay -= 1;
  });
  looking = next;
  return next;
}

async function look(): Promise<TestCell | undefined> {
  const cell = cellName();
  if (cell === undefined) return undefined;
  const answer = await ask<TestCell>(`/v1/test-cells/${encodeURIComponent(cell)}`);
  if (cell !== cellName()) return undefined;
  if (answer.kind === 'unanswered') {
    lose(answer);
    return undefined;
  }
  if (answer.kind === 'refused') return undefined;
  if (isLost) {
    isLost = false;
    tell({ kind: 'noted', heading: words.network.back, sound: 'noted' });
  }
  await take(answer.body);
  return answer.body;
}

/** Says once that there is no answer, and goes on asking, unless nobody is signed in. */
function lose(answer: Parameters<typeof tellUnanswered>[0]): void {
  if (answer.why === 'signed-out') clearInterval(timer);
  if (isLost) return;
  isLost = true;
  tellUnanswered(answer, answer.why === 'signed-out' ? [] : [words.testCell.keepsTrying]);
}

/** Brings the page up to date where something changed: all of the cell, or what is live in it. */
async function take(now: TestCell): Promise<void> {
  if (JSON.stringify(now) === JSON.stringify(known)) return;
  const isOther = known?.cell !== now.cell || known.run?.id !== now.run?.id;
  const isShown = await refresh(isOther ? ['cell-region'] : liveIds(), pageOfCell());
  // What could not be shown counts as not seen: the next look tries again.
  if (!isShown) return;
  const before = known;
  known = now;
  await whenChanged(before, now);
}

function liveIds(): string[] {
  return [...document.querySelectorAll('[data-live]')].map((one) => one.id);
}
