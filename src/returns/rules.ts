import { fisherExact } from '../statistics/fisher-exact.js';
import { holmAdjust } from '../statistics/holm-adjust.js';
import { kaplanMeierOfCounts } from '../statistics/kaplan-meier.js';

import { riskRatio } from '../statistics/rate-ratio.js';

/** Days are text, `YYYY-MM-DD`, in the plant's time zone. */
export type Day = string;

const DAY_MS = 24 * 60 * 60 * 1000;

function numbersOf(day: Day): [number, number, number] {
  const [year = 0, month = 0, date = 0] = day.split('-').map(Number);
  return [year, month, date];
}

/**
 * Full calendar months from one day to a later one: 15 January to 14 March is one, to 15
 * March two. A month that has no such day is full on its last: 31 January to 28 February.
 */
export function fullMonths(from: Day, to: Day): number {
  const [year1, month1, date1] = numbersOf(from);
  const [year2, month2, date2] = numbersOf(to);
  const lastOfMonth = new Date(Date.UTC(year2, month2, 0)).getUTCDate();
  const begun = (year2 - year1) * 12 + month2 - month1;
  return date2 < Math.min(date1, lastOfMonth) ? begun - 1 : begun;
}

export function nextDay(day: Day): Day {
  return new Date(Date.parse(day) + DAY_MS).toISOString().slice(0, 10);
}

/** Days of release that lie in one month and have the same age today. */
export interface AgeSlice {
  /** `YYYY-MM`. */
  month: string;
  /** Full months from those days to today. */
  age: number;
  fromDay: Day;
  /** The last day, counted too. */
  toDay: Day;
}

/**
 * The days from the first to today, cut where the month or the age in full months
 * changes: about two slices a month, so that motors are counted by them and never one
 * by one. None where the first day is after today.
 */
export function ageSlices(firstDay: Day, today: Day): AgeSlice[] {
  const slices: AgeSlice[] = [];
  for (let day = firstDay; day <= today; day = nextDay(day)) {
    const month = day.slice(0, 7);
    const age = fullMonths(day, today);
    const last = slices.at(-1);
    if (last?.month === month && last.age === age) last.toDay = day;
    else slices.push({ month, age, fromDay: day, toDay: day });
  }
  return slices;
}

/** Motors of a month of release that are so many full months out. */
export interface Cohort {
  month: string;
  age: number;
  released: number;
}

/** Motors of a month of release whose first return came after so many full months. */
export interface FirstReturns {
  month: string;
  fullMonths: number;
  motors: number;
}

export interface TriangleCell {
  month: string;
  monthsInService: number;
  released: number;
  returns: number;
  rate: number;
  returnsSoFar: number;
  rateSoFar: number;
  complete: boolean;
}

/**
 * The return triangle: for each month of release and each number of full months in
 * service that its oldest motor has reached, the motors whose first return fell there,
 * as a share of all released in the month. A cell is complete once its youngest motor
 * has that month behind it as well.
 */
export function returnTriangle(
  cohorts: readonly Cohort[],
  firstReturns: readonly FirstReturns[],
): TriangleCell[] {
  const returned = new Map(
    firstReturns.map((one) => [`${one.month} ${one.fullMonths}`, one.motors]),
  );
  const months = [...new Set(cohorts.map((one) => one.month))].sort();
  return months.flatMap((month) => {
    const parts = cohorts.filter((one) => one.month === month && one.released > 0);
    const released = parts.reduce((sum, one) => sum + one.released, 0);
    const ages = parts.map((one) => one.age);
    const [oldest, youngest] = [Math.max(...ages), Math.min(...ages)];
    const cells: TriangleCell[] = [];
    let returnsSoFar = 0;
    for (let age = 0; age <= oldest; age++) {
      const returns = returned.get(`${month} ${age}`) ?? 0;
      returnsSoFar += returns;
      cells.push({
        month,
        monthsInService: age,
        released,
        returns,
        rate: returns / released,
        returnsSoFar,
        rateSoFar: returnsSoFar / released,
        complete: age < youngest,
      });
    }
    return cells;
  });
}

