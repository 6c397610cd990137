import { hash, randomBytes } from 'node:crypto';
import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { dayEnd, dayStart, plantDay } from '../time.js';
import { resolveUnit } from '../units/resolve.js';
import { drawEngines } from './draw-engines.js';
import type { DrawRow, FamilyPollutant, FamilyRow, Measurement, TestRow } from './records.js';
import { periodAt, type TestPeriod, testPeriods } from './rules.js';
import type {
  drawDraft,
  familyDraft,
  invalidationDraft,
  revisionDraft,
  testDraft,
} from './schema.js';
import { weightedCycleResult } from './weighted-cycle.js';

type RevisionDraft = z.output<typeof revisionDraft>;

/** Bytes of a draw's seed: as many as the tickets have. */
const SEED_BYTES = 32;

/**
 * Records the first revision of an engine family.
 * @throws Problem engine-family-exists, model-unknown, model-in-other-family
 */
export function recordFamily(command: Command, draft: z.output<typeof familyDraft>): FamilyRow {
  const { code, modelYear, ...terms } = draft;
  if (command.plant.emissions.family(code)) {
    throw new Problem(
      'engine-family-exists',
      `There is an engine family ${code} already: record a revision of it.`,
    );
  }
  return recordRevision(command, { code, modelYear, revision: 1, reason: null }, terms);
}

/**
 * Supersedes an engine family by its next revision.
 * @throws Problem engine-family-unknown, model-unknown, model-in-other-family
 */
export function reviseFamily(command: Command, code: string, draft: RevisionDraft): FamilyRow {
  const { modelYear, revision } = existingFamily(command.plant, code);
  const { reason, ...terms } = draft;
  return recordRevision(command, { code, modelYear, revision: revision + 1, reason }, terms);
}

function recordRevision(
  command: Command,
  names: Pick<FamilyRow, 'code' | 'modelYear' | 'revision' | 'reason'>,
  { models, ...terms }: Omit<RevisionDraft, 'reason'>,
): FamilyRow {
  const { plant } = command;
  const modelIds = models.map((model) => existingModel(plant, model).id);
  const { productionFrom, productionUntil } = terms;
  const other = plant.emissions.otherFamilyOf(
    names.code,
    modelIds,
    productionFrom,
    productionUntil,
  );
  if (other) {
    throw new Problem(
      'model-in-other-family',
      `Model ${other.model} is in engine family ${other.family} in some of those days: a motor is of one family.`,
      { ...other },
    );
  }
  const id = plant.emissions.nextFamilyId();
  command.record('engine-family.recorded', { id, ...names, ...terms, modelIds });
  return existingFamily(plant, names.code);
}

/** A family, in its newest revision or the one asked for. @throws Problem engine-family-unknown */
export function existingFamily(plant: Plant, code: string, revision?: number): FamilyRow {
  const row =
    revision === undefined
      ? plant.emissions.family(code)
      : plant.emissions.familyRevision(code, revision);
  if (row) return row;
  const which = revision === undefined ? code : `${code} revision ${revision}`;
  throw new Problem('engine-family-unknown', `There is no engine family ${which}.`);
}

/** The test periods of a family. */
export function periodsOf(family: FamilyRow): TestPeriod[] {
  return testPeriods({
    fromDay: family.productionFrom,
    untilDay: family.productionUntil,
    projectedVolume: family.projectedVolume,
  }).periods;
}

/**
 * Draws engines at random from a family's production in a test period, by a seed that is made
 * here and recorded with the population, so that the draw can be repeated.
 * @throws Problem engine-family-unknown, test-period-unknown, too-few-engines
 */
export function drawFromFamily(
  command: Command,
  code: string,
  draft: z.output<typeof drawDraft>,
): DrawRow {
  const { plant, now, settings } = command;
  const family = existingFamily(plant, code);
  const today = plantDay(now, settings.timeZone);
  const { period, fromDay, untilDay } = periodAsked(family, draft.period, today);
  const placedBy = draft.placedBy ?? 'set';
  const withReleased = draft.withReleased ?? true;
  const candidates = plant.emissions.candidates({
    familyId: family.id,
    code,
    fromMs: dayStart(fromDay, settings.timeZone),
    untilMs: dayEnd(untilDay, settings.timeZone),
    placedBy,
    withReleased,
  });
  const motors = candidates.filter((one) => one.drawn === 0);
  const leftOut = candidates.length - motors.length;
  if (motors.length < draft.count) {
    throw new Problem(
      'too-few-engines',
      `Test period ${period} of ${code} has ${motors.length} motors to draw from, and ${leftOut} that were drawn before.`,
      { population: motors.length, leftOut },
    );
  }
  const seed = randomBytes(SEED_BYTES).toString('hex');
  const serials = motors.map((one) => one.serial);
  const idOf = new Map(motors.map((one) => [one.serial, one.motorId]));
  const drawn = drawEngines(serials, draft.count, seed).map((serial) => ({
    motorId: idOf.get(serial) ?? 0,
    serial,
  }));
  const id = plant.emissions.nextDrawId();
  command.record(
    'engines.drawn',
    {
      id,
      familyId: family.id,
      family: code,
      period,
      fromDay,
      untilDay,
      placedBy,
      withReleased,
      population: motors.length,
      leftOut,
      populationDigest: digestOf(serials),
      populationMotorIds: motors.map((one) => one.motorId),
      seed,
      drawnOn: today,
      drawn,
    },
    { units: drawn.map((one) => one.motorId) },
  );
  return existingDraw(plant, code, id);
}

