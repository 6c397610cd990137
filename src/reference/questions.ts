import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { Plant } from '../plant.js';
import { newestCharacteristic } from '../series/questions.js';
import { iso } from '../time.js';
import {
  type BalancedRuns,
  balance,
  cellStudy,
  crossedStudy,
  crossedStudyByRange,
  POOLING_ALPHA,
  type StudyRun,
  studyFault,
} from './rules.js';
import { type gaugeStudyAnswer, TRIALS_LIMIT } from './study-schema.js';
import { type NumericCharacteristic, valueReader } from './values.js';

export interface StudyAsked {
  model: string;
  characteristic: string;
  /** Null: all. */
  referenceMotors: number[] | null;
  cells: string[] | null;
  fromMs: number;
  untilMs: number;
}

/** A run of the study as it is shown. */
interface ShownRun extends StudyRun {
  motor: string;
  atMs: number;
}

type Answer = z.input<typeof gaugeStudyAnswer>;

/**
 * The gauge study of a characteristic: reference motors are the parts, cells the appraisers,
 * repeated reference runs the trials; for a worker thread.
 * @throws Problem model-unknown, characteristic-unknown
 */
export function gaugeStudyOf(plant: Plant, asked: StudyAsked): Answer {
  return plant.atomically(() => {
    const characteristic = newestCharacteristic(plant, asked.model, asked.characteristic);
    const { code, name, unit } = characteristic;
    const tolerance = toleranceOf(characteristic);
    const all = studyRuns(plant, asked, characteristic);
    const balanced = balance(all, TRIALS_LIMIT);
    const notPossible = studyFault(balanced);
    const serials = new Map(all.map((run) => [run.referenceMotorId, run.motor]));
    return {
      model: asked.model,
      characteristic: code,
      name,
      unit,
      tolerance,
      motors: balanced.motors.map((id) => ({ referenceMotor: id, motor: serials.get(id) ?? '' })),
      cells: balanced.cells,
      trials: balanced.trials,
      leftOut: balanced.leftOut,
      notPossible,
      ...figures(balanced, notPossible === null, tolerance),
      runs: balanced.runs.flat(2).map((run) => ({
        referenceRun: run.id,
        referenceMotor: run.referenceMotorId,
        cell: run.cell,
        at: iso(run.atMs),
        value: run.value,
      })),
    };
  });
}

/** The width between two specification limits; an approved specification has them apart. */
function toleranceOf({ lower, upper }: NumericCharacteristic): number | null {
  if (lower === null || upper === null) return null;
  const width = upper - lower;
  return Number.isFinite(width) ? width : null;
}

/** The runs of the window that have a value of the characteristic, in order of time. */
function studyRuns(
  plant: Plant,
  asked: StudyAsked,
  characteristic: NumericCharacteristic,
): ShownRun[] {
  const modelId = existingModel(plant, asked.model).id;
  const motors = asked.referenceMotors && new Set(asked.referenceMotors);
  const cells = asked.cells && new Set(asked.cells);
  const read = valueReader(plant, characteristic);
  const runs: ShownRun[] = [];
  for (const row of plant.reference.runsOfModel(modelId, asked.fromMs, asked.untilMs)) {
    const { specificationId, judged, ...run } = row;
    if (motors?.has(run.referenceMotorId) === false || cells?.has(run.cell) === false) continue;
    const value = read({ specificationId, judged });
    if (value !== null) runs.push({ ...run, value });
  }
  return runs;
}

type Figures = Pick<Answer, 'method' | 'byVariance' | 'byRange' | 'betweenCells'>;

const data =
  'Reference motors are the parts, cells the appraisers, the latest runs of each motor in each cell the trials, as many of each as the pair with the fewest has.';

function figures(
  balanced: BalancedRuns<StudyRun>,
  possible: boolean,
  tolerance: number | null,
): Figures {
  const none = { byVariance: null, byRange: null, betweenCells: null };
  if (!possible) return { method: `None: ${data}`, ...none };
  const readings = balanced.runs.map((motor) => motor.map((cell) => cell.map((run) => run.value)));
  const [only, ...others] = readings;
  if (only && others.length === 0) {
    return {
      method: `${data} One reference motor: one-way analysis of variance between the cells, random effects; a negative variance is taken as 0. What motors differ by is not known from one, so there is no total variation and no number of categories.`,
      ...none,
      betweenCells: cellStudy(only, tolerance),
    };
  }
  return {
    method: `${data} Two-way analysis of variance, random effects, as in the measurement systems analysis manual of the automotive industry; a negative variance is taken as 0; the interaction is pooled with the repeatability where its p value is above ${POOLING_ALPHA}; tolerance is held against six standard deviations; the number of distinct categories is cut off, not rounded.`,
    ...none,
    byVariance: crossedStudy(readings, tolerance),
    byRange: crossedStudyByRange(readings, tolerance),
  };
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const referenceQuestions = { 'gauge-study': gaugeStudyOf };
