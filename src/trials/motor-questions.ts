import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import { cutPage, type Page } from '../http/cursor.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { Outcome } from '../series/block.js';
import { unpackJudged } from '../testing/packing.js';
import { presentJudgement } from '../testing/present.js';
import { type Characteristic, type JudgedRun, judgeRun, judgeValue } from '../testing/rules.js';
import { iso } from '../time.js';
import {
  isTrialFirstPass,
  type JudgedBlock,
  judgedBlocks,
  openTrial,
  type PastPlan,
  repairedBefore,
  type Trial,
  type TrialAsked,
} from './replay.js';
import { readingsFor, sideOf } from './rules.js';
import type { Listing, trialMotorLine } from './schema.js';
import { isLacking } from './tally.js';

type Line = z.input<typeof trialMotorLine>;

export interface TrialMotorsAsked extends TrialAsked {
  which: Listing;
  /** Only runs which this characteristic decides. */
  code: string | null;
  /** End and id of the run after which the page begins. */
  after: readonly [endedAtMs: number, runId: number];
  limit: number;
}

/** A run that is listed, and how it is judged. */
interface Listed {
  runId: number;
  endedAtMs: number;
  plan: PastPlan;
}

/**
 * A page of the runs behind a figure of a trial, in the order in which they ended, with
 * their motors; for a worker thread.
 * @throws Problem specification-unknown, characteristic-unknown
 */
export function trialMotors(plant: Plant, asked: TrialMotorsAsked): Page<Line> {
  return plant.atomically(() => {
    const trial = openTrial(plant, asked);
    if (asked.code !== null) assertKnown(plant, trial, asked.code);
    const [afterMs] = asked.after;
    const first = new FirstRuns(asked);
    for (const judged of judgedBlocks(plant, trial, Math.max(asked.fromMs, afterMs))) {
      for (const row of judged.rows) {
        if (first.mayTake(judged, row) && isListed(plant, judged, row, asked)) {
          first.take(judged, row);
        }
      }
    }
    const page = cutPage(first.inOrder(), asked.limit, (one) => [one.endedAtMs, one.runId]);
    return { ...page, items: page.items.map((one) => presentListed(plant, trial, one)) };
  });
}

/** @throws Problem characteristic-unknown */
function assertKnown(plant: Plant, { specification }: Trial, code: string): void {
  const ids = [specification.id, ...plant.series.specificationsOf(specification.model)];
  const isIn = (id: number) =>
    existingSpecification(plant, id).characteristics.some((one) => one.code === code);
  if (ids.some(isIn)) return;
  throw new Problem(
    'characteristic-unknown',
    `Neither this specification nor an approved one of model ${specification.model} has a characteristic ${code}.`,
  );
}

/** Keeps the first runs after a place, however many are offered. */
class FirstRuns {
  #kept: Listed[] = [];
  readonly #wanted: number;
  #from: readonly [number, number];
  #until: readonly [number, number] = [Infinity, Infinity];

  constructor({ after, limit }: TrialMotorsAsked) {
    this.#from = after;
    this.#wanted = limit + 1;
  }

