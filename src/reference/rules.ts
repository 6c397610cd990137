import { type GaugeStudy, gaugeStudy } from '../statistics/gauge-study.js';
import { type GaugeRangeStudy, gaugeStudyByRange } from '../statistics/gauge-study-range.js';
import { type Moments, moments } from '../statistics/moments.js';
import { type OneWayAnova, oneWayAnova } from '../statistics/one-way-anova.js';
import { studentTQuantile } from '../statistics/student-t.js';

/** The cause of the holds that keep reference motors in the plant; a retirement lifts them. */
export const REFERENCE = 'reference';

/** Whether a motor in a state may become, and be run as, a reference: nothing is being done to it. */
export function isAtRest(state: string): boolean {
  return state === 'awaiting-test' || state === 'passed';
}

/** How often a run of an unshifted cell is called shifted, all its characteristics together. */
export const SHIFT_SIGNIFICANCE = 0.01;

/** The range in which the next value of a reference motor is expected. */
export interface AcceptedRange {
  centre: number;
  sigma: number;
  limits: { lower: number; upper: number };
}

/**
 * Where the next value lies if nothing shifted.
 *
 * Method: the two-sided prediction interval of one further value of a normal distribution,
 * mean ± t s √(1 + 1/n), with t of n - 1 degrees of freedom.
 * Source: ISO 16269-8:2004, clause 5.2 (its scope was read, the formula is from memory).
 * Variant: the reference motor's first runs over all its cells are one sample, so that a
 * cell that always read a little higher belongs to what is accepted. Limits of three sigma
 * would not do: from 10 values they call 2.4 % of unshifted values shifted (simulated), and
 * 62 % of unshifted runs with 40 characteristics.
 * Domain: moments with a spread above zero.
 *
 * @param significance how often an unshifted value lies outside, between 0 and 1.
 *
 * @example
 * acceptedRange(moments([1, 2, 3]), 0.05).limits; // 2 ± 4.303 √(4/3): { lower: -2.968, upper: 6.968 }
 *
 * @throws RangeError outside the domain.
 */
export function acceptedRange(history: Moments, significance: number): AcceptedRange {
  const { count, mean: centre, standardDeviation: sigma } = history;
  if (!(sigma > 0)) throw new RangeError('a history without variation says nothing of the next');
  const t = studentTQuantile(1 - significance / 2, count - 1);
  const reach = t * sigma * Math.sqrt(1 + 1 / count);
  return { centre, sigma, limits: { lower: centre - reach, upper: centre + reach } };
}

/** A value of a reference run beside the motor's first values of that characteristic. */
export interface Observed {
  code: string;
  unit: string;
  value: number;
  history: readonly number[];
}

/** A characteristic that is off the reference motor's accepted history. */
export interface Shift extends AcceptedRange {
  code: string;
  unit: string;
  value: number;
}

/**
 * Compares a reference run with the motor's accepted history.
 *
 * Method: `acceptedRange` for each characteristic whose history holds `baselineRuns` values
 * that are not all equal, at an equal share of `SHIFT_SIGNIFICANCE` for each (Bonferroni), so
 * that one run in a hundred at most is called shifted without cause, however much is measured.
 *
 * @returns how many characteristics could be compared, and those outside; a value on a
 * limit is inside.
 */
export function compareWithHistory(
  observed: readonly Observed[],
  baselineRuns: number,
): { compared: number; shifts: Shift[] } {
  const judged = observed.flatMap(({ history, ...one }) => {
    if (history.length < baselineRuns) return [];
    const baseline = moments(history);
    return baseline.standardDeviation > 0 ? [{ ...one, baseline }] : [];
  });
  const shifts = judged.flatMap(({ baseline, ...one }): Shift[] => {
    const range = acceptedRange(baseline, SHIFT_SIGNIFICANCE / judged.length);
    const { lower, upper } = range.limits;
    return one.value < lower || one.value > upper ? [{ ...one, ...range }] : [];
  });
  return { compared: judged.length, shifts };
}

/** A value that a reference motor gave in a cell. */
export interface StudyRun {
  id: number;
  referenceMotorId: number;
  cell: string;
  value: number;
}

/** A balanced part of reference runs: every motor equally often in every cell. */
export interface BalancedRuns<R extends StudyRun> {
  /** Reference motors and cells in the order of `runs`. */
  motors: number[];
  cells: string[];
  /** Runs of each motor in each cell. */
  trials: number;
  /** By motor, then cell, then in the order given. */
  runs: R[][][];
  /** Runs that are older than those taken. */
  leftOut: number;
  /** The pair with the fewest runs; null where there are no runs. */
  fewest: { motor: number; cell: string; runs: number } | null;
}

/**
 * The latest runs of each reference motor in each cell, as many of each pair as the pair
 * with the fewest has, and `most` at most.
 * @param runs in order of time
 */
