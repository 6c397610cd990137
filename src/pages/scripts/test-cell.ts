import { tell, tellProblem, tellUnanswered } from './lib/answer.js';
import { command, type ProblemDocument } from './lib/api.js';
import { button, type Child, element } from './lib/dom.js';
import { sendsCommand } from './lib/form.js';
import { byId, words } from './lib/page.js';
import { takesScans } from './lib/scan-form.js';
import { type OpenRun, type TestCell, whereUnderTest } from './test-cell/cell.js';
import { isUnderWay, record, recordTyped, tellNotAccepted } from './test-cell/entry.js';
import { askForCell, cellName, pageOfCell, startPlace } from './test-cell/place.js';
import { focusPrompt, followReadings, showPrompt } from './test-cell/prompts.js';
import { tellEnd } from './test-cell/verdict.js';
import { forgetCell, lookNow, startWatching } from './test-cell/watch.js';

const own = words.testCell;
const backToScan = takesScans('scan', begin);

const openRun = async (): Promise<OpenRun | null | undefined> => (await lookNow())?.run;

/** Runs that this browser began or took over: it need not say that they are open. */
const ownRuns = new Set<number>();

/** Begins the run of a scanned motor. */
async function begin(motor: string): Promise<void> {
  const cell = cellName();
  if (cell === undefined) {
    tellNameless();
    return;
  }
  tell({ kind: 'noted', heading: own.beginning(motor) });
  const answer = await command<OpenRun>('/v1/runs', { motor, cell });
  if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
  else if (answer.kind === 'done')
    await show(answer.body, own.hasBegun(answer.body.id, answer.body.motor));
  else await tellNotBegun(answer.problem, motor);
}

async function show(run: OpenRun, heading: string): Promise<void> {
  ownRuns.add(run.id);
  await lookNow();
  focusPrompt();
  tell({ kind: 'noted', label: own.readyTitle, heading, sound: 'noted' });
}

async function tellNotBegun(problem: ProblemDocument, motor: string): Promise<void> {
  const where = whereUnderTest(problem);
  if (where?.cell === cellName()) {
    tell({ kind: 'noted', heading: own.isHere(motor), sound: 'noted' });
    await lookNow();
    return;
  }
  await tellProblem(problem, where ? takeOverFrom(where) : []);
}

/** A way to go on with a run here that was begun in another cell. */
function takeOverFrom({ run, cell }: { run: number; cell: string }): Child[] {
  const take = button(own.takeOver(run, cell), () => void takeOver(run));
  return [own.takeOverWhy, element('div', { class: 'actions' }, take)];
}

async function takeOver(run: number): Promise<void> {
  const body = { cell: cellName() };
  const answer = await command<OpenRun>(`/v1/runs/${run}/resumption`, body);
  if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
  else if (answer.kind === 'refused') await tellProblem(answer.problem);
  else await show(answer.body, own.takenOver(run));
}

/** Follows a cell in which a run began, ended, or read something. */
async function follow(before: TestCell | undefined, now: TestCell): Promise<void> {
  const { run } = now;
  const ran = before?.cell === now.cell ? before.run : undefined;
  byId('scan-form').hidden = run !== null;
  if (run && ran?.id === run.id) {
    followReadings(ran, run);
    tellNewlyBad(ran, run);
    return;
  }
  if (ran) await tellGone(ran, now);
  if (run) takeUp(run, ran === undefined || ran === null);
  else if (ran || before?.cell !== now.cell) {
    if (!ran) tell({ kind: 'noted', label: own.readyTitle, heading: own.ready(now.cell) });
    backToScan();
  }
}

/** Says how a run that was open here ended, or that it goes on elsewhere. */
async function tellGone(ran: OpenRun, { lastRun }: TestCell): Promise<void> {
  ownRuns.delete(ran.id);
  if (lastRun?.id === ran.id) await tellEnd(lastRun);
  else tell({ kind: 'noted', heading: own.goesOnElsewhere(ran.id), sound: 'noted' });
}

/** Shows a run that is open here now, whoever began it. */
function takeUp(run: OpenRun, isToTell: boolean): void {
  showPrompt(run);
  startFinish(run);
  if (!isToTell || ownRuns.has(run.id)) return;
  const heading = own.isOpen(run.id, run.motor);
  tell({ kind: 'noted', label: own.readyTitle, heading, body: [own.goOn], sound: 'noted' });
}

/** Says of readings that the cell’s software sent that they are not accepted. */
function tellNewlyBad(before: OpenRun, now: OpenRun): void {
  const valueBefore = new Map(before.judgements.map((one) => [one.code, one.value]));
  const bad = now.judgements.filter(
    ({ code, value, conforms }) =>
      conforms === false && valueBefore.get(code) !== value && !isUnderWay(code),
  );
  if (bad.length > 0) tellNotAccepted(bad);
}

function startFinish({ id }: OpenRun): void {
  byId('complete').addEventListener('click', async () => {
    const answer = await command(`/v1/runs/${id}/completion`, {});
    if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
    else if (answer.kind === 'refused') await tellProblem(answer.problem);
    else await lookNow();
  });
  sendsCommand(byId<HTMLFormElement>('abort-form'), {
    address: `/v1/runs/${id}/abort`,
    done: async () => void (await lookNow()),
  });
}

function tellNameless(): void {
  tell({ kind: 'caution', heading: own.nameCell, body: [own.nameCellWhy] });
  askForCell();
}

/** Readings are typed and answered in markup that comes and goes, so the page listens for them. */
function startEntry(): void {
  document.addEventListener('submit', (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.matches('.entry')) return;
    event.preventDefault();
    void recordTyped(form, openRun);
  });
  document.addEventListener('click', (event) => {
    const pressed = event.target instanceof Element && event.target.closest('button[data-code]');
    if (!(pressed instanceof HTMLButtonElement)) return;
    const { code = '' } = pressed.dataset;
    void record([{ code, value: pressed.value === 'true' }], openRun);
  });
}

function start(): void {
  startEntry();
  startPlace(() => {
    history.replaceState(null, '', pageOfCell());
    forgetCell();
    tell({ kind: 'noted', heading: own.kept(cellName() ?? '') });
    void lookNow();
  });
  history.replaceState(null, '', pageOfCell());
  if (cellName() === undefined) tellNameless();
  startWatching(follow);
}

start();
