import type { RepairOutcome } from '../repair/records.js';
import { type ParetoRow, pareto } from '../statistics/pareto.js';
import { quantile } from '../statistics/quantile.js';
import { type Share, shareOf } from './step-rules.js';

const HOUR_MS = 60 * 60 * 1000;

/** The completed run of a motor that followed one that failed. */
export interface NextRun {
  endedAtMs: number;
  verdict: 'pass' | 'fail';
  /** Codes of the characteristics that failed. */
  failed: readonly string[];
}

export interface FailedRun {
  id: number;
  cell: string;
  failed: readonly string[];
  /** Null where none has been completed. */
  next: NextRun | null;
}

/** What a repair was opened for: a failed run, or a nonconformance found outside a test. */
export interface ReworkCase {
  motorId: number;
  model: string;
  /** Whether the motor may yet get another run: it is neither ended nor accepted as it is. */
  goesOn: boolean;
  repairId: number;
  /** When the run ended, or the nonconformance was found. */
  atMs: number;
  /** Null while the repair is open. */
  outcome: RepairOutcome | null;
  symptom: string | null;
  cause: string | null;
  action: string | null;
  /** Null for a nonconformance found outside a test. */
  run: FailedRun | null;
}

/** A rework loop: a failed run, its repair and the next completed run, as far as they have come. */
export type Loop = ReworkCase & { run: FailedRun };

export function loopsIn(cases: readonly ReworkCase[]): Loop[] {
  return cases.filter((one): one is Loop => one.run !== null);
}

/** What followed a failed run. A loop that is `unfinished` is suspended: its next run will come. */
export type Fate = 'passed' | 'failed' | 'unfinished' | 'ended';

export function fateOf({ run, goesOn }: Loop): Fate {
  if (run.next) return run.next.verdict === 'pass' ? 'passed' : 'failed';
  return goesOn ? 'unfinished' : 'ended';
}

/**
 * Whether what failed has failed again in the next run: the characteristic named, or any of
 * those that had failed. Characteristics are the same by code, whatever the revision.
 */
export function failedAgain({ run }: Loop, characteristic?: string): boolean {
  const before = characteristic === undefined ? run.failed : [characteristic];
  return before.some((code) => run.next?.failed.includes(code));
}

/** Items under each of their keys, the keys in order. */
function grouped<T>(items: readonly T[], keysOf: (item: T) => readonly string[]): [string, T[]][] {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    for (const key of keysOf(item)) {
      const group = groups.get(key);
      if (group) group.push(item);
      else groups.set(key, [item]);
    }
  }
  return [...groups].sort(([a], [b]) => (a < b ? -1 : 1));
}

function countOf(loops: readonly Loop[], ...fates: Fate[]): number {
  return loops.filter((one) => fates.includes(fateOf(one))).length;
}

export interface LoopsLine {
  loops: number;
  motors: number;
  share: number;
  cumulativeShare: number;
  meanLoops: number;
}

/**
 * The distribution of loops per motor.
 * @param counted motors by their number of loops, each number once
 */
export function loopDistribution(
  counted: readonly { loops: number; motors: number }[],
): LoopsLine[] {
  const motors = counted.reduce((sum, one) => sum + one.motors, 0);
  const loops = counted.reduce((sum, one) => sum + one.loops * one.motors, 0);
  let upTo = 0;
  return [...counted]
    .sort((a, b) => a.loops - b.loops)
    .map((one) => {
      upTo += one.motors;
      return {
        ...one,
        share: one.motors / motors,
        cumulativeShare: upTo / motors,
        meanLoops: loops / motors,
      };
    });
}

/** Loops whose next run has not been completed, apart from those that were. */
export interface Without {
  unfinished: number;
  ended: number;
}

function withoutNext(loops: readonly Loop[]): Without {
  return { unfinished: countOf(loops, 'unfinished'), ended: countOf(loops, 'ended') };
}

export type TimesSlice = 'model' | 'cell' | 'characteristic';

export interface TimesLine extends Without {
  slice: string;
  loops: number;
  medianHours: number | null;
  p90Hours: number | null;
  maxHours: number | null;
}

const timesKeys: Record<TimesSlice, (loop: Loop) => readonly string[]> = {
  model: (loop) => [loop.model],
  cell: (loop) => [loop.run.cell],
  characteristic: (loop) => loop.run.failed,
};

/**
 * Hours from the end of a failed run to the end of the next completed one, of finished
 * loops; quantiles by Hyndman and Fan's definition 7. A loop that failed on several
 * characteristics counts under each. A next run that is said to have ended before counts 0 h.
 */