export function balance<R extends StudyRun>(runs: readonly R[], most: number): BalancedRuns<R> {
  const motors = [...new Set(runs.map((run) => run.referenceMotorId))].sort((a, b) => a - b);
  const cells = [...new Set(runs.map((run) => run.cell))].sort();
  const all = motors.map((motor) =>
    cells.map((cell) => runs.filter((run) => run.referenceMotorId === motor && run.cell === cell)),
  );
  const pairs = all.flatMap((ofMotor, m) =>
    ofMotor.map((own, c) => ({ motor: motors[m] ?? 0, cell: cells[c] ?? '', runs: own.length })),
  );
  const [fewest = null] = [...pairs].sort((a, b) => a.runs - b.runs);
  const trials = Math.min(most, fewest?.runs ?? 0);
  return {
    motors,
    cells,
    trials,
    runs: all.map((ofMotor) => ofMotor.map((own) => own.slice(own.length - trials))),
    leftOut: runs.length - trials * pairs.length,
    fewest,
  };
}

/** Why balanced runs make no gauge study, in words; null where they do. */
export function studyFault(balanced: BalancedRuns<StudyRun>): string | null {
  const { motors, cells, trials, fewest } = balanced;
  if (motors.length === 0) return 'No reference run has a value of it.';
  if (cells.length < 2) return `All its runs were in cell ${cells[0]}: a study needs two cells.`;
  if (trials < 2 && fewest) {
    return `Reference motor ${fewest.motor} has ${fewest.runs} of its runs in cell ${fewest.cell}: a study needs two of each motor in each cell.`;
  }
  return null;
}

/** Above this p value the interaction of motors and cells is pooled with the repeatability. */
export const POOLING_ALPHA = 0.25;

/** A gauge study by analysis of variance, and whether its interaction was pooled. */
export interface PooledStudy extends GaugeStudy {
  interactionPooled: boolean;
}

/**
 * The study of several motors by analysis of variance; see `gaugeStudy`. The interaction is
 * pooled where its p value is above `POOLING_ALPHA` (`common practice, no source`).
 * @param readings by motor, then cell, then trial
 */
export function crossedStudy(
  readings: readonly (readonly (readonly number[])[])[],
  tolerance: number | null,
): PooledStudy {
  const separate = gaugeStudy(readings, { poolInteraction: false, tolerance });
  const { pValue } = separate.table.interaction;
  const interactionPooled = pValue !== null && pValue > POOLING_ALPHA;
  const study = interactionPooled
    ? gaugeStudy(readings, { poolInteraction: true, tolerance })
    : separate;
  return { ...study, interactionPooled };
}

/** The largest number of motors, cells or trials that the tables of ranges know. */
const RANGE_MOST = 25;

/** The same study by averages and ranges, see `gaugeStudyByRange`; null past its tables. */
export function crossedStudyByRange(
  readings: readonly (readonly (readonly number[])[])[],
  tolerance: number | null,
): GaugeRangeStudy | null {
  const counts = [readings.length, readings[0]?.length ?? 0, readings[0]?.[0]?.length ?? 0];
  return Math.max(...counts) > RANGE_MOST ? null : gaugeStudyByRange(readings, tolerance);
}

/** One source of variation where the parts' own is not known. */
export interface CellComponent {
  standardDeviation: number;
  /** Six standard deviations over the tolerance; null without one. */
  percentOfTolerance: number | null;
}

/** What one reference motor tells of its cells. */
export interface CellStudy {
  repeatability: CellComponent;
  reproducibility: CellComponent;
  gauge: CellComponent;
  table: OneWayAnova;
}

/**
 * Repeatability and reproducibility from one reference motor run in several cells; what
 * motors differ by cannot be told from one.
 *
 * Method: one-way analysis of variance between cells, random effects: EV² = MS within,
 * AV² = (MS between - MS within)/r with r runs a cell, GRR² = EV² + AV².
 * Source: NIST/SEMATECH e-Handbook 7.4.3.3 for the table; the components as in ISO 5725-2,
 * where the cells are the laboratories (from memory).
 * Variant: a negative variance is taken as 0. ISO 5725-2 calls GRR the reproducibility and
 * AV the standard deviation between laboratories; the words here are those of the gauge study.
 * Domain: at least two cells with the same number of values, at least two, all finite.
 *
 * @example
 * // Means 1 and 3, half apart within: EV √½, AV √1.75, GRR 1.5.
 * cellStudy([[0.5, 1.5], [2.5, 3.5]], null);
 *
 * @throws RangeError outside the domain.
 */
export function cellStudy(
  readings: readonly (readonly number[])[],
  tolerance: number | null,
): CellStudy {
  const table = oneWayAnova(readings.map((cell) => moments(cell)));
  const { between, within } = table;
  const trials = readings[0]?.length ?? 0;
  const repeatability = within.meanSquare;
  const reproducibility = Math.max(0, (between.meanSquare - within.meanSquare) / trials);
  const component = (variance: number): CellComponent => ({
    standardDeviation: Math.sqrt(variance),
    percentOfTolerance: tolerance === null ? null : (600 * Math.sqrt(variance)) / tolerance,
  });
  return {
    repeatability: component(repeatability),
    reproducibility: component(reproducibility),
    gauge: component(repeatability + reproducibility),
    table,
  };
}
