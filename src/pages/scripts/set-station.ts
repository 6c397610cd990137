import { tell, tellProblem, tellUnanswered } from './lib/answer.js';
import type { ProblemDocument } from './lib/api.js';
import { button, element } from './lib/dom.js';
import { keepFocus } from './lib/focus.js';
import { whenBack } from './lib/network.js';
import { byId, words } from './lib/page.js';
import { takeControlCharacters } from './lib/scanner.js';
import { clearPair, takeHalf } from './set-station/pair.js';
import {
  askForStation,
  chooseOrder,
  chosenOrder,
  pageOfStation,
  startPlace,
  stationName,
} from './set-station/place.js';
import { type Half, type HalfName, type Order, recognise } from './set-station/scan.js';
import { aboutWaiting, bringUpToDate, otherOrder, sendPair } from './set-station/send.js';
import { isOfPair, keepWaiting, waitingPair } from './set-station/waiting.js';

const own = words.setStation;
const field = byId<HTMLInputElement>('scan');
const backToField = keepFocus(field);

/** Scans that came while an earlier one was looked up; each is taken in its turn. */
let behind: string[] = [];
let isTaking = false;

/** Takes a scan, after those before it. */
async function take(text: string): Promise<void> {
  behind.push(text);
  if (isTaking) return;
  isTaking = true;
  try {
    for (let next = behind.shift(); next !== undefined; next = behind.shift()) {
      await takeNow(next);
    }
  } finally {
    isTaking = false;
  }
}

/** What could not be looked up is not kept to be set later unseen: it is named, and gone. */
function dropBehind(text: string): string {
  const dropped = [text, ...behind];
  behind = [];
  return own.notTaken(dropped.join(', '));
}

async function takeNow(text: string, half?: HalfName): Promise<void> {
  if (stationName() === undefined) {
    tell({ kind: 'caution', heading: own.nameStation, body: [own.nameStationWhy] });
    askForStation();
    return;
  }
  const waiting = waitingPair();
  if (waiting && isOfPair(waiting, text)) {
    await sendPair(waiting);
    return;
  }
  tell({ kind: 'noted', heading: own.lookingUp(text) });
  const answer = await recognise(text, half);
  if (answer.kind === 'unanswered') {
    const about = waiting ? aboutWaiting(waiting) : [];
    tellUnanswered(answer, [dropBehind(text), ...about]);
    if (answer.why !== 'signed-out') whenBack(tellBack);
    return;
  }
  if (answer.kind === 'refused') {
    await tellProblem(answer.problem, choiceOfHalf(answer.problem, text));
    return;
  }
  const found = answer.body;
  if (waiting) {
    if (isOfPair(waiting, found.name)) await sendPair(waiting);
    else tellPairFirst();
  } else if (found.is === 'order') await takeOrder(found.order, found.refusal);
  else await takeFound({ ...found, is: found.is, text });
}

function tellPairFirst(): void {
  const waiting = waitingPair();
  const body = waiting ? aboutWaiting(waiting) : [];
  tell({ kind: 'caution', heading: own.pairFirst, body, sound: 'waiting' });
}

function tellBack(): void {
  const waiting = waitingPair();
  const body = waiting ? aboutWaiting(waiting) : [own.scanOn];
  tell({ kind: waiting ? 'caution' : 'noted', heading: words.network.back, body, sound: 'noted' });
}

/** Two buttons, where a powerhead and a lower unit have one serial and the label says no more. */
function choiceOfHalf({ type }: ProblemDocument, text: string) {
  if (type !== '/problems/serial-ambiguous') return [];
  const choose = (half: HalfName) => {
    backToField();
    void takeNow(text, half);
  };
  const halves: HalfName[] = ['powerhead', 'lower-unit'];
  const buttons = halves.map((half) => button(own.itIs[half], () => choose(half)));
  return [own.whichHalf, element('div', { class: 'actions' }, ...buttons)];
}

async function takeOrder(order: Order, refusal: ProblemDocument | null): Promise<void> {
  if (refusal) {
    const isChosen = chosenOrder() === order.number;
    await tellProblem(refusal, isChosen ? otherOrder(refusal) : []);
    return;
  }
  chooseOrder(order);
  const body = [own.progress(order.set, order.quantity), own.buildingFor];
  tell({ kind: 'noted', heading: own.orderTaken(order.number), body, sound: 'noted' });
}

async function takeFound(half: Half): Promise<void> {
  const pair = takeHalf(half, tellLetGo);
  const station = stationName();
  // A refused half that is scanned with its fellow is sent all the same: the refusal is recorded.
  if (pair && station !== undefined) {
    await sendPair(keepWaiting(pair, station, chosenOrder()));
    return;
  }
  if (half.refusal) {
    await tellProblem(half.refusal, [own.putAside[half.is]]);
    return;
  }
  const heading = own.taken[half.is](half.name);
  tell({ kind: 'noted', heading, body: [own.nowScan[half.is]], sound: 'noted' });
}

function tellLetGo({ name }: Half): void {
  tell({ kind: 'caution', heading: own.letGo(name), body: [own.letGoWhy], sound: 'waiting' });
}

function tellReady(heading: string): void {
  const waiting = waitingPair();
  const station = stationName();
  if (station === undefined) {
    tell({ kind: 'caution', heading: own.nameStation, body: [own.nameStationWhy] });
    askForStation();
  } else if (waiting) tellPairFirst();
  else tell({ kind: 'noted', heading, body: [own.readyFor(station)] });
}

function start(): void {
  takeControlCharacters(field);
  byId<HTMLFormElement>('scan-form').addEventListener('submit', (event) => {
    event.preventDefault();
    const text = field.value.trim();
    field.value = '';
    backToField();
    if (text !== '') void take(text);
  });
  startPlace(() => {
    history.replaceState(null, '', pageOfStation());
    tellReady(own.kept(stationName() ?? ''));
    backToField();
    void bringUpToDate();
  }, backToField);
  window.addEventListener('offline', () => {
    tell({ kind: 'waiting', heading: own.networkGone, body: [own.networkGoneWhy] });
    whenBack(tellBack);
  });
  clearPair();
  history.replaceState(null, '', pageOfStation());
  tellReady(own.ready);
  void bringUpToDate();
}

start();
