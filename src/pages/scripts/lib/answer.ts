import { type Answer, adviceFor, type ProblemDocument } from './api.js';
import { type Child, element, icon } from './dom.js';
import { stopWatching } from './network.js';
import { byId, words } from './page.js';
import { play, type Sound } from './sound.js';

export interface Told {
  kind: 'accepted' | 'refused' | 'noted' | 'waiting' | 'caution';
  heading: string;
  /** What stands before the heading; the word of the kind where left out. */
  label?: string;
  /** Sentences, or whatever else stands below the heading. */
  body?: readonly Child[];
  sound?: Sound;
}

const urgent: ReadonlySet<Told['kind']> = new Set(['refused', 'waiting', 'caution']);

/** Shows an answer over the full width in the page's place for it (`answerPlace`), by ear too. */
export function tell({ kind, label = words.answer[kind], heading, body = [], sound }: Told): void {
  stopWatching();
  const places = { calm: byId('answer-calm'), urgent: byId('answer-urgent') };
  const lines = body.map((one) => (typeof one === 'string' ? element('p', {}, one) : one));
  const before = element('span', { class: 'kind' }, label);
  const text = element('span', { class: 'words' }, heading);
  const title = element('p', { class: 'heading' }, icon(kind), before, text);
  const shown = element('div', { class: `answer ${kind}` }, title, ...lines);
  const isUrgent = urgent.has(kind);
  places.calm.replaceChildren(...(isUrgent ? [] : [shown]));
  places.urgent.replaceChildren(...(isUrgent ? [shown] : []));
  if (sound) play(sound);
}

/** Takes the answer away. */
export function clearAnswer(): void {
  stopWatching();
  byId('answer-calm').replaceChildren();
  byId('answer-urgent').replaceChildren();
}

/**
 * Shows a refusal in its own sentences, with what its catalogue advises; where it names fields,
 * those say what to do, and the advice is for programs.
 */
export async function tellProblem(
  problem: ProblemDocument,
  more: readonly Child[] = [],
): Promise<void> {
  const advice = problem.errors === undefined ? await adviceFor(problem) : undefined;
  tell({
    kind: 'refused',
    heading: problem.title,
    body: [problem.detail, ...faultsOf(problem), advice, ...more],
    sound: 'refused',
  });
}

/** Says that there is no answer for good, why, and what to do. */
export function tellUnanswered(
  answer: Extract<Answer<unknown>, { kind: 'unanswered' }>,
  more: readonly Child[] = [],
): void {
  const { network } = words;
  const { why, problem } = answer;
  const [heading, detail] = {
    network: [network.lost, network.lostDetail],
    'signed-out': [network.signedOut, network.signedOutDetail],
    busy: [problem?.title ?? network.lost, problem?.detail ?? network.lostDetail],
    strange: [network.strange, network.strangeDetail],
  }[why] as [string, string];
  const signIn = why === 'signed-out' ? [signInLink()] : [];
  tell({ kind: 'waiting', heading, body: [detail, ...signIn, ...more], sound: 'waiting' });
}

function signInLink(): HTMLElement {
  const here = `${location.pathname}${location.search}`;
  const href = `/sign-in?to=${encodeURIComponent(here)}`;
  return element('p', {}, element('a', { href, class: 'action' }, words.network.signInAgain));
}

/** Which part of what was sent is at fault, where the problem says. */
function faultsOf({ errors = [], detail }: ProblemDocument): Child[] {
  const lines = errors
    .map((one) => {
      const where = one.pointer ?? one.parameter ?? (one.line === undefined ? '' : `${one.line}`);
      return `${where}: ${one.detail}`;
    })
    .filter((line) => line !== detail);
  if (lines.length === 0) return [];
  return [element('ul', {}, ...lines.map((line) => element('li', {}, line)))];
}
