import type { z } from 'zod';
import type { Plant } from '../plant.js';
import { iso } from '../time.js';
import { address, historyOfMotor } from './rework-links.js';
import type { ReworkFilter, WaitingRow } from './rework-records.js';
import {
  type AgeClass,
  ageClassOf,
  ageHours,
  agesOf,
  byMotor,
  type CaseFilter,
  cures,
  failuresAgain,
  isFailure,
  loopDistribution,
  loopTimes,
  matching,
  noFaultFound,
  type ParetoOf,
  reworkPareto,
  type TimesSlice,
  waitsSince,
} from './rework-rules.js';
import type {
  agesLine,
  cureLine,
  loopsPerMotorLine,
  motorLine,
  noFaultLine,
  paretoLine,
  refailLine,
  timesLine,
  waitingLine,
} from './rework-schema.js';
import { stepQuestions } from './step-questions.js';

function motorsBehind(
  { fromDay, untilDay, model, cell }: ReworkFilter,
  filter: Record<string, string | number | boolean>,
): string {
  return address('/v1/rework/motors', { model, cell, fromDay, untilDay, ...filter });
}

function loopsPerMotor(plant: Plant, asked: ReworkFilter): z.input<typeof loopsPerMotorLine>[] {
  return loopDistribution(plant.rework.motorsByLoops(asked)).map((line) => ({
    ...line,
    link: motorsBehind(asked, { loops: line.loops }),
  }));
}

export type TimesAsked = ReworkFilter & { by: TimesSlice };

function times(plant: Plant, asked: TimesAsked): z.input<typeof timesLine>[] {
  const { by } = asked;
  return loopTimes(plant.rework.cases(asked), by).map((line) => ({
    ...line,
    link: motorsBehind(asked, { [by]: line.slice, afterFailedRun: true }),
  }));
}

export type ParetoAsked = ReworkFilter & { of: ParetoOf };

function paretoOf(plant: Plant, asked: ParetoAsked): z.input<typeof paretoLine>[] {
  const { of } = asked;
  return reworkPareto(plant.rework.cases(asked), of).map(({ category, amount, ...row }) => ({
    category,
    count: amount,
    ...row,
    link: motorsBehind(asked, { [of]: category }),
  }));
}

export type CuresAsked = ReworkFilter & { of: 'characteristic' | 'cause' };

function curesOf(plant: Plant, asked: CuresAsked): z.input<typeof cureLine>[] {
  const { of } = asked;
  return cures(plant.rework.cases(asked), of).map((line) => ({
    ...line,
    link: motorsBehind(asked, { [of]: line.category, action: line.action, afterFailedRun: true }),
  }));
}

function refails(plant: Plant, asked: ReworkFilter): z.input<typeof refailLine>[] {
  return failuresAgain(plant.rework.cases(asked)).map((line) => ({
    ...line,
    link: motorsBehind(asked, { characteristic: line.characteristic, nextRun: 'failed-again' }),
  }));
}

function withoutFault(plant: Plant, asked: ReworkFilter): z.input<typeof noFaultLine>[] {
  return noFaultFound(plant.rework.cases(asked)).map((line) => ({
    ...line,
    link: motorsBehind(asked, { cell: line.cell, outcome: 'no-fault-found' }),
  }));
}

export interface WaitingAsked {
  model: string | null;
  cell: string | null;
  nowMs: number;
}

interface Waiting {
  row: WaitingRow;
  sinceMs: number;
  hours: number;
  state: WaitingRow['state'];
}

/** Who waits now, the longest first. */
function waitingNow(plant: Plant, { model, cell, nowMs }: WaitingAsked): Waiting[] {
  return plant.rework
    .waiting(model)
    .filter((row) => cell === null || (failureOf(row) && row.cell === cell))
    .map((row) => {
      const sinceMs = waitsSince(row);
      return { row, sinceMs, hours: ageHours(sinceMs, nowMs), state: row.state };
    })
    .sort((a, b) => a.sinceMs - b.sinceMs || a.row.id - b.row.id);
}