  mayTake({ block }: JudgedBlock, row: number): boolean {
    const at = [block.endedAtMs[row] as number, block.runIds[row] as number] as const;
    return inOrder(this.#from, at) < 0 && inOrder(at, this.#until) < 0;
  }

  take({ block, plan }: JudgedBlock, row: number): void {
    const [runId, endedAtMs] = [block.runIds[row] as number, block.endedAtMs[row] as number];
    this.#kept.push({ runId, endedAtMs, plan });
    if (this.#kept.length >= 4 * this.#wanted) this.#cut();
  }

  inOrder(): Listed[] {
    this.#cut();
    return this.#kept;
  }

  #cut(): void {
    const placeOf = (one: Listed) => [one.endedAtMs, one.runId] as const;
    this.#kept.sort((a, b) => inOrder(placeOf(a), placeOf(b)));
    this.#kept.length = Math.min(this.#kept.length, this.#wanted);
    const last = this.#kept[this.#wanted - 1];
    if (last) this.#until = placeOf(last);
  }
}

function inOrder(a: readonly [number, number], b: readonly [number, number]): number {
  return a[0] === b[0] ? a[1] - b[1] : a[0] - b[0];
}

function isListed(
  plant: Plant,
  judged: JudgedBlock,
  row: number,
  { which, code }: TrialMotorsAsked,
): boolean {
  return isOf(plant, judged, row, which) && (code === null || isDecidedBy(judged, row, code));
}

function isOf(plant: Plant, judged: JudgedBlock, row: number, which: Listing): boolean {
  const turn = judged.turns[row];
  const outcome = judged.block.outcomes[row] as number;
  if (which === 'all') return true;
  if (which === 'changed') return turn === 'pass-to-fail' || turn === 'fail-to-pass';
  if (which === 'first-runs') {
    return turn !== 'not-judgeable' && (outcome & Outcome.firstRun) !== 0;
  }
  if (which === 'first-passes-recorded') {
    return turn !== 'not-judgeable' && (outcome & Outcome.firstPass) !== 0;
  }
  if (which === 'first-passes-trial') return isTrialFirstPass(plant, judged, row);
  return turn === which;
}

function isDecidedBy(
  { plan, turns, recordedValues, trialValues }: JudgedBlock,
  row: number,
  code: string,
): boolean {
  const before = plan.recorded.findIndex((check) => check.characteristic.code === code);
  const now = plan.trial.findIndex((check) => check.characteristic.code === code);
  const [recorded, trial] = [plan.recorded[before], plan.trial[now]];
  if (turns[row] === 'not-judgeable') {
    return trial !== undefined && isLacking(trial, trialValues[now], row);
  }
  const failed = recorded && sideOf(recordedValues[before], row, recorded.acceptance) !== 0;
  const fails = trial && sideOf(trialValues[now], row, trial.acceptance) !== 0;
  return (failed ?? false) !== (fails ?? false);
}

/** A listed run, judged again by itself, with the value and limits of all that decides. */
function presentListed(plant: Plant, trial: Trial, { runId, plan }: Listed): Line {
  const run = plant.testing.run(runId);
  if (!run?.judged || run.endedAtMs === null || run.verdict === null || run.attempt === null) {
    throw new Error(`run ${runId} of a series is not completed`);
  }
  const past = plan.specification.characteristics;
  const values = unpackJudged(past, run.judged);
  const answer = judgeRun(trial.characteristics, readingsFor(plan.trial, past, values));
  const recorded = past.map((one, i) => judgeValue(one, values[i] ?? null));
  const passes = answer.complete && answer.run.verdict === 'pass';
  const unrepaired = () =>
    run.verdict === 'pass' ? run.firstPass === 1 : !repairedBefore(plant, runId);
  return {
    motor: run.motor,
    run: runId,
    cell: run.cell,
    endedAt: iso(run.endedAtMs),
    attempt: run.attempt,
    revision: run.specificationRevision,
    recordedVerdict: run.verdict,
    trialVerdict: answer.complete ? answer.run.verdict : 'not-judgeable',
    recordedFirstPass: run.firstPass === null ? null : run.firstPass === 1,
    trialFirstPass: run.firstPass === null || !answer.complete ? null : passes && unrepaired(),
    decidedBy: answer.complete
      ? decisions(past, recorded, trial.characteristics, answer.run.judgements)
      : [],
    missing: answer.complete ? [] : answer.missing,
    link: `/v1/runs/${runId}`,
  };
}

type Judgements = JudgedRun['judgements'];

/** What fails by one of two specifications and not by the other. */
function decisions(
  past: readonly Characteristic[],
  recorded: Judgements,
  onTrial: readonly Characteristic[],
  judged: Judgements,
): Line['decidedBy'] {
  const codes = new Set([...onTrial, ...past].map((one) => one.code));
  return [...codes].flatMap((code) => {
    const before = judgementWith(code, past, recorded);
    const now = judgementWith(code, onTrial, judged);
    const differ = (before?.conforms === false) !== (now?.conforms === false);
    return differ ? [{ code, recorded: before, trial: now }] : [];
  });
}

function judgementWith(code: string, among: readonly Characteristic[], judgements: Judgements) {
  const at = among.findIndex((one) => one.code === code);
  const [characteristic, judgement] = [among[at], judgements[at]];
  return characteristic && judgement ? presentJudgement(characteristic, judgement) : null;
}