export function loopTimes(cases: readonly ReworkCase[], by: TimesSlice): TimesLine[] {
  return grouped(loopsIn(cases), timesKeys[by]).map(([slice, loops]) => {
    const hours = loops.flatMap(({ atMs, run }) =>
      run.next ? [Math.max(0, run.next.endedAtMs - atMs) / HOUR_MS] : [],
    );
    const at = (p: number) => (hours.length === 0 ? null : quantile(hours, p));
    return {
      slice,
      loops: hours.length,
      medianHours: at(0.5),
      p90Hours: at(0.9),
      maxHours: at(1),
      ...withoutNext(loops),
    };
  });
}

export type ParetoOf = 'characteristic' | 'symptom' | 'cause' | 'action';

function categoriesOf(one: ReworkCase, of: ParetoOf): readonly string[] {
  if (of === 'characteristic') return one.run?.failed ?? [];
  const code = one[of];
  return code === null ? [] : [code];
}

/** What failed, or what repairs found and did, largest first. */
export function reworkPareto(cases: readonly ReworkCase[], of: ParetoOf): ParetoRow[] {
  const counts = grouped(cases, (one) => categoriesOf(one, of));
  return pareto(counts.map(([category, group]) => [category, group.length]));
}

export interface CureLine extends Share, Without {
  category: string;
  action: string;
  loops: number;
  nextRuns: number;
  passed: number;
  failedAgain: number;
}

/**
 * Which action cured which failure: finished loops that passed, and those where the same
 * characteristic failed again, for each characteristic or cause and each action.
 * @returns by loops, most first
 */
export function cures(cases: readonly ReworkCase[], of: 'characteristic' | 'cause'): CureLine[] {
  const repaired = loopsIn(cases).filter((one) => one.action !== null);
  return grouped(repaired, (one) => categoriesOf(one, of))
    .flatMap(([category, group]) =>
      grouped(group, (one) => categoriesOf(one, 'action')).map(([action, loops]) => ({
        category,
        action,
        ...cureOf(loops, of === 'characteristic' ? category : undefined),
      })),
    )
    .sort((a, b) => b.loops - a.loops);
}

function cureOf(loops: readonly Loop[], characteristic: string | undefined) {
  const nextRuns = countOf(loops, 'passed', 'failed');
  const passed = countOf(loops, 'passed');
  return {
    loops: loops.length,
    nextRuns,
    passed,
    ...shareOf(passed, nextRuns),
    failedAgain: loops.filter((one) => failedAgain(one, characteristic)).length,
    ...withoutNext(loops),
  };
}

export interface FailedAgainLine extends Share, Without {
  characteristic: string;
  failedRuns: number;
  nextRuns: number;
  failedAgain: number;
}

/** How often a characteristic that failed fails again in the motor's next completed run. */
export function failuresAgain(cases: readonly ReworkCase[]): FailedAgainLine[] {
  return grouped(loopsIn(cases), ({ run }) => run.failed).map(([characteristic, loops]) => {
    const nextRuns = countOf(loops, 'passed', 'failed');
    const again = loops.filter((one) => failedAgain(one, characteristic)).length;
    return {
      characteristic,
      failedRuns: loops.length,
      nextRuns,
      failedAgain: again,
      ...shareOf(again, nextRuns),
      ...withoutNext(loops),
    };
  });
}

export interface NoFaultLine extends Share {
  cell: string;
  failedRuns: number;
  closed: number;
  noFaultFound: number;
}

/** Failed runs whose repair found no fault, of those whose repair has ended, by cell. */
export function noFaultFound(cases: readonly ReworkCase[]): NoFaultLine[] {
  return grouped(loopsIn(cases), ({ run }) => [run.cell]).map(([cell, loops]) => {
    const closed = loops.filter((one) => one.outcome !== null).length;
    const none = loops.filter((one) => one.outcome === 'no-fault-found').length;
    return {
      cell,
      failedRuns: loops.length,
      closed,
      noFaultFound: none,
      ...shareOf(none, closed),
    };
  });
}

/** What has to be true of a case; what is left out may be anything. */
export interface CaseFilter {
  characteristic?: string | undefined;
  symptom?: string | undefined;
  cause?: string | undefined;
  action?: string | undefined;
  outcome?: RepairOutcome | undefined;
  nextRun?: Fate | 'failed-again' | undefined;
  /** Whether a failed run was what opened the repair. */
  afterFailedRun?: boolean | undefined;
}

