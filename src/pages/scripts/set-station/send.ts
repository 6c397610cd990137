import { tell, tellProblem, tellUnanswered } from '../lib/answer.js';
import { type Answer, command, type ProblemDocument } from '../lib/api.js';
import { button, type Child, element } from '../lib/dom.js';
import { whenBack } from '../lib/network.js';
import { words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { clearPair } from './pair.js';
import { chooseOrder, chosenOrder, pageOfStation, showChosenOrder } from './place.js';
import { forgetWaiting, type WaitingPair, waitingPair } from './waiting.js';

const own = words.setStation;

/** The answer to a set (`POST /v1/sets`). */
interface SetDone {
  motor: string;
  model: string;
  powerhead: string;
  lowerUnit: string;
  order: string;
  orderSet: number;
  orderQuantity: number;
  contained?: { containment: number; title: string; serial: string; held: boolean }[];
}

/** Sends the waiting pair, for the first time or again, and tells what came of it. */
export async function sendPair(waiting: WaitingPair): Promise<void> {
  const { draft, powerhead, lowerUnit } = waiting;
  tell({ kind: 'noted', heading: own.setting(powerhead, lowerUnit) });
  const answer = await command<SetDone>('/v1/sets', draft);
  if (answer.kind === 'unanswered') {
    tellWaiting(answer, waiting);
    return;
  }
  forgetWaiting();
  clearPair();
  if (answer.kind === 'done') tellDone(answer.body);
  else await tellProblem(answer.problem, [own.scanBothAgain, ...otherOrder(answer.problem)]);
  await bringUpToDate();
}

/** Brings what stands below the scan up to date. */
export async function bringUpToDate(): Promise<void> {
  await Promise.all([refresh(['next-panel', 'recent-panel'], pageOfStation()), showChosenOrder()]);
}

function tellDone(set: SetDone): void {
  const { motor, contained = [] } = set;
  const joined = contained.map((one) =>
    element('p', {}, own.joined(one.serial, one.containment, one.title, one.held)),
  );
  tell({
    kind: joined.length > 0 ? 'caution' : 'accepted',
    heading: own.done(motor),
    body: [...joined, own.labelIt(motor), factsOf(set)],
    sound: joined.length > 0 ? 'refused' : 'accepted',
  });
}

function factsOf(set: SetDone): HTMLElement {
  const facts: [string, string][] = [
    [own.model, set.model],
    [own.powerhead, set.powerhead],
    [own.lowerUnit, set.lowerUnit],
    [own.order, `${set.order}, ${own.progress(set.orderSet, set.orderQuantity)}`],
  ];
  const rows = facts.map(([term, value]) =>
    element('div', {}, element('dt', {}, term), element('dd', {}, value)),
  );
  return element('dl', { class: 'facts' }, ...rows);
}

const ABOUT_ORDERS = ['order-closed', 'order-complete', 'order-unknown', 'no-open-order'];

/** A way on where the chosen order is what stands in the way. */
export function otherOrder({ type }: ProblemDocument): Child[] {
  const isAboutOrder = ABOUT_ORDERS.some((slug) => type === `/problems/${slug}`);
  if (!isAboutOrder || chosenOrder() === undefined) return [];
  const leave = () => {
    chooseOrder(undefined);
    tell({ kind: 'noted', heading: own.mostUrgent, body: [own.scanOn] });
  };
  return [element('div', { class: 'actions' }, button(own.urgentInstead, leave))];
}

/** Says that a pair waits, why, and that it is sent again only when somebody does so. */
function tellWaiting(
  answer: Extract<Answer<unknown>, { kind: 'unanswered' }>,
  waiting: WaitingPair,
): void {
  tellUnanswered(answer, aboutWaiting(waiting));
  if (answer.why === 'signed-out') return;
  whenBack(() => {
    const still = waitingPair();
    if (!still) return;
    const heading = words.network.back;
    tell({ kind: 'caution', heading, body: aboutWaiting(still), sound: 'noted' });
  });
}

/** What a person can do about a pair that waits. */
export function aboutWaiting(waiting: WaitingPair): Child[] {
  const { powerhead, lowerUnit } = waiting;
  const forget = () => {
    forgetWaiting();
    clearPair();
    tell({ kind: 'caution', heading: own.givenUp, body: [own.givenUpWhy] });
    void bringUpToDate();
  };
  return [
    own.pairWaits(powerhead, lowerUnit),
    own.pairWaitsHow,
    element(
      'div',
      { class: 'actions' },
      button(own.sendAgain, () => void sendPair(waiting)),
      button(own.giveUp, forget),
    ),
  ];
}
