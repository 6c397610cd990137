import { tell, tellProblem, tellUnanswered } from '../lib/answer.js';
import { ask, command, type ProblemDocument } from '../lib/api.js';
import { button, type Child, element } from '../lib/dom.js';
import { byId, words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { takesScans } from '../lib/scan-form.js';
import { className, type Part, type ScannedPart, showPart, titleOf } from './part.js';

const own = words.repairBench;

/** The body of an exchange (`POST /v1/repairs/{repair}/exchanges`). */
interface ExchangeDraft {
  parentClass: string;
  parent: string;
  position: string;
  removed?: string;
  removedAs?: string;
  fitted?: { class: string; serial: string };
}

type Place = Pick<ExchangeDraft, 'parentClass' | 'parent' | 'position' | 'removed'>;

let out: ScannedPart | undefined;
let into: ScannedPart | undefined;

/** Takes old and new parts as they are scanned, in any order, and records their exchange. */
export function startExchange(repair: number): void {
  const back = takesScans('part', (text) => take(repair, text, back));
  document.addEventListener('change', (event) => {
    if (event.target instanceof Element && event.target.id === 'place') choosePlace();
  });
  byId<HTMLFormElement>('exchange-form').addEventListener('submit', (event) => {
    event.preventDefault();
    void send(repair, back);
  });
  showBoth();
}

async function take(repair: number, text: string, back: () => void, of?: string): Promise<void> {
  tell({ kind: 'noted', heading: own.lookingUp(text) });
  const query = new URLSearchParams({ text, ...(of === undefined ? {} : { class: of }) });
  const answer = await ask<Part>(`/v1/repairs/${repair}/scan?${query}`);
  if (answer.kind === 'unanswered') {
    tellUnanswered(answer);
    return;
  }
  if (answer.kind === 'refused') {
    const choose = (chosen: string) => {
      back();
      void take(repair, text, back, chosen);
    };
    await tellProblem(answer.problem, choiceOfClass(answer.problem, choose));
    return;
  }
  await taken({ ...answer.body, text });
}

/** A button for each class, where units of several bear the serial. */
function choiceOfClass(problem: ProblemDocument, choose: (chosen: string) => void): Child[] {
  const { type, classes } = problem;
  if (type !== '/problems/serial-ambiguous' || !Array.isArray(classes)) return [];
  const buttons = classes
    .filter((one) => typeof one === 'string')
    .map((one) => button(className(one), () => choose(one)));
  return [own.whichClass, element('div', { class: 'actions' }, ...buttons)];
}

async function taken(part: ScannedPart): Promise<void> {
  if (part.inside) {
    out = part;
    selectPlaceOf(part);
  } else into = part;
  showBoth();
  if (part.refusal) {
    await tellProblem(part.refusal);
    return;
  }
  const heading = part.inside ? own.outTaken(titleOf(part)) : own.inTaken(titleOf(part));
  const body = out && into ? [] : [own.nowOther];
  tell({ kind: 'noted', heading, body, sound: 'noted' });
}

function showBoth(): void {
  showPart('out', out, () => {
    out = undefined;
    byId<HTMLSelectElement>('place').value = '';
    showBoth();
  });
  showPart('in', into, () => {
    into = undefined;
    showBoth();
  });
}

function selectPlaceOf({ parentClass, parent, position }: Part): void {
  byId<HTMLSelectElement>('place').value = `${parentClass} ${parent} ${position}`;
  choosePlace();
}

/** What was scanned to come out belongs to its own position, and to no other that is chosen. */
function choosePlace(): void {
  const { value } = byId<HTMLSelectElement>('place');
  byId('other-place').hidden = value !== 'other';
  if (!out || value === `${out.parentClass} ${out.parent} ${out.position}`) return;
  out = undefined;
  showBoth();
}

/** Where the exchange is, and what comes out; undefined where that is not said yet. */
function chosenPlace(): Place | undefined {
  const choice = byId<HTMLSelectElement>('place');
  if (choice.value === 'other') return otherPlace();
  const { parentClass, parent, position, occupant } = choice.selectedOptions[0]?.dataset ?? {};
  if (parentClass === undefined || parent === undefined || position === undefined) return undefined;
  const removed = out?.text ?? occupant;
  return { parentClass, parent, position, ...(removed ? { removed } : {}) };
}

function otherPlace(): Place | undefined {
  const chosen = byId<HTMLSelectElement>('other-parent').selectedOptions[0];
  const position = byId<HTMLInputElement>('other-position').value.trim();
  const parentClass = chosen?.dataset.class;
  if (parentClass === undefined || position === '') return undefined;
  return { parentClass, parent: chosen?.value ?? '', position };
}

async function send(repair: number, back: () => void): Promise<void> {
  const place = chosenPlace();
  if (!place || (place.removed === undefined && !into)) {
    const [heading, why] = place
      ? [own.nothingToDo, own.nothingToDoWhy]
      : [own.noPosition, own.noPositionWhy];
    tell({ kind: 'caution', heading, body: [why], sound: 'waiting' });
    return;
  }
  const answer = await command(`/v1/repairs/${repair}/exchanges`, draftOf(place));
  if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
  else if (answer.kind === 'refused') await tellProblem(answer.problem);
  else {
    out = undefined;
    into = undefined;
    byId<HTMLFormElement>('exchange-form').reset();
    byId('other-place').hidden = true;
    showBoth();
    await refresh(['place-choice', 'other-parent', 'exchanges', 'retest']);
    tell({ kind: 'accepted', heading: own.exchanged, body: [own.fastenings], sound: 'accepted' });
    back();
  }
}

function draftOf(place: Place): ExchangeDraft {
  const removedAs = new FormData(byId<HTMLFormElement>('exchange-form')).get('removedAs');
  return {
    ...place,
    ...(place.removed === undefined ? {} : { removedAs: String(removedAs) }),
    ...(into ? { fitted: { class: into.class, serial: into.text } } : {}),
  };
}