export function matching(cases: readonly ReworkCase[], filter: CaseFilter): ReworkCase[] {
  return cases.filter((one) => {
    const codes = (['characteristic', 'symptom', 'cause', 'action'] as const).every((of) => {
      const wanted = filter[of];
      return wanted === undefined || categoriesOf(one, of).includes(wanted);
    });
    if (!codes) return false;
    const { afterFailedRun = one.run !== null } = filter;
    if (afterFailedRun !== (one.run !== null)) return false;
    if (filter.outcome !== undefined && one.outcome !== filter.outcome) return false;
    return filter.nextRun === undefined || followed(one, filter.nextRun, filter.characteristic);
  });
}

function followed(
  one: ReworkCase,
  wanted: Fate | 'failed-again',
  characteristic: string | undefined,
): boolean {
  const [loop] = loopsIn([one]);
  if (!loop) return false;
  return wanted === 'failed-again' ? failedAgain(loop, characteristic) : fateOf(loop) === wanted;
}

export interface CasesOfMotor {
  motorId: number;
  /** Failed runs of the cases. */
  runs: number[];
  repairs: number[];
}

/** Cases by motor, in the motors' order. */
export function byMotor(cases: readonly ReworkCase[]): CasesOfMotor[] {
  const motors = new Map<number, CasesOfMotor>();
  for (const { motorId, repairId, run } of cases) {
    const motor = motors.get(motorId) ?? { motorId, runs: [], repairs: [] };
    if (run) motor.runs.push(run.id);
    motor.repairs.push(repairId);
    motors.set(motorId, motor);
  }
  return [...motors.values()].sort((a, b) => a.motorId - b.motorId);
}

/** What is known of a motor in repair, or awaiting its test. */
export interface Standing {
  state: 'in-repair' | 'awaiting-test';
  /** Its last completed run; null where it has none. */
  last: { endedAtMs: number; verdict: 'pass' | 'fail'; conceded: boolean } | null;
  /** When a passed or conceded motor went back: to repair, or to another test. */
  backAtMs: number | null;
  /** When its latest repair was opened. */
  repairAtMs: number | null;
}

/**
 * Since when a motor waits: since the run that failed, whatever was found while it waited;
 * where none failed, since it went back or was found nonconforming.
 */
export function waitsSince({ last, backAtMs, repairAtMs }: Standing): number {
  if (last && isFailure(last)) return last.endedAtMs;
  const since = last ? (backAtMs ?? last.endedAtMs) : repairAtMs;
  if (since === null) throw new Error('a motor waits that neither failed nor is in repair');
  return since;
}

/** Whether a motor waits because its last run failed, and was not conceded. */
export function isFailure(last: NonNullable<Standing['last']>): boolean {
  return last.verdict === 'fail' && !last.conceded;
}

/** Common practice, no source. The last class has no end; an age on a bound is in the class above. */
export const ageClasses = [
  { code: 'under-4-h', fromHours: 0, untilHours: 4 },
  { code: '4-to-24-h', fromHours: 4, untilHours: 24 },
  { code: '1-to-3-d', fromHours: 24, untilHours: 72 },
  { code: '3-to-7-d', fromHours: 72, untilHours: 168 },
  { code: 'over-7-d', fromHours: 168, untilHours: null },
] as const;
export type AgeClass = (typeof ageClasses)[number]['code'];

/** Hours that a motor has waited; none where a clock says that it has yet to begin. */
export function ageHours(sinceMs: number, nowMs: number): number {
  return Math.max(0, nowMs - sinceMs) / HOUR_MS;
}

export function ageClassOf(hours: number): AgeClass {
  const found = ageClasses.find(({ untilHours }) => untilHours === null || hours < untilHours);
  if (!found) throw new Error(`no class has the age ${hours} h`);
  return found.code;
}

export interface AgesLine {
  ageClass: AgeClass;
  fromHours: number;
  untilHours: number | null;
  motors: number;
  inRepair: number;
  forRetest: number;
  share: number | null;
}

/** Waiting motors by age; every class has its line, motors or not. */
export function agesOf(
  waiting: readonly { hours: number; state: Standing['state'] }[],
): AgesLine[] {
  return ageClasses.map(({ code, fromHours, untilHours }) => {
    const own = waiting.filter(({ hours }) => ageClassOf(hours) === code);
    return {
      ageClass: code,
      fromHours,
      untilHours,
      motors: own.length,
      inRepair: own.filter(({ state }) => state === 'in-repair').length,
      forRetest: own.filter(({ state }) => state === 'awaiting-test').length,
      share: waiting.length === 0 ? null : own.length / waiting.length,
    };
  });
}
