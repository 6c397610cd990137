import { DateTime } from 'luxon';
import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import { presentTree, setOf } from '../genealogy/history.js';
import type { Plant } from '../plant.js';
import { presentRepairDetail } from '../repair/schema.js';
import { percentileRank } from '../statistics/percentile-rank.js';
import { unpackJudgedAt } from '../testing/packing.js';
import { judgementsOf } from '../testing/present.js';
import type { RunRow } from '../testing/records.js';
import {
  type DerivedCharacteristic,
  type MeasuredCharacteristic,
  margin,
} from '../testing/rules.js';
import { presentRun } from '../testing/schema.js';
import { iso } from '../time.js';
import { existingReturn } from './actions.js';
import type { returnAnswers } from './answers-schema.js';
import { sharedBy } from './factor-questions.js';
import type { NeighbourRow, TestedRow } from './neighbour-records.js';
import type { ReturnRow } from './records.js';
import { presentReturn } from './schema.js';

/** Other returns with the symptom, lots, and motors of an hour that are shown at most. */
const SHOWN_LIMIT = 100;
/** Serials shown of the motors that share a lot. */
const LOT_SERIALS_SHOWN = 20;
const DAY_MS = 24 * 60 * 60 * 1000;

export interface AnswersAsked {
  id: number;
  windowDays: number;
  neighbours: number;
  timeZone: string;
}

type Answers = z.input<typeof returnAnswers>;

/**
 * What is known of a returned unit's motor, of those beside it, and of what came back
 * like it; for a worker thread.
 * @throws Problem return-unknown
 */
export function answersOf(plant: Plant, asked: AnswersAsked): Answers {
  return plant.atomically(() => {
    const row = existingReturn(plant, asked.id);
    const release = plant.release.ofMotor(row.motorId);
    const run = release && plant.testing.run(release.runId);
    if (!release || !run) throw new Error(`motor ${row.motor} has no release`);
    return {
      return: presentReturn(row),
      releasedAt: iso(release.atMs),
      ...asBuilt(plant, row, release.atMs),
      margins: marginsOf(plant, run, asked.windowDays),
      neighbours: neighboursOf(plant, run, release.atMs, asked),
      alike: alike(plant, row),
      shared: sharedBy(plant, row, asked.timeZone),
    };
  });
}

/** The tree and the set as of the release, all runs and all repairs. */
function asBuilt(plant: Plant, { motorId, unitId }: ReturnRow, releasedAtMs: number) {
  const tree = plant.genealogy.tree(motorId, releasedAtMs);
  return {
    tree: presentTree(plant, tree, unitId, releasedAtMs),
    sets: setOf(plant, motorId, releasedAtMs),
    runs: plant.testing
      .runsOf(motorId)
      .map((run) => ({ ...presentRun(run), judgements: judgementsOf(plant, run) })),
    repairs: plant.repair
      .ofMotor(motorId)
      .map((repair) => presentRepairDetail(repair, plant.repair.exchanges(repair.id))),
  };
}

/** Each margin of a run with its percentile among the motors tested within days of it. */
function marginsOf(plant: Plant, run: RunRow, windowDays: number): Answers['margins'] {
  const endedAtMs = run.endedAtMs ?? run.startedAtMs;
  const fromMs = endedAtMs - windowDays * DAY_MS;
  const untilMs = endedAtMs + windowDays * DAY_MS;
  const { motors, byCode } = marginsWithin(plant, run.modelId, fromMs, untilMs);
  const items = judgementsOf(plant, run).flatMap(({ code, name, value, unit, margin }) => {
    const population = byCode.get(code);
    if (typeof value !== 'number' || margin === null || !population) return [];
    const percentile = 100 * percentileRank(population, margin);
    return [{ code, name, value, unit, margin, percentile, n: population.length }];
  });
  return {
    run: run.id,
    from: iso(fromMs),
    until: iso(untilMs),
    motors,
    definition:
      'Percentile rank of the margin, in percent: the share of the window’s motors below it plus half the share equal to it, this motor counted too (the inverse of definition 5 of Hyndman and Fan). Each margin is by the limits of the specification that judged it; motors are compared where their specification has a characteristic of the same code.',
    items,
  };
}

