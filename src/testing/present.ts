import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import { presentSpecification } from '../catalogue/specification-schema.js';
import { merged } from '../merged.js';
import type { Plant } from '../plant.js';
import { cellNotices } from '../reference/notices.js';
import { iso } from '../time.js';
import type { CompletionDone } from './actions.js';
import { outstanding } from './actions.js';
import { unpackJudged, unpackReadings } from './packing.js';
import type { RunRow } from './records.js';
import { acceptanceLimits, type Characteristic, type Judgement, judgeValue } from './rules.js';
import {
  type completionAnswer,
  type judgementShape,
  type openRunShape,
  presentRun,
  type runDetail,
} from './schema.js';

/** One for all: acceptance limits are remembered by the limits that they belong to. */
const NO_LIMITS = Object.freeze({ lower: null, upper: null, guardBand: 0, nominal: null });

/** A judgement beside the limits that it was made by. */
export function presentJudgement(
  characteristic: Characteristic,
  judgement: Judgement,
): z.input<typeof judgementShape> {
  const limits = characteristic.kind === 'attribute' ? NO_LIMITS : characteristic;
  const accept = acceptanceLimits(limits);
  return {
    code: characteristic.code,
    name: characteristic.name,
    value: judgement.value,
    unit: characteristic.kind === 'attribute' ? null : characteristic.unit,
    conforms: judgement.conforms,
    margin: judgement.margin,
    conformanceProbability: judgement.conformanceProbability,
    lower: limits.lower,
    upper: limits.upper,
    acceptLower: accept.lower,
    acceptUpper: accept.upper,
  };
}

/** The judgements of a completed run, made again from the values it was judged by. */
export function judgementsOf(plant: Plant, run: RunRow): z.input<typeof judgementShape>[] {
  if (!run.judged) return [];
  const { characteristics } = existingSpecification(plant, run.specificationId);
  const values = unpackJudged(characteristics, run.judged);
  return characteristics.map((one, i) => presentJudgement(one, judgeValue(one, values[i] ?? null)));
}

/** A run with every judgement and every reading as posted. */
export function presentRunDetail(plant: Plant, run: RunRow): z.input<typeof runDetail> {
  const { characteristics } = existingSpecification(plant, run.specificationId);
  const readings = plant.testing.batches(run.id).flatMap(({ sequence, measuredAtMs, packed }) =>
    unpackReadings(characteristics, packed).map((one) => ({
      batch: sequence,
      measuredAt: iso(measuredAtMs),
      ...one,
    })),
  );
  return {
    ...presentRun(run),
    judgements: judgementsOf(plant, run),
    readings,
    characteristics: characteristics.map((one) => ({ ...one })),
  };
}

/** What a cell is told of itself at an instant. */
export function presentNotices(
  plant: Plant,
  cell: string,
  now: number,
): z.input<typeof openRunShape>['cellNotices'] {
  return cellNotices(plant, cell, now).map(({ dueAtMs, ...notice }) => ({
    dueAt: iso(dueAtMs),
    ...notice,
  }));
}

/** What a cell needs to begin, or to take over. */
export function presentOpenRun(
  plant: Plant,
  run: RunRow,
  now: number,
): z.input<typeof openRunShape> {
  const specification = existingSpecification(plant, run.specificationId);
  return merged(presentRun(run), {
    prompts: presentSpecification(specification).prompts,
    batches: plant.testing.batches(run.id).map((batch) => batch.sequence),
    outstanding: outstanding(plant, run),
    cellNotices: presentNotices(plant, run.cell, now),
  });
}

export function presentCompletion(
  plant: Plant,
  { run, judged, repairId, ...outcome }: CompletionDone,
  now: number,
): z.input<typeof completionAnswer> {
  const { characteristics } = existingSpecification(plant, run.specificationId);
  const failed = judged.judgements.flatMap((judgement, i) => {
    const characteristic = characteristics[i];
    if (!characteristic || judgement.conforms !== false) return [];
    return [presentJudgement(characteristic, judgement)];
  });
  return {
    run: run.id,
    motor: run.motor,
    attempt: outcome.attempt,
    verdict: judged.verdict,
    firstPass: outcome.firstPass,
    failed,
    cellVerdict: outcome.cellVerdict,
    disagreement: outcome.disagreement,
    repair: repairId,
    next:
      judged.verdict === 'pass'
        ? 'The motor may go to release.'
        : `The motor goes to repair ${repairId}, then it is tested again.`,
    cellNotices: presentNotices(plant, run.cell, now),
  };
}
