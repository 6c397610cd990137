import type { z } from 'zod';
import type { Plant } from '../plant.js';
import { defectsPerUnit } from '../statistics/defects-per-unit.js';
import { iso } from '../time.js';
import {
  type KeyFilter,
  type MotorRow,
  NOTHING,
  type YieldCounts,
  type YieldSlice,
} from './records.js';
import { address } from './rework-links.js';
import {
  addDays,
  type Days,
  DIMENSION_BITS,
  type Dimension,
  dayRange,
  FULL_CUBE,
  groupingFor,
  isLong,
  isoWeek,
  lastDayOf,
  mixedRanges,
  mondayOf,
  type PeriodRange,
} from './rules.js';
import type { firstPassLine, firstPassQuery, motorLine, motorsQuery } from './schema.js';
import { shareOf } from './step-rules.js';

type Query = z.output<typeof firstPassQuery>;
type Line = z.input<typeof firstPassLine>;
type MotorsQuery = z.output<typeof motorsQuery>;

const dimensions = Object.keys(DIMENSION_BITS) as Dimension[];

function isDimension(by: string): by is Dimension {
  return Object.hasOwn(DIMENSION_BITS, by);
}

/** Dimensions that a question tells apart or filters by. */
function dimensionsOf(query: Query): Dimension[] {
  const { by = 'model' } = query;
  return dimensions.filter((one) => one === by || query[one] !== undefined);
}

/** Whether a question is put to a worker: thousands of days to show, or every key of them to read. */
export function readsMuch(query: Query): boolean {
  const byDays = query.by === 'day' || query.by === 'week';
  const allKeys = groupingFor(dimensionsOf(query)) === FULL_CUBE;
  return (byDays || allKeys) && isLong(daysOf(query));
}

function daysOf(query: Pick<Query, 'fromDay' | 'untilDay'>): Days {
  return { fromDay: query.fromDay ?? null, untilDay: query.untilDay ?? null };
}

type Keys = Pick<Query, Dimension>;

function keyFilter(query: Keys): KeyFilter {
  const { model = null, cell = null, station = null, shift = null } = query;
  const [configuration = null, revision] = query.configuration?.split(' ') ?? [];
  return {
    model,
    configuration,
    revision: revision === undefined ? null : Number(revision),
    cell,
    station,
    shift,
  };
}

/** First-pass and final yield of each slice, from the roll-up, with 95 % Wilson intervals. */
export function firstPassYield(plant: Plant, query: Query): Line[] {
  const { by = 'model' } = query;
  return sumsOf(plant, by, query).map(({ slice, ...sum }) => {
    const first = shareOf(sum.firstPasses, sum.firstRuns);
    const final = shareOf(sum.finallyPassed, sum.firstRuns);
    const { firstRuns, firstDefects } = sum;
    return {
      slice: by === 'week' ? isoWeek(slice) : slice,
      firstRuns,
      firstPasses: sum.firstPasses,
      firstPassYield: first.share,
      lower: first.lower,
      upper: first.upper,
      finallyPassed: sum.finallyPassed,
      finalYield: final.share,
      finalLower: final.lower,
      finalUpper: final.upper,
      reworked: sum.reworked,
      reworkRatio: firstRuns === 0 ? null : sum.reworked / firstRuns,
      firstDefects,
      defectsPerUnit: firstRuns === 0 ? null : defectsPerUnit(firstDefects, firstRuns),
      completedRuns: sum.completedRuns,
      passedRuns: sum.passedRuns,
      defects: sum.defects,
      abortedRuns: sum.abortedRuns,
      link: address('/v1/yield/motors', motorsOf(by, slice, query)),
    };
  });
}

type By = NonNullable<Query['by']>;
type Sum = YieldCounts & { slice: string };

/** Counts of each slice in order; a week goes by its Monday. */
function sumsOf(plant: Plant, by: By, query: Query): Sum[] {
  const grouping = groupingFor(dimensionsOf(query));
  const days = daysOf(query);
  const read = (slice: YieldSlice, ranges: PeriodRange[]) =>
    plant.yield.sums(slice, grouping, ranges, keyFilter(query));
  if (by === 'day') return read('day', [dayRange(days)]);
  if (by === 'week') return weeksOf(read('day', [dayRange(days)]));
  const sums = read(by, mixedRanges(days));
  return by === 'plant' && sums.length === 0 ? [{ slice: by, ...NOTHING }] : sums;
}

/** Days in order, added up by week. */
function weeksOf(days: readonly Sum[]): Sum[] {
  const weeks: Sum[] = [];
  for (const { slice, ...more } of days) {
    const monday = mondayOf(slice);
    const last = weeks.at(-1);
    if (last?.slice !== monday) weeks.push({ slice: monday, ...more });
    else for (const name of Object.keys(more) as (keyof YieldCounts)[]) last[name] += more[name];
  }
  return weeks;
}

/** The members of the query for the motors of one slice. */
function motorsOf(by: By, slice: string, { by: _, ...query }: Query): Omit<Query, 'by'> {
  if (by === 'plant') return query;
  if (isDimension(by)) return { ...query, [by]: slice };
  const [first, last] = daysIn(by, slice);
  return {
    ...query,
    fromDay: query.fromDay !== undefined && query.fromDay > first ? query.fromDay : first,
    untilDay: query.untilDay !== undefined && query.untilDay < last ? query.untilDay : last,
  };
}

/** First and last day of a period; a week goes by its Monday. */
function daysIn(by: 'day' | 'week' | 'month', slice: string): [string, string] {
  if (by === 'day') return [slice, slice];
  if (by === 'week') return [slice, addDays(slice, 6)];
  return [`${slice}-01`, lastDayOf(`${slice}-01`)];
}

/** What an outcome asks of a motor's first completed run, and of its latest. */
const outcomes = {
  'first-pass': { firstPass: true, finallyPassed: null },
  'not-first-pass': { firstPass: false, finallyPassed: null },
  'finally-passed': { firstPass: null, finallyPassed: true },
  'not-finally-passed': { firstPass: null, finallyPassed: false },
  reworked: { firstPass: false, finallyPassed: true },
} as const;
const anyOutcome = { firstPass: null, finallyPassed: null };

export interface MotorsAsked {
  query: MotorsQuery;
  after: { day: string; motorId: number } | null;
  limit: number;
}

/** The motors behind a line, in the order of the days that they count on. */
export function motorsBehind(plant: Plant, { query, after, limit }: MotorsAsked): MotorRow[] {
  const outcome = query.outcome === undefined ? anyOutcome : outcomes[query.outcome];
  const filter = { ...keyFilter(query), ...daysOf(query), ...outcome };
  return plant.yield.motors(filter, after, limit);
}

/** Whether looking for the motors may read those of a long time. */
export function looksLong(query: MotorsQuery): boolean {
  return isLong(daysOf(query));
}

export function presentMotor(row: MotorRow): z.input<typeof motorLine> {
  return {
    serial: row.serial,
    model: row.model,
    configuration: row.configuration,
    configurationRevision: row.configurationRevision,
    station: row.station,
    day: row.day,
    shift: row.shift,
    run: row.runId,
    cell: row.cell,
    endedAt: iso(row.endedAtMs),
    verdict: row.verdict,
    firstPass: row.firstPass === 1,
    finallyPassed: row.finallyPassed === 1,
    attempts: row.attempts,
    state: row.state,
  };
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const yieldQuestions = {
  'first-pass-yield': firstPassYield,
  'yield-motors': motorsBehind,
  'rework-loops': (plant: Plant, days: Days) => plant.yield.loops(days),
};