/** @throws Problem test-period-unknown */
function periodAsked(family: FamilyRow, asked: number | undefined, today: string): TestPeriod {
  const periods = periodsOf(family);
  if (asked !== undefined) return existingPeriod(family, periods, asked);
  const current = periods.find((one) => one.fromDay <= today && today <= one.untilDay);
  if (current) return current;
  throw new Problem(
    'test-period-unknown',
    `Today, ${today}, is in no test period of ${family.code}: say which is meant.`,
  );
}

/** @throws Problem test-period-unknown */
export function existingPeriod(
  family: FamilyRow,
  periods: readonly TestPeriod[],
  asked: number,
): TestPeriod {
  const period = periods[asked - 1];
  if (period) return period;
  throw new Problem(
    'test-period-unknown',
    `Engine family ${family.code} has test periods 1 to ${periods.length}, not ${asked}.`,
  );
}

/** SHA-256 of serials in ascending order of their bytes, each followed by a line feed. */
export function digestOf(serials: readonly string[]): string {
  const inOrder = serials.map((serial) => Buffer.from(`${serial}\n`)).sort(Buffer.compare);
  return hash('sha256', Buffer.concat(inOrder), 'hex');
}

export function existingDraw(plant: Plant, code: string, id: number): DrawRow {
  const row = plant.emissions.draw(code, id);
  if (row) return row;
  throw new Problem('engine-draw-unknown', `Engine family ${code} has no draw ${id}.`);
}

/**
 * Records an emission test of a drawn engine, weighted from its modes where those are given.
 * @throws Problem engine-family-unknown, scan-unreadable, serial-unknown, wrong-class,
 *   engine-not-drawn, pollutants-mismatch, time-in-future, emission-test-misplaced
 */
export function recordTest(
  command: Command,
  code: string,
  draft: z.output<typeof testDraft>,
): TestRow {
  const { plant, now, settings } = command;
  const family = existingFamily(plant, code);
  const motor = resolveUnit(plant, 'motor', draft.motor);
  const engine = plant.emissions.drawnEngine(code, motor.id);
  if (!engine) {
    throw new Problem(
      'engine-not-drawn',
      `Motor ${motor.serial} was not drawn for engine family ${code}: only drawn engines have results.`,
    );
  }
  assertPollutants(family.pollutants, draft.results);
  const today = plantDay(now, settings.timeZone);
  if (draft.testedOn > today) {
    throw new Problem('time-in-future', `${draft.testedOn} is after today, ${today}.`);
  }
  const afterCorrection = draft.afterCorrection ?? false;
  const misplaced = misplacement(
    { testedOn: draft.testedOn, afterCorrection },
    engine.drawnOn,
    plant.emissions.testsOfMotor(code, motor.id),
  );
  if (misplaced) {
    throw new Problem('emission-test-misplaced', `Motor ${motor.serial} ${misplaced}`);
  }
  const id = plant.emissions.nextTestId();
  command.record(
    'emission-test.recorded',
    {
      id,
      family: code,
      motorId: motor.id,
      testedOn: draft.testedOn,
      hoursRun: draft.hoursRun ?? null,
      afterCorrection,
      note: draft.note ?? null,
      measurements: draft.results.map(measurementOf),
    },
    { units: [motor.id] },
  );
  return existingTest(plant, code, id);
}

type Result = z.output<typeof testDraft>['results'][number];

function measurementOf(result: Result): Measurement {
  const { pollutant } = result;
  if ('value' in result) return { pollutant, value: result.value, modes: null };
  const modes = result.modes.toSorted((a, b) => a.mode - b.mode);
  return { pollutant, value: weightedCycleResult(modes).gramsPerKilowattHour, modes };
}

/** @throws Problem pollutants-mismatch */
function assertPollutants(wanted: readonly FamilyPollutant[], results: readonly Result[]): void {
  const given = results.map((one) => one.pollutant).sort();
  const names = wanted.map((one) => one.pollutant);
  if (JSON.stringify(given) === JSON.stringify(names.toSorted())) return;
  throw new Problem(
    'pollutants-mismatch',
    `The family has ${names.join(', ')}; the results have ${given.join(', ')}.`,
    { pollutants: names },
  );
}

/** Why a test does not fit what is known of the engine; undefined where it does. */
function misplacement(
  test: { testedOn: string; afterCorrection: boolean },
  drawnOn: string,
  before: readonly TestRow[],
): string | undefined {
  if (test.testedOn < drawnOn) return `was drawn on ${drawnOn} only, after that test.`;
  const valid = before.filter((one) => one.invalidated === null);
  if (test.afterCorrection) {
    return valid.some((one) => !one.afterCorrection)
      ? undefined
      : 'has no original result yet, which is the one that counts: record that first.';
  }
  const corrected = valid.find((one) => one.afterCorrection && one.testedOn < test.testedOn);
  return (
    corrected &&
    `was tested after a correction on ${corrected.testedOn}: so are all its later tests.`
  );
}

export function existingTest(plant: Plant, code: string, id: number): TestRow {
  const row = plant.emissions.test(code, id);
  if (row) return row;
  throw new Problem('emission-test-unknown', `Engine family ${code} has no test result ${id}.`);
}

/**
 * Takes a test out of the count; it stays in the record with the reason.
 * @throws Problem emission-test-unknown, emission-test-invalidated
 */
export function invalidateTest(
  command: Command,
  code: string,
  id: number,
  { reason }: z.output<typeof invalidationDraft>,
): TestRow {
  const { plant } = command;
  const test = existingTest(plant, code, id);
  if (test.invalidated) {
    throw new Problem(
      'emission-test-invalidated',
      `Test result ${id} was invalidated already: ${test.invalidated.reason}`,
    );
  }
  command.record('emission-test.invalidated', { testId: id, reason }, { units: [test.motorId] });
  return existingTest(plant, code, id);
}

/** The last period of a family begun by a day. */
export function periodBegun(family: FamilyRow, day: string): number {
  return periodAt(periodsOf(family), day);
}
