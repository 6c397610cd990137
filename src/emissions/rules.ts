import { judgeSeries } from '../statistics/judge-series.js';
import {
  type DeteriorationFactor,
  familyDecision,
  finalDeterioratedResult,
  judgeLotTest,
  type LotDecision,
  type LotTest,
  startLot,
} from './cumsum-lot-rule.js';
import type { RequiredSampleSize } from './sample-size.js';

/** Days are text, `YYYY-MM-DD`, in the plant's time zone. */
export type Day = string;

/** What of the regulation was read for these figures, and what was not. */
export const sourcesNotice =
  'Read in 40 CFR part 1045: the CumSum equation and its action limit (1045.315(b) and (f), as corrected by 73 FR 73789), what an engine above a standard entails (1045.320), what the report holds (1045.345), duty cycle E4 (appendix II), the unit of the standards (1045.103). Read in sister parts only: coefficients and variables of the sample size (1048.310), test periods and engines in each (1051.310), averaging, deterioration and rounding (1051.315), the two consecutive tests (1048.315), corrected engines (1054.320). From memory: the sample-size equation itself, the pass rule, and the ends of testing at 30 engines or one percent of the volume.';

// Test periods ---------------------------------------------------------------

/** Projected volume from which a model year has more than one test period (40 CFR 1051.310(a)). */
export const PERIODS_FROM_VOLUME = 1600;

/** One family's production in one model year. */
export interface Production {
  fromDay: Day;
  /** The last day, counted too. */
  untilDay: Day;
  /** Engines projected for the model year. */
  projectedVolume: number;
}

export interface TestPeriod {
  /** From 1. */
  period: number;
  fromDay: Day;
  /** The last day, counted too. */
  untilDay: Day;
  /** Engines to test in it at least. */
  engines: number;
}

export interface TestPeriods {
  /** Which rule made them, in a sentence. */
  rule: string;
  periods: TestPeriod[];
}

const DAY_MS = 24 * 60 * 60 * 1000;

/**
 * The test periods of a family's model year.
 *
 * AN AID ONLY: the regulation and the certifying authority decide.
 *
 * Method: below a projected volume of 1600 one period. From it on, production of 12 months and
 * more is cut into consecutive quarters of three calendar months, the last as long as is left;
 * shorter production evenly by days: up to 120 days one period, to 210 two, to 300 three, above
 * four. In the first period two engines at least, in each later one.
 * Source: 40 CFR 1051.310(a) and (b), the sister part; that 1045.310 has the same is from memory.
 * Variant: "evenly" to the day, the shorter periods first; family newly certified.
 * Domain: days of the calendar in order; at least one engine.
 *
 * @example
 * testPeriods({ fromDay: '2026-01-01', untilDay: '2026-07-19', projectedVolume: 1600 }).periods;
 * // 200 days: 1 January to 10 April and 11 April to 19 July
 *
 * @throws RangeError when the last day is before the first.
 */
export function testPeriods({ fromDay, untilDay, projectedVolume }: Production): TestPeriods {
  const days = daysBetween(fromDay, untilDay) + 1;
  if (!(days >= 1)) throw new RangeError(`${untilDay} is before ${fromDay}`);
  if (projectedVolume < PERIODS_FROM_VOLUME) {
    return {
      rule: `A projected volume below ${PERIODS_FROM_VOLUME}: the whole model year is one test period.`,
      periods: periodsFrom([fromDay], untilDay),
    };
  }
  if (dayBefore(monthsAfter(fromDay, 12)) <= untilDay) {
    return {
      rule: `A projected volume of ${PERIODS_FROM_VOLUME} or more, production of 12 months or more: consecutive quarters.`,
      periods: periodsFrom(quarterStarts(fromDay, untilDay), untilDay),
    };
  }
  const count = days <= 120 ? 1 : days <= 210 ? 2 : days <= 300 ? 3 : 4;
  const starts = Array.from({ length: count }, (_, at) =>
    daysAfter(fromDay, Math.floor((at * days) / count)),
  );
  return {
    rule: `A projected volume of ${PERIODS_FROM_VOLUME} or more, production of ${days} days: ${count === 1 ? 'one test period' : `${count} even test periods`}.`,
    periods: periodsFrom(starts, untilDay),
  };
}

function quarterStarts(fromDay: Day, untilDay: Day): Day[] {
  const starts: Day[] = [];
  for (let day = fromDay; day <= untilDay; day = monthsAfter(fromDay, 3 * starts.length)) {
    starts.push(day);
  }
  return starts;
}

function periodsFrom(starts: readonly Day[], untilDay: Day): TestPeriod[] {
  return starts.map((fromDay, at) => {
    const next = starts[at + 1];
    return {
      period: at + 1,
      fromDay,
      untilDay: next === undefined ? untilDay : dayBefore(next),
      engines: at === 0 ? 2 : 1,
    };
  });
}

