import { connectPlant, type Plant } from './plant.js';
import { openReader } from './store/open.js';

/**
 * The long questions, by name: asked in a worker thread on a read-only connection, so
 * that a scan never waits for a report. Parameters and answers are plain data.
 */
export const longQuestions = {
  'rework-loops': (plant: Plant, { fromMs, untilMs }: { fromMs: number; untilMs: number }) =>
    plant.yield.loops(fromMs, untilMs),
};

export type LongQuestion = keyof typeof longQuestions;

export interface WorkerTask {
  path: string;
  question: LongQuestion;
  parameters: never;
}

const connections = new Map<string, Plant>();

/** Entry of a worker thread: each keeps one connection of its own for each file. */
export function answer({ path, question, parameters }: WorkerTask): unknown {
  let plant = connections.get(path);
  if (!plant) {
    plant = connectPlant(openReader(path));
    connections.set(path, plant);
  }
  return longQuestions[question](plant, parameters);
}
