import type { z } from 'zod';
import type { Plant } from '../plant.js';
import { judgeSeries } from '../statistics/judge-series.js';
import {
  digestOf,
  existingDraw,
  existingFamily,
  existingPeriod,
  periodBegun,
  periodsOf,
} from './actions.js';
import { judgeLotTest, type LotTest, startLot } from './cumsum-lot-rule.js';
import { drawEngines, ticketOf } from './draw-engines.js';
import type { Drawn } from './events.js';
import type { DrawRow, FamilyPollutant, FamilyRow, TestRow } from './records.js';
import {
  type CountedTest,
  type CumSumStep,
  engineResult,
  familyStanding,
  lotRule,
  periodAt,
  pollutantStanding,
  sampleSizeFigures,
  type TestedEngine,
  type TestPeriod,
  testedEngines,
  testingEnds,
} from './rules.js';
import {
  aidAndSources,
  type drawDetail,
  drawMethod,
  linkOf,
  type populationLine,
  presentDraw,
  presentTest,
  type sampleSizeAnswer,
  type standingAnswer,
  type testDetail,
  type weightedAnswer,
} from './schema.js';
import { e4Modes, type ModeMeasurement, weightedCycleResult } from './weighted-cycle.js';

type Standing = z.input<typeof standingAnswer>;

// Draws --------------------------------------------------------------------------

/** The motors that a draw was made from, from its event. */
function populationOf(plant: Plant, draw: DrawRow): string[] {
  const [event] = plant.journal.after(draw.seq - 1, 1);
  const { populationMotorIds } = JSON.parse(event?.content ?? '{}') as Drawn;
  return plant.emissions.serialsOf(populationMotorIds);
}

/**
 * One draw, made again from its recorded population and seed.
 * @throws Problem engine-draw-unknown
 */
export function repeatedDraw(plant: Plant, code: string, id: number): z.input<typeof drawDetail> {
  const draw = existingDraw(plant, code, id);
  const population = populationOf(plant, draw);
  const again = drawEngines(population, draw.drawn.length, draw.seed);
  return {
    ...presentDraw(draw),
    method: drawMethod,
    digestRepeats: digestOf(population) === draw.populationDigest,
    drawRepeats: JSON.stringify(again) === JSON.stringify(draw.drawn),
    populationLink: `/v1/engine-families/${code}/draws/${id}/population`,
  };
}

/**
 * The population of a draw with each motor's ticket, in ascending order of the tickets.
 * @throws Problem engine-draw-unknown
 */
export function drawPopulation(
  plant: Plant,
  code: string,
  id: number,
): z.input<typeof populationLine>[] {
  const draw = existingDraw(plant, code, id);
  const drawn = new Set(draw.drawn);
  const population = populationOf(plant, draw);
  return drawEngines(population, population.length, draw.seed).map((motor) => ({
    motor,
    ticket: ticketOf(draw.seed, motor),
    drawn: drawn.has(motor),
    link: linkOf(motor),
    aid: aidAndSources.aid,
  }));
}

// Tests --------------------------------------------------------------------------

/** A test with its engine's results so far, by the family in force. */
export function testWithEngine(plant: Plant, row: TestRow): z.input<typeof testDetail> {
  const { pollutants } = existingFamily(plant, row.family);
  const counted = plant.emissions.testsOfMotor(row.family, row.motorId).filter(counts);
  const [engine] = testedEngines(counted.map((test) => countedTest(test, 1)));
  return {
    ...presentTest(row),
    engine: pollutants.flatMap((terms) => {
      const result = engine && engineResult(engine, terms);
      if (!result) return [];
      const { tests, deteriorated, exceeds } = result;
      const { pollutant, standard, unit } = terms;
      return [{ pollutant, tests, deteriorated, standard, unit, exceeds }];
    }),
  };
}

function counts(test: TestRow): boolean {
  return !test.afterCorrection && test.invalidated === null;
}

function countedTest({ id, motor, testedOn, measurements }: TestRow, period: number): CountedTest {
  const values = Object.fromEntries(measurements.map((one) => [one.pollutant, one.value]));
  return { id, motor, testedOn, period, values };
}

// Standing -----------------------------------------------------------------------

export interface StandingAsked {
  family: string;
  period: number | undefined;
  revision: number | undefined;
  /** The plant's day. */
  today: string;
}

/**
 * Where a family stands; for a worker thread.
 * @throws Problem engine-family-unknown, test-period-unknown
 */
export function standingOf(plant: Plant, asked: StandingAsked): Standing {
  return plant.atomically(() => {
    const family = existingFamily(plant, asked.family, asked.revision);
    const all = periodsOf(family);
    const { period } = existingPeriod(
      family,
      all,
      asked.period ?? periodBegun(family, asked.today),
    );
    const periods = all.slice(0, period);
    const drawn = drawnUpTo(plant, family.code, all, period);
    const engines = testedEngines(countedOf(plant, family.code, drawn));
    return standingFigures(family, periods, drawn, engines);
  });
}

type DrawnInPeriod = ReturnType<Plant['emissions']['drawnEngines']>[number] & { period: number };

