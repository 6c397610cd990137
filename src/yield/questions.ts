import type { z } from 'zod';
import { cutPage, type Page } from '../http/cursor.js';
import type { Plant } from '../plant.js';
import { defectsPerUnit } from '../statistics/defects-per-unit.js';
import { iso } from '../time.js';
import {
  type CountedRun,
  type KeyFilter,
  type MotorRow,
  NOTHING,
  type YieldCounts,
} from './records.js';
import { address } from './rework-links.js';
import {
  addDays,
  type Days,
  DIMENSION_BITS,
  type Dimension,
  dayRange,
  dayRangeAfter,
  FULL_CUBE,
  groupingFor,
  isLong,
  isoWeek,
  lastDayOf,
  mixedRanges,
  mondayOf,
} from './rules.js';
import type {
  firstPassLine,
  firstPassQuery,
  motorLine,
  motorsQuery,
  runLine,
  runsQuery,
} from './schema.js';
import { shareOf } from './step-rules.js';

type Query = Omit<z.output<typeof firstPassQuery>, 'limit' | 'after'>;
type Line = z.input<typeof firstPassLine>;
type MotorsQuery = z.output<typeof motorsQuery>;
type RunsQuery = z.output<typeof runsQuery>;

const dimensions = Object.keys(DIMENSION_BITS) as Dimension[];

function isDimension(by: string): by is Dimension {
  return Object.hasOwn(DIMENSION_BITS, by);
}

/** Dimensions that a question tells apart or filters by. */
function dimensionsOf(query: Query): Dimension[] {
  const { by = 'model' } = query;
  return dimensions.filter((one) => one === by || query[one] !== undefined);
}

/** Whether a question is put to a worker: every key of a long time to read. */
export function readsMuch(query: Query): boolean {
  return groupingFor(dimensionsOf(query)) === FULL_CUBE && isLong(daysOf(query));
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

export interface YieldAsked {
  query: Query;
  /** The slice behind which the page begins; a week goes by its Sunday. */
  after: string | null;
  limit: number;
}

/** More lines than there are days on which anything can be recorded. */
const EVERY_LINE = 1_000_000;

/** First-pass and final yield of each slice, from the roll-up, with 95 % Wilson intervals. */
export function firstPassYield(plant: Plant, query: Query): Line[] {
  return yieldPage(plant, { query, after: null, limit: EVERY_LINE }).items;
}

/** A page of the same lines. */
export function yieldPage(plant: Plant, asked: YieldAsked): Page<Line> {
  const { query, limit } = asked;
  const endOf = ({ slice }: Sum) => (query.by === 'week' ? sundayOf(slice) : slice);
  const { items, last } = cutPage(sumsOf(plant, asked), limit, (sum) => [endOf(sum)]);
  return { items: items.map(lineOf(query)), last };
}

function lineOf(query: Query) {
  const { by = 'model' } = query;
  return ({ slice, ...sum }: Sum): Line => {
    const behind = keysOf(by, slice, query);
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
      link: address('/v1/yield/motors', behind),
      runsLink: address('/v1/yield/runs', behind),
    };
  };
}

type By = NonNullable<Query['by']>;
type Sum = YieldCounts & { slice: string };

const DAYS_A_WEEK = 7;

function sundayOf(monday: string): string {
  return addDays(monday, DAYS_A_WEEK - 1);
}

/** Counts of each slice of a page in order, and of one beyond it where more follow. */
function sumsOf(plant: Plant, { query, after, limit }: YieldAsked): Sum[] {
  const { by = 'model' } = query;
  const grouping = groupingFor(dimensionsOf(query));
  const filter = keyFilter(query);
  const days = daysOf(query);
  const readDays = (last: string | null, count: number) => {
    const range = last === null ? dayRange(days) : dayRangeAfter(days, last);
    return plant.yield.days(grouping, range, filter, count);
  };
  if (by === 'day') return readDays(after, limit + 1);
  if (by === 'week') return weeksOf(readDays(after, DAYS_A_WEEK * (limit + 1)));
  const sums = plant.yield.sums(by, grouping, mixedRanges(days), filter);
  if (by === 'plant' && sums.length === 0) return [{ slice: by, ...NOTHING }];
  return after === null ? sums : sums.filter(({ slice }) => slice > after);
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

/** The members of the query for the motors and runs of one slice. */
function keysOf(by: By, slice: string, { by: _, ...query }: Query): Omit<Query, 'by'> {
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
  if (by === 'week') return [slice, sundayOf(slice)];
  return [`${slice}-01`, lastDayOf(`${slice}-01`)];
}

export interface RunsAsked {
  query: RunsQuery;
  after: { day: string; runId: number } | null;
  limit: number;
}

/** The runs behind a line, in the order of the days that they count on. */
export function runsBehind(plant: Plant, { query, after, limit }: RunsAsked): CountedRun[] {
  const { outcome = null } = query;
  return plant.yield.runs({ ...keyFilter(query), ...daysOf(query), outcome }, after, limit);
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

/** Whether looking for motors or runs may read those of a long time. */
export function looksLong(query: Pick<Query, 'fromDay' | 'untilDay'>): boolean {
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

export function presentRun(row: CountedRun): z.input<typeof runLine> {
  return {
    run: row.runId,
    serial: row.serial,
    model: row.model,
    configuration: row.configuration,
    configurationRevision: row.configurationRevision,
    station: row.station,
    cell: row.cell,
    day: row.day,
    shift: row.shift,
    endedAt: iso(row.endedAtMs),
    attempt: row.attempt,
    verdict: row.verdict,
    defects: row.defects,
    abortReason: row.abortReason,
    link: `/v1/runs/${row.runId}`,
  };
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const yieldQuestions = {
  'first-pass-yield': yieldPage,
  'yield-motors': motorsBehind,
  'yield-runs': runsBehind,
  'rework-loops': (plant: Plant, days: Days) => plant.yield.loops(days),
};