/** The margins of all motors whose latest completed run ended in a span, by characteristic. */
function marginsWithin(plant: Plant, modelId: number, fromMs: number, untilMs: number) {
  const byCode = new Map<string, number[]>();
  const specifications = new Map<number, Limited[]>();
  let motors = 0;
  for (const { specificationId, judged } of plant.returns.judgedWithin(modelId, fromMs, untilMs)) {
    motors += 1;
    const limited = specifications.get(specificationId) ?? limitedIn(plant, specificationId);
    specifications.set(specificationId, limited);
    for (const { index, code, characteristic } of limited) {
      const value = unpackJudgedAt(characteristic, judged, index);
      const distance = typeof value === 'number' ? margin(value, characteristic) : null;
      if (distance === null) continue;
      const known = byCode.get(code);
      if (known) known.push(distance);
      else byCode.set(code, [distance]);
    }
  }
  return { motors, byCode };
}

interface Limited {
  /** Its place among the judged values. */
  index: number;
  code: string;
  characteristic: MeasuredCharacteristic | DerivedCharacteristic;
}

/** The characteristics of a specification that have a margin. */
function limitedIn(plant: Plant, specificationId: number): Limited[] {
  const { characteristics } = existingSpecification(plant, specificationId);
  return characteristics.flatMap((characteristic, index) => {
    if (characteristic.kind === 'attribute') return [];
    const hasLimits = characteristic.lower !== null || characteristic.upper !== null;
    return hasLimits ? [{ index, code: characteristic.code, characteristic }] : [];
  });
}

function neighboursOf(
  plant: Plant,
  run: RunRow,
  releasedAtMs: number,
  { neighbours: limit, timeZone }: AnswersAsked,
): Answers['neighbours'] {
  const { motorId, cell } = run;
  const beside = { runId: run.id, motorId, cell, endedAtMs: run.endedAtMs ?? 0, limit };
  return {
    cell: {
      cell,
      before: plant.returns.testedBefore(beside).map(presentTested),
      after: plant.returns.testedAfter(beside).map(presentTested),
    },
    lots: plant.returns.lotsIn(motorId, releasedAtMs, SHOWN_LIMIT).map(({ lotId, ...lot }) => {
      const sharing = plant.returns.sharingLot(lotId, motorId, LOT_SERIALS_SHOWN);
      const serials = sharing.map((one) => one.serial);
      return { ...lot, motors: sharing[0]?.motors ?? 0, serials };
    }),
    station: setInTheHour(plant, motorId, timeZone),
  };
}

function setInTheHour(
  plant: Plant,
  motorId: number,
  timeZone: string,
): Answers['neighbours']['station'] {
  const set = plant.pairing.ofMotor(motorId);
  if (!set) throw new Error(`motor ${motorId} was never set`);
  const hour = DateTime.fromMillis(set.atMs, { zone: timeZone }).startOf('hour');
  const fromMs = hour.toMillis();
  const untilMs = hour.plus({ hours: 1 }).toMillis();
  const { station } = set;
  const rows = plant.returns.setBetween({ station, fromMs, untilMs, motorId, limit: SHOWN_LIMIT });
  return {
    station,
    from: iso(fromMs),
    until: iso(untilMs),
    motors: rows[0]?.motors ?? 0,
    items: rows.map((row) => ({ ...presentNeighbour(row), setAt: iso(row.atMs) })),
  };
}

function presentNeighbour({ motor, model, state, returns }: NeighbourRow) {
  return { motor, model, state, returns };
}

function presentTested(row: TestedRow) {
  return {
    ...presentNeighbour(row),
    run: row.run,
    verdict: row.verdict,
    endedAt: iso(row.atMs),
  };
}

function alike(plant: Plant, { id, symptom, modelId }: ReturnRow): Answers['alike'] {
  const rows = plant.returns.alike(symptom, modelId, SHOWN_LIMIT + 1);
  return {
    motors: plant.returns.returnedMotors({ symptom, modelId }),
    items: rows
      .filter((one) => one.id !== id)
      .slice(0, SHOWN_LIMIT)
      .map(presentReturn),
  };
}