/** The last period begun by a day; the first where none has. */
export function periodAt(periods: readonly TestPeriod[], day: Day): number {
  return periods.findLast((one) => one.fromDay <= day)?.period ?? 1;
}

function daysBetween(from: Day, until: Day): number {
  return (Date.parse(until) - Date.parse(from)) / DAY_MS;
}

function daysAfter(day: Day, days: number): Day {
  return new Date(Date.parse(day) + days * DAY_MS).toISOString().slice(0, 10);
}

function dayBefore(day: Day): Day {
  return daysAfter(day, -1);
}

/** So many calendar months on: 31 January and three months is 30 April. */
function monthsAfter(day: Day, months: number): Day {
  const [year = 0, month = 1, date = 1] = day.split('-').map(Number);
  const lastOfMonth = new Date(Date.UTC(year, month + months, 0)).getUTCDate();
  return new Date(Date.UTC(year, month - 1 + months, Math.min(date, lastOfMonth)))
    .toISOString()
    .slice(0, 10);
}

// Engines and their results --------------------------------------------------

/** What a family is certified to for one pollutant. */
export interface PollutantTerms {
  pollutant: string;
  /** Emission standard or family emission limit. */
  standard: number;
  /** Decimals that the standard is stated with. */
  decimals: number;
  deterioration: DeteriorationFactor;
}

/** One counted test of a drawn engine. */
export interface CountedTest {
  id: number;
  motor: string;
  testedOn: Day;
  /** The test period for whose production it was drawn. */
  period: number;
  /** Undeteriorated, not rounded, by pollutant. */
  values: Readonly<Record<string, number>>;
}

/** One engine with its repeat tests. */
export interface TestedEngine {
  motor: string;
  period: number;
  /** The day of its first test. */
  testedOn: Day;
  tests: CountedTest[];
}

/** Engines in the order of their first tests; several tests of one are repeat tests of it. */
export function testedEngines(tests: readonly CountedTest[]): TestedEngine[] {
  const inOrder = tests.toSorted(
    (a, b) => (a.testedOn < b.testedOn ? -1 : a.testedOn > b.testedOn ? 1 : 0) || a.id - b.id,
  );
  const engines = new Map<string, TestedEngine>();
  for (const test of inOrder) {
    const { motor, period, testedOn } = test;
    const known = engines.get(motor);
    if (known) known.tests.push(test);
    else engines.set(motor, { motor, period, testedOn, tests: [test] });
  }
  return [...engines.values()];
}

/** One engine's final deteriorated result for one pollutant. */
export interface EngineResult {
  /** The tests that it is the mean of. */
  tests: number[];
  measured: number[];
  deteriorated: number;
  /** Whether it is above the standard, which 40 CFR 1045.320(a) has consequences for. */
  exceeds: boolean;
}

/** The result of an engine; undefined where none of its tests has the pollutant. */
export function engineResult(
  engine: TestedEngine,
  terms: PollutantTerms,
): EngineResult | undefined {
  const { pollutant, standard, decimals, deterioration } = terms;
  const tests = engine.tests.filter((test) => test.values[pollutant] !== undefined);
  if (tests.length === 0) return undefined;
  const measured = tests.map((test) => test.values[pollutant] ?? Number.NaN);
  const deteriorated = finalDeterioratedResult(measured, deterioration, decimals);
  return {
    tests: tests.map((test) => test.id),
    measured,
    deteriorated,
    exceeds: deteriorated > standard,
  };
}

// Standing -------------------------------------------------------------------

/** One engine in a pollutant's CumSum. */
export type CumSumStep = Omit<LotTest, 'state'> &
  EngineResult &
  Pick<TestedEngine, 'motor' | 'period' | 'testedOn'>;

/** Where a family stands for one pollutant. */
export interface PollutantStanding {
  pollutant: string;
  decision: LotDecision;
  /** The rule that decided it, in a sentence. */
  rule: string;
  steps: CumSumStep[];
}

/**
 * The CumSum of a family for one pollutant over its engines, in the order of testing.
 *
 * AN AID ONLY. Method, source and variants: `finalDeterioratedResult` and `judgeLotTest`.
 */
export function pollutantStanding(
  terms: PollutantTerms,
  engines: readonly TestedEngine[],
): PollutantStanding {
  const tested = engines.flatMap((engine) => {
    const result = engineResult(engine, terms);
    return result ? [{ engine, result }] : [];
  });
  const results = tested.map(({ result }) => result.deteriorated);
  const { state, points } = judgeSeries(startLot(terms.standard), results, judgeLotTest);
  const steps = points.flatMap((point, at): CumSumStep[] => {
    const one = tested[at];
    if (!one) return [];
    const { motor, period, testedOn } = one.engine;
    return [{ motor, period, testedOn, ...one.result, ...point }];
  });
  return {
    pollutant: terms.pollutant,
    decision: points.at(-1)?.decision ?? 'continue',
    rule: lotRule(points.at(-1), terms.standard, state.failedAt),
    steps,
  };
}

