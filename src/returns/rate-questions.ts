import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { Plant } from '../plant.js';
import { dayEnd, dayStart, plantDay } from '../time.js';
import type { Span } from './records.js';
import { ageSlices, type Cohort, type Ended, returnTriangle, survivalOf } from './rules.js';
import type { survivalAnswer, triangleLine } from './schema.js';

/** As of when, in the plant's time zone. */
interface AsOf {
  nowMs: number;
  timeZone: string;
}

/** A cohort, and those of it that never came back. */
type CountedCohort = Cohort & { suspended: number };

/**
 * First returns of a model's motors by month of release and full months in service; for
 * a worker thread.
 * @throws Problem model-unknown
 */
export function triangleOf(
  plant: Plant,
  { model, ...asOf }: { model: string } & AsOf,
): z.input<typeof triangleLine>[] {
  return plant.atomically(() => {
    const modelId = existingModel(plant, model).id;
    const cohorts = cohortsOf(plant, modelId, asOf);
    return returnTriangle(cohorts, plant.returns.firstReturnsByMonth(modelId));
  });
}

/** Motors by month of release and age, counted by the database in spans of days. */
function cohortsOf(plant: Plant, modelId: number, { nowMs, timeZone }: AsOf): CountedCohort[] {
  const firstAtMs = plant.returns.firstReleaseAtMs();
  if (firstAtMs === null) return [];
  const slices = ageSlices(plantDay(firstAtMs, timeZone), plantDay(nowMs, timeZone));
  const spans = slices.map(
    ({ fromDay, toDay }): Span => [dayStart(fromDay, timeZone), dayEnd(toDay, timeZone)],
  );
  return plant.returns.releasedIn(modelId, spans).flatMap(({ slice, released, suspended }) => {
    const at = slices[slice];
    return at ? [{ month: at.month, age: at.age, released, suspended }] : [];
  });
}

export interface SurvivalAsked extends AsOf {
  model: string;
  by: 'months' | 'hours';
  /** Hours a month, for motors whose hours are not known; null by months. */
  hoursPerMonth: number | null;
}

/**
 * How long a model's motors stay out before their first return; for a worker thread.
 * @throws Problem model-unknown
 */
export function returnSurvival(plant: Plant, asked: SurvivalAsked): z.input<typeof survivalAnswer> {
  return plant.atomically(() => {
    const { model, by, hoursPerMonth } = asked;
    const modelId = existingModel(plant, model).id;
    const cohorts = cohortsOf(plant, modelId, asked);
    const perMonth = hoursPerMonth ?? 1;
    const out = cohorts.map((one) => ({
      time: one.age * perMonth,
      events: 0,
      suspended: one.suspended,
    }));
    const { events, estimated } =
      by === 'months' ? eventsByMonths(plant, modelId) : eventsByHours(plant, modelId, perMonth);
    return {
      model,
      by,
      hoursPerMonth,
      motors: cohorts.reduce((sum, one) => sum + one.released, 0),
      returned: events.reduce((sum, one) => sum + one.events, 0),
      suspended: out.reduce((sum, one) => sum + one.suspended, 0),
      hoursEstimated: estimated,
      method: methodOf(asked),
      steps: survivalOf([...events, ...out]),
    };
  });
}

interface Events {
  events: Ended[];
  estimated: number | null;
}

function eventsByMonths(plant: Plant, modelId: number): Events {
  const events = plant.returns
    .firstReturnsByMonth(modelId)
    .map(({ fullMonths, motors }) => ({ time: fullMonths, events: motors, suspended: 0 }));
  return { events, estimated: null };
}

function eventsByHours(plant: Plant, modelId: number, perMonth: number): Events {
  const rows = plant.returns.firstReturnsByHours(modelId);
  const events = rows.map(({ hours, fullMonths, motors }) => ({
    time: hours ?? (fullMonths ?? 0) * perMonth,
    events: motors,
    suspended: 0,
  }));
  const unread = rows.filter((one) => one.hours === null);
  return { events, estimated: unread.reduce((sum, one) => sum + one.motors, 0) };
}

function methodOf({ by, hoursPerMonth }: SurvivalAsked): string {
  const scale =
    by === 'months'
      ? 'Time is full calendar months since the release.'
      : `Time is hours run, rounded to whole hours where they were read. Hours of motors that did not come back, and of returns without a reading, are not known: they are estimated as full months since the release times ${hoursPerMonth} hours a month, and the curve is no better than that figure.`;
  return `Kaplan and Meier’s product limit. The event is a motor’s first field return; a motor without one is suspended at its age today. At one time, events come before suspensions. ${scale} Interval: 95 %, at each time by itself, by Greenwood’s variance on the scale ln(-ln S).`;
}
