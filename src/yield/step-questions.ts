import type { z } from 'zod';
import { slotAt } from '../calendar/rules.js';
import type { Plant } from '../plant.js';
import { pareto } from '../statistics/pareto.js';
import { dayStart, iso } from '../time.js';
import { firstPassYield } from './questions.js';
import { address } from './rework-links.js';
import { addDays, type Days } from './rules.js';
import type { InspectedFilter, InspectedRow, StepFilter, StepSum } from './step-records.js';
import { rollSteps, SET, type StepFigure, shareOf, TEST } from './step-rules.js';
import type { refusedLine, rolledLine, stepLine, stepsQuery } from './step-schema.js';

/** A window of plant days, and as instants: from the first until before the last. */
export interface Window extends Days {
  fromMs: number;
  untilMs: number;
}

/** A window of plant days, the last counted too. */
export function windowOf(
  plant: Plant,
  query: { fromDay?: string | null | undefined; untilDay?: string | null | undefined },
  timeZone: string,
): Window {
  const fromDay = query.fromDay ?? null;
  const untilDay = query.untilDay ?? null;
  return {
    fromDay,
    untilDay,
    fromMs: fromDay === null ? 0 : startOfDay(plant, fromDay, timeZone),
    untilMs:
      untilDay === null || untilDay === LAST_DAY
        ? Number.MAX_SAFE_INTEGER
        : startOfDay(plant, addDays(untilDay, 1), timeZone),
  };
}

/** The day after it has no name of four digits. */
const LAST_DAY = '9999-12-31';

/**
 * The first instant that counts to a plant day: midnight, or the end of a shift that began
 * the day before, by the calendar in force at midnight.
 */
function startOfDay(plant: Plant, day: string, timeZone: string): number {
  const inForce = plant.calendar.shiftAt(dayStart(day, timeZone), timeZone);
  const midnight = dayStart(day, inForce.timeZone);
  if (inForce.calendarId === null) return midnight;
  const calendar = plant.calendar.calendar(inForce.calendarId);
  if (!calendar) throw new Error(`shift calendar ${inForce.calendarId} vanished`);
  const slot = slotAt(calendar, midnight);
  return slot.day < day ? slot.untilMs : midnight;
}

const daysOf = ({ fromDay, untilDay }: Days) => ({ fromDay, untilDay });

function filterOf({ fromDay, untilDay }: Days, step: string | null, station: string | null) {
  return {
    fromDay: fromDay ?? '0000-01-01',
    untilDay: untilDay ?? '9999-12-31',
    step,
    station,
  } satisfies StepFilter;
}

export interface StepsAsked {
  query: z.output<typeof stepsQuery>;
  timeZone: string;
}

/** First-pass yield of each step, from the roll-up, with a 95 % Wilson interval. */
export function stepYields(
  plant: Plant,
  { query, timeZone }: StepsAsked,
): z.input<typeof stepLine>[] {
  const { by = 'step', step = null, station = null } = query;
  const { fromDay = null, untilDay = null } = query;
  const filter = filterOf({ fromDay, untilDay }, step, station);
  return plant.rework.stepSums(by, filter).map((sum) => {
    const { slice, attempts, passes, later, laterPasses } = sum;
    const { share: firstPassYield, lower, upper } = shareOf(passes, attempts);
    const days = by === 'day' ? { fromDay: slice, untilDay: slice } : { fromDay, untilDay };
    const at = by === 'station' ? slice : station;
    return {
      step: sum.step,
      slice: slice === '' ? null : slice,
      ...{ attempts, passes, firstPassYield, lower, upper, later, laterPasses },
      link: at === '' ? null : attemptsBehind(plant, sum, { days, station: at, timeZone }),
    };
  });
}

/** Address of the attempts that a step's figure counts. */
function attemptsBehind(
  plant: Plant,
  { step }: StepSum,
  where: { days: Days; station: string | null; timeZone: string },
): string {
  const { days, station } = where;
  if (step !== SET) return address('/v1/yield/inspected-units', { step, station, ...days });
  return setAttempts(windowOf(plant, days, where.timeZone), { station });
}

function setAttempts(window: Window, filter: Record<string, string | null>): string {
  return address('/v1/set-attempts', {
    ...filter,
    from: window.fromDay && iso(window.fromMs),
    until: window.untilDay && iso(window.untilMs),
  });
}

export interface RefusedAsked extends Window {
  by: 'reason' | 'station';
  reason: string | null;
  station: string | null;
}

/** Why sets were refused, or where, largest first; for a worker thread. */
export function refusedSets(plant: Plant, asked: RefusedAsked): z.input<typeof refusedLine>[] {
  const { by, reason, station } = asked;
  const counted = plant.rework.refusedSets(by, asked);
  return pareto(counted.map((one) => [one.category, one.refusals])).map(
    ({ amount, category, ...row }) => ({
      category,
      refusals: amount,
      ...row,
      link:
        by === 'reason'
          ? setAttempts(asked, { outcome: category, station })
          : address('/v1/yield/refused-sets', { station: category, reason, ...daysOf(asked) }),
    }),
  );
}

/**
 * The chance to pass every step the first time, step by step along the way: inspections
 * that were recorded, the set, the first test run.
 */
export function rolledThroughput(plant: Plant, asked: Days): z.input<typeof rolledLine>[] {
  return plant.atomically(() => {
    const sums = plant.rework.stepSums('step', filterOf(asked, null, null));
    const before = sums.map(figureOf);
    const inspections = before.filter((one) => one.step !== SET);
    const sets = before.filter((one) => one.step === SET);
    const way = [...inspections, ...sets, testFigure(plant, asked)];
    return rollSteps(way.filter((one) => one.attempts > 0)).map((one) => {
      const { lower, upper } = shareOf(one.passes, one.attempts);
      return { ...one, lower, upper, link: yieldOf(one.step, asked) };
    });
  });
}

function figureOf({ step, attempts, passes }: StepSum): StepFigure {
  return { step, attempts, passes, defects: attempts - passes };
}

function testFigure(plant: Plant, { fromDay, untilDay }: Days): StepFigure {
  const [line] = firstPassYield(plant, {
    by: 'plant',
    fromDay: fromDay ?? undefined,
    untilDay: untilDay ?? undefined,
  });
  const { firstRuns = 0, firstPasses = 0, firstDefects = 0 } = line ?? {};
  return { step: TEST, attempts: firstRuns, passes: firstPasses, defects: firstDefects };
}

function yieldOf(step: string, days: Days): string {
  if (step === TEST) return address('/v1/yield/motors', daysOf(days));
  return address('/v1/yield/steps', { step, by: 'station', ...daysOf(days) });
}

export interface InspectedAsked extends InspectedFilter {
  afterId: number;
  limit: number;
}

/** The long questions about steps, by name; see src/reader.ts. */
export const stepQuestions = {
  'step-yields': stepYields,
  'refused-sets': refusedSets,
  'rolled-throughput': rolledThroughput,
  'inspected-units': (plant: Plant, asked: InspectedAsked): InspectedRow[] =>
    plant.rework.inspected(asked, asked.afterId, asked.limit),
};