/**
 * Why a lot has its decision, in a sentence.
 * @param last its newest test; undefined before the first
 * @param failedAt the test at which it failed, from 1; null while it has not
 */
export function lotRule(
  last: Omit<LotTest, 'state'> | undefined,
  standard: number,
  failedAt: number | null,
): string {
  if (!last) return 'No engine has been tested yet.';
  if (failedAt !== null) {
    return `The CumSum exceeded its action limit in two consecutive tests, ${failedAt - 1} and ${failedAt}. A sister part wants the agency told within ten working days.`;
  }
  if (!last.required) return 'One test has no standard deviation: a second is needed.';
  const mean = shown(last.mean);
  const warned = last.exceeded
    ? ' The CumSum exceeds its action limit: should the next one too, the family fails.'
    : '';
  if (last.required.tests === null) {
    return `The mean is the standard, ${standard}, so that there is no sample size: testing goes on.${warned}`;
  }
  if (last.decision === 'pass') {
    return `${counted(last.test, 'test')} done and ${last.required.tests} asked for, the mean ${mean} is at or below ${standard}, and no two consecutive CumSums exceeded their action limits.`;
  }
  if (last.test < last.required.tests) {
    return `${counted(last.test, 'test')} done and ${last.required.tests} asked for: testing goes on.${warned}`;
  }
  return `The mean ${mean} is above ${standard}, but no two consecutive CumSums exceeded their action limits: testing goes on.${warned}`;
}

/** A computed figure for a sentence, without the noise of its last digits. */
function shown(value: number): string {
  return String(Number(value.toPrecision(8)));
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

export interface FamilyStanding {
  decision: LotDecision;
  rule: string;
  /** The largest sample size over the pollutants; null while any has none. */
  requiredTests: number | null;
}

/**
 * Where a family stands over all its pollutants and up to a test period: it fails with one
 * pollutant; it passes with all, once every period so far has the engines that it wants.
 *
 * AN AID ONLY. Source: the larger sample size counts in 40 CFR 1048.310(c), engines in each period
 * in 40 CFR 1051.310(b), sister parts; that both are conditions of a pass is from memory.
 *
 * @throws RangeError when there is no pollutant.
 */
export function familyStanding(
  pollutants: readonly PollutantStanding[],
  periods: readonly TestPeriod[],
  engines: readonly TestedEngine[],
): FamilyStanding {
  const decision = familyDecision(pollutants.map((one) => one.decision));
  const required = pollutants.map((one) => one.steps.at(-1)?.required?.tests ?? null);
  const requiredTests = required.some((one) => one === null)
    ? null
    : Math.max(...required.map((one) => one ?? 0));
  if (decision !== 'pass') {
    const because = pollutants.filter((one) => one.decision === decision);
    const rule = because.map((one) => `${one.pollutant}: ${one.rule}`).join(' ');
    return { decision, rule, requiredTests };
  }
  const short = periods.find((one) => enginesOf(engines, one.period) < one.engines);
  if (short) {
    const rule = `Test period ${short.period} wants ${counted(short.engines, 'tested engine')} at least and has ${enginesOf(engines, short.period)}.`;
    return { decision: 'continue', rule, requiredTests };
  }
  return { decision, rule: 'Every pollutant passes.', requiredTests };
}

function enginesOf(engines: readonly TestedEngine[], period: number): number {
  return engines.filter((engine) => engine.period === period).length;
}

/** How far a family is from the ends that testing has whatever its figures are. */
export interface TestingEnds {
  engines: number;
  ofEngines: number;
  conforming: number;
  ofConforming: number;
  reached: boolean;
}

/** Engines of a family after which testing may end (from memory). */
export const ENGINES_AT_MOST = 30;

/**
 * The ends of testing: thirty engines, or conforming ones for one percent of the projected
 * volume, to the nearest whole number.
 *
 * AN AID ONLY. Source: from memory (40 CFR 1045.310, not seen).
 */
export function testingEnds(
  engines: readonly TestedEngine[],
  pollutants: readonly PollutantTerms[],
  projectedVolume: number,
): TestingEnds {
  const conforming = engines.filter((engine) =>
    pollutants.every((terms) => engineResult(engine, terms)?.exceeds === false),
  ).length;
  const ofConforming = Math.max(1, Math.round(projectedVolume / 100));
  return {
    engines: engines.length,
    ofEngines: ENGINES_AT_MOST,
    conforming,
    ofConforming,
    reached: engines.length >= ENGINES_AT_MOST || conforming >= ofConforming,
  };
}

/** The figures of a sample size for an answer; null members where there is none. */
export function sampleSizeFigures(required: RequiredSampleSize | null) {
  return {
    t95: required?.t95 ?? null,
    requiredFormula: required?.formula ?? null,
    requiredTests: required?.tests ?? null,
  };
}