/** A revision may move the periods' ends: an engine is of the one that its draw's first day is in. */
function drawnUpTo(
  plant: Plant,
  code: string,
  periods: readonly TestPeriod[],
  last: number,
): DrawnInPeriod[] {
  return plant.emissions
    .drawnEngines(code)
    .map((engine) => ({ ...engine, period: periodAt(periods, engine.fromDay) }))
    .filter((engine) => engine.period <= last);
}

function countedOf(plant: Plant, code: string, drawn: readonly DrawnInPeriod[]): CountedTest[] {
  return drawn.flatMap(({ motorId, period }) =>
    plant.emissions
      .testsOfMotor(code, motorId)
      .filter(counts)
      .map((test) => countedTest(test, period)),
  );
}

function standingFigures(
  family: FamilyRow,
  periods: readonly TestPeriod[],
  drawn: readonly DrawnInPeriod[],
  engines: readonly TestedEngine[],
): Standing {
  const judged = family.pollutants.map((terms) => pollutantStanding(terms, engines));
  const { decision, rule, requiredTests } = familyStanding(judged, periods, engines);
  const tested = new Set(engines.map((engine) => engine.motor));
  const period = periods.length;
  return {
    family: family.code,
    revision: family.revision,
    modelYear: family.modelYear,
    period,
    decision,
    rule,
    engines: engines.length,
    requiredTests,
    testPeriods: periods.map((one) => ({
      ...one,
      tested: engines.filter((engine) => engine.period === one.period).length,
    })),
    awaiting: drawn
      .filter((one) => !tested.has(one.motor))
      .map(({ motor, drawId }) => ({ motor, link: linkOf(motor), draw: drawId })),
    exceeding: engines.flatMap((engine) => exceedingEngine(engine, family.pollutants)),
    ends: testingEnds(engines, family.pollutants, family.projectedVolume),
    pollutants: family.pollutants.map((terms, at) => {
      const { decision, rule, steps } = judged[at] ?? pollutantStanding(terms, engines);
      const last = steps.at(-1);
      return {
        ...terms,
        decision,
        rule,
        tests: steps.length,
        mean: last?.mean ?? null,
        sigma: last?.sigma ?? null,
        ...sampleSizeFigures(last?.required ?? null),
        cumSum: steps.map(presentStep),
      };
    }),
    table: `/v1/engine-families/${family.code}/cumsum?period=${period}&revision=${family.revision}`,
    ...aidAndSources,
  };
}

function exceedingEngine(
  engine: TestedEngine,
  pollutants: readonly FamilyPollutant[],
): Standing['exceeding'] {
  const names = pollutants
    .filter((terms) => engineResult(engine, terms)?.exceeds)
    .map((terms) => terms.pollutant);
  if (names.length === 0) return [];
  return [{ motor: engine.motor, link: linkOf(engine.motor), pollutants: names }];
}

function presentStep(step: CumSumStep): Standing['pollutants'][number]['cumSum'][number] {
  const { motor, period, testedOn, measured, deteriorated, exceeds } = step;
  return {
    test: step.test,
    motor,
    link: linkOf(motor),
    period,
    testedOn,
    measured,
    result: deteriorated,
    exceeds,
    ...lotFigures(step),
  };
}

function lotFigures(point: Omit<LotTest, 'state'>) {
  return {
    mean: point.mean,
    sigma: point.sigma,
    ...sampleSizeFigures(point.required),
    cumSum: point.cumSum,
    actionLimit: point.actionLimit,
    overLimit: point.exceeded,
    decision: point.decision,
  };
}

// Questions without a family -----------------------------------------------------

/** The sample size after each of one pollutant's results; for a worker thread. */
export function sampleSizeOf(
  _plant: Plant,
  { standard, results }: { standard: number; results: number[] },
): z.input<typeof sampleSizeAnswer> {
  const { state, points } = judgeSeries(startLot(standard), results, judgeLotTest);
  const last = points.at(-1);
  return {
    decision: last?.decision ?? 'continue',
    rule: lotRule(last, standard, state.failedAt),
    requiredTests: last?.required?.tests ?? null,
    items: points.map((point, at) => ({
      test: point.test,
      result: results[at] ?? Number.NaN,
      ...lotFigures(point),
    })),
    ...aidAndSources,
  };
}

/** The weighted result of duty cycle E4, mode by mode. */
export function weightedResultOf(
  modes: readonly ModeMeasurement[],
): z.input<typeof weightedAnswer> {
  const byMode = new Map(modes.map((one) => [one.mode, one]));
  return {
    cycle: 'E4',
    ...weightedCycleResult(modes),
    items: e4Modes.map((mode) => {
      const { gramsPerHour = 0, kilowatts = 0 } = byMode.get(mode.mode) ?? {};
      return {
        ...mode,
        gramsPerHour,
        kilowatts,
        weightedGramsPerHour: mode.weight * gramsPerHour,
        weightedKilowatts: mode.weight * kilowatts,
      };
    }),
    aid: aidAndSources.aid,
  };
}

/** The long questions of this capability, by name; see src/reader.ts. */
export const emissionQuestions = {
  'emission-standing': standingOf,
  'emission-sample-size': sampleSizeOf,
};