function failureOf({ last }: WaitingRow): boolean {
  return last !== null && isFailure(last);
}

export interface WaitingPageAsked extends WaitingAsked {
  ageClass: AgeClass | null;
  /** Those after this one, by since when and id. */
  after: readonly [sinceMs: number, id: number];
  limit: number;
}

export interface WaitingLine {
  key: [sinceMs: number, id: number];
  line: z.input<typeof waitingLine>;
}

function waiting(plant: Plant, asked: WaitingPageAsked): WaitingLine[] {
  const [sinceMs, id] = asked.after;
  return waitingNow(plant, asked)
    .filter(({ hours }) => asked.ageClass === null || ageClassOf(hours) === asked.ageClass)
    .filter((one) => one.sinceMs > sinceMs || (one.sinceMs === sinceMs && one.row.id > id))
    .slice(0, asked.limit)
    .map((one) => ({ key: [one.sinceMs, one.row.id], line: presentWaiting(one) }));
}

function presentWaiting({ row, sinceMs, hours }: Waiting): z.input<typeof waitingLine> {
  const failure = failureOf(row);
  return {
    motor: row.motor,
    model: row.model,
    state: row.state,
    since: iso(sinceMs),
    ageHours: hours,
    ageClass: ageClassOf(hours),
    run: failure ? row.runId : null,
    cell: failure ? row.cell : null,
    failed: failure ? row.failed : [],
    repair: row.repairId,
    complaint: row.complaint,
    link: historyOfMotor(row.motor),
  };
}

function ages(plant: Plant, asked: WaitingAsked): z.input<typeof agesLine>[] {
  const { model, cell } = asked;
  return agesOf(waitingNow(plant, asked)).map((line) => ({
    ...line,
    link: address('/v1/rework/waiting', { model, cell, ageClass: line.ageClass }),
  }));
}

export interface MotorsAsked extends ReworkFilter {
  /** Null where cases are asked for. */
  loops: number | null;
  filter: CaseFilter;
  afterId: number;
  limit: number;
}

export interface MotorFound {
  id: number;
  line: z.input<typeof motorLine>;
}

/** The motors behind a figure, each with its runs and repairs, in order of their ids. */
function motors(plant: Plant, asked: MotorsAsked): MotorFound[] {
  return plant.atomically(() => {
    const found = asked.loops === null ? withCases(plant, asked) : withLoops(plant, asked);
    const behind = new Map(found.map((one) => [one.motorId, one]));
    return plant.rework.motors([...behind.keys()]).map(({ id, ...motor }) => {
      const { runs = [], repairs = [] } = behind.get(id) ?? {};
      return { id, line: { ...motor, runs, repairs, link: historyOfMotor(motor.motor) } };
    });
  });
}

function withCases(plant: Plant, asked: MotorsAsked) {
  return byMotor(matching(plant.rework.cases(asked), asked.filter))
    .filter((one) => one.motorId > asked.afterId)
    .slice(0, asked.limit);
}

function withLoops(plant: Plant, { loops, afterId, limit, ...asked }: MotorsAsked) {
  return plant.rework.motorsWithLoops(asked, loops ?? 0, afterId, limit).map((motorId) => ({
    motorId,
    runs: plant.rework.completedRuns(motorId),
    repairs: plant.repair.ofMotor(motorId).map((one) => one.id),
  }));
}

/** The long questions about rework, by name; see src/reader.ts. */
export const reworkQuestions = {
  'rework-loops-per-motor': loopsPerMotor,
  'rework-times': times,
  'rework-waiting': waiting,
  'rework-waiting-ages': ages,
  'rework-pareto': paretoOf,
  'rework-cures': curesOf,
  'rework-refails': refails,
  'rework-no-fault-found': withoutFault,
  'rework-motors': motors,
  ...stepQuestions,
};