/** Motors that had their event, or were suspended, at one time. */
export interface Ended {
  time: number;
  events: number;
  suspended: number;
}

export interface SurvivalStep extends Ended {
  /** Motors under observation just before this time. */
  atRisk: number;
  /** The estimated share that survives beyond this time, 0..1. */
  survival: number;
  /** Both null while survival is 1 and once it is 0, where the interval is not defined. */
  lower: number | null;
  upper: number | null;
}

/**
 * The product-limit estimate of `kaplanMeierOfCounts`, with its pointwise interval.
 * @param ended in any order, the same time as often as it comes
 * @returns one step for each distinct time at which a motor ended, ascending
 */
export function survivalOf(ended: readonly Ended[], confidence = 0.95): SurvivalStep[] {
  const counts = ended.map(({ suspended, ...one }) => ({ ...one, censored: suspended }));
  return kaplanMeierOfCounts(counts, confidence).map(
    ({ time, atRisk, events, censored, survival, lower, upper }) => ({
      time,
      atRisk,
      events,
      suspended: censored,
      survival,
      lower,
      upper,
    }),
  );
}

/** How many motors of all, and of those that came back, bear a value of a factor. */
export interface FactorCount {
  factor: string;
  value: string;
  /** Returned motors that bear it. */
  returned: number;
  /** Motors of the population that bear it, returned ones counted too. */
  motors: number;
}

export interface Comparison {
  factor: string;
  value: string;
  returnedWith: number;
  with: number;
  returnedWithout: number;
  without: number;
  /** Null where no motor without the value came back, so that it has no bound. */
  riskRatio: number | null;
  /** Both null where every motor bears the value; `upper` alone where it has no bound. */
  lower: number | null;
  upper: number | null;
  p: number;
  pAdjusted: number;
}

/**
 * Whether motors that bear a value come back more often than those that do not, for
 * each value: risk ratio with Koopman's score interval, Fisher's exact p in both
 * directions, and Holm's adjustment for all values that could have been compared.
 * @param returned motors that came back
 * @param population all motors, returned ones counted too
 * @param candidates values that could have been compared, at least as many as are
 * @returns by p, the smallest first
 */
export function compareFactors(
  counts: readonly FactorCount[],
  returned: number,
  population: number,
  candidates = counts.length,
): Comparison[] {
  const compared = counts.map((count) => compareFactor(count, returned, population));
  const left = Array<number>(Math.max(0, candidates - counts.length)).fill(1);
  const adjusted = holmAdjust([...compared.map((one) => one.p), ...left]);
  return compared
    .map((one, i) => ({ ...one, pAdjusted: adjusted[i] ?? 1 }))
    .sort((a, b) => a.p - b.p || b.returnedWith - a.returnedWith || (a.value < b.value ? -1 : 1));
}

function compareFactor(
  count: FactorCount,
  returned: number,
  population: number,
): Omit<Comparison, 'pAdjusted'> {
  const returnedWithout = returned - count.returned;
  const without = population - count.motors;
  const { twoSided } = fisherExact(
    count.returned,
    count.motors - count.returned,
    returnedWithout,
    without - returnedWithout,
  );
  return {
    factor: count.factor,
    value: count.value,
    returnedWith: count.returned,
    with: count.motors,
    returnedWithout,
    without,
    ...ratioOf(count.returned, count.motors, returnedWithout, without),
    p: twoSided,
  };
}

/** The ratio where there are two groups to compare; infinite ends, which JSON has not, are null. */
function ratioOf(events1: number, trials1: number, events2: number, trials2: number) {
  if (trials1 === 0 || trials2 === 0) return { riskRatio: null, lower: null, upper: null };
  const { ratio, lower, upper } = riskRatio({ events1, trials1, events2, trials2 });
  const finite = (x: number | null) => (x === null || Number.isFinite(x) ? x : null);
  return { riskRatio: finite(ratio), lower, upper: finite(upper) };
}
