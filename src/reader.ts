import { capabilityQuestions } from './capability/questions.js';
import { chartQuestions } from './charts/questions.js';
import { pickOnSnapshot } from './containment/actions.js';
import { emissionQuestions } from './emissions/questions.js';
import { attemptsListed } from './pairing/questions.js';
import { connectPlant, type Plant } from './plant.js';
import { Problem, type ProblemSlug } from './problems.js';
import { referenceQuestions } from './reference/questions.js';
import { answersOf } from './returns/questions.js';
import { returnSurvival, triangleOf } from './returns/rate-questions.js';
import { openReader } from './store/open.js';
import { stepBack } from './store/step-back.js';
import { runsListed } from './testing/questions.js';
import { whereUsedWritten } from './tracing/questions.js';
import { trialQuestions } from './trials/questions.js';
import { unitsListed } from './units/questions.js';
import { yieldQuestions } from './yield/questions.js';
import { reworkQuestions } from './yield/rework-questions.js';

/**
 * The long questions, by name: asked in a worker thread on a read-only connection, so
 * that a scan never waits for a report. Parameters and answers are plain data.
 */
export const longQuestions = {
  'where-used': whereUsedWritten,
  'containment-snapshot': pickOnSnapshot,
  units: unitsListed,
  runs: runsListed,
  'set-attempts': attemptsListed,
  'return-answers': answersOf,
  'return-triangle': triangleOf,
  'return-survival': returnSurvival,
  ...yieldQuestions,
  ...reworkQuestions,
  ...capabilityQuestions,
  ...chartQuestions,
  ...referenceQuestions,
  ...trialQuestions,
  ...emissionQuestions,
};

export type LongQuestion = keyof typeof longQuestions;

export interface WorkerTask {
  path: string;
  question: LongQuestion;
  parameters: never;
}

const connections = new Map<string, Plant>();

/** An answer as it crosses threads, which only plain data does. */
export type WorkerAnswer =
  | { value: unknown }
  | { slug: ProblemSlug; detail: string; extensions: Record<string, unknown> };

/** The value of a worker's answer. @throws Problem that the question was refused with */
export function unwrap(answer: WorkerAnswer): unknown {
  if ('value' in answer) return answer.value;
  throw new Problem(answer.slug, answer.detail, answer.extensions);
}

/** Entry of a worker thread: each keeps one connection of its own for each file. */
export function answer({ path, question, parameters }: WorkerTask): WorkerAnswer {
  let plant = connections.get(path);
  if (!plant) {
    stepBack();
    plant = connectPlant(openReader(path));
    connections.set(path, plant);
  }
  try {
    return { value: longQuestions[question](plant, parameters) };
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    const { slug, message: detail, extensions } = error;
    return { slug, detail, extensions: { ...extensions } };
  }
}
