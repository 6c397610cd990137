import { tell, tellProblem, tellUnanswered } from '../lib/answer.js';
import { command } from '../lib/api.js';
import { words } from '../lib/page.js';
import type { Judged, OpenRun } from './cell.js';

const own = words.testCell;

/**
 * Batches that a person types are numbered from here on, so that they neither take a number
 * that the cell's software will use nor count before what it sends.
 */
const FIRST_TYPED_BATCH = 9001;
/** Somebody else may take a number between looking and sending, but hardly three times. */
const TRIES = 3;

const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;

interface Reading {
  code: string;
  value: number | boolean;
}

/** Sends what was typed into a prompt's form; marks what is no number and sends nothing then. */
export async function recordTyped(form: HTMLFormElement, look: Look): Promise<void> {
  const inputs = [...form.querySelectorAll('input')];
  const filled = inputs.filter((one) => one.value.trim() !== '');
  const wrong = filled.filter((one) => !NUMBER.test(one.value.trim()));
  for (const one of inputs) one.setAttribute('aria-invalid', String(wrong.includes(one)));
  const [first] = wrong;
  if (first) {
    const heading = own.notANumber(first.value.trim());
    tell({ kind: 'refused', heading, body: [own.numberHow], sound: 'refused' });
    first.select();
    return;
  }
  if (filled.length === 0) {
    tell({ kind: 'caution', heading: own.typeSomething, sound: 'waiting' });
    return;
  }
  const readings = filled.map((one) => ({ code: one.name, value: Number(one.value.trim()) }));
  if (await record(readings, look)) form.reset();
}

/** Looks how the cell stands now: its open run, null without one, undefined without an answer. */
export type Look = () => Promise<OpenRun | null | undefined>;

/** Codes that are being recorded here, of which this says itself how they are judged. */
const underWay = new Set<string>();

export function isUnderWay(code: string): boolean {
  return underWay.has(code);
}

/** Sends readings as one batch, and says how they are judged. @returns whether they were taken */
export async function record(readings: readonly Reading[], look: Look): Promise<boolean> {
  for (const { code } of readings) underWay.add(code);
  try {
    return await send(readings, look);
  } finally {
    underWay.clear();
  }
}

async function send(readings: readonly Reading[], look: Look): Promise<boolean> {
  for (let tries = 0; tries < TRIES; tries += 1) {
    const run = await look();
    if (run === undefined) {
      tellUnanswered({ kind: 'unanswered', why: 'network' }, [words.network.sendAgain]);
      return false;
    }
    // It has just ended, and that is told.
    if (run === null) return false;
    const sequence = Math.max(FIRST_TYPED_BATCH, run.lastBatch + 1);
    const answer = await command(`/v1/runs/${run.id}/batches`, { sequence, readings });
    if (answer.kind === 'unanswered') {
      tellUnanswered(answer, [words.network.sendAgain]);
      return false;
    }
    if (answer.kind === 'done') {
      tellRecorded(readings, await look());
      return true;
    }
    if (answer.problem.type !== '/problems/batch-conflict') {
      await tellProblem(answer.problem);
      return false;
    }
  }
  tell({ kind: 'waiting', heading: own.clashed, body: [own.clashedWhy], sound: 'waiting' });
  return false;
}

function tellRecorded(readings: readonly Reading[], run: OpenRun | null | undefined): void {
  if (!run) return;
  const codes = new Set(readings.map((one) => one.code));
  const judged = run.judgements.filter((one) => codes.has(one.code));
  const bad = judged.filter((one) => one.conforms === false);
  if (bad.length > 0) {
    tellNotAccepted(bad);
    return;
  }
  tell({ kind: 'noted', label: own.recorded, heading: namesOf(judged), sound: 'noted' });
}

/** Says of readings that they are not accepted as they stand. */
export function tellNotAccepted(bad: readonly Judged[]): void {
  const label = own.notAcceptedLabel;
  tell({ kind: 'refused', label, heading: namesOf(bad), body: [own.readAgain], sound: 'waiting' });
}

function namesOf(judged: readonly Judged[]): string {
  return judged.map((one) => one.name).join(', ');
}
