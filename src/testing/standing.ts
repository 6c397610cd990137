import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import { readingsOf } from './actions.js';
import { judgementsOf, presentJudgement, presentNotices } from './present.js';
import type { RunRow } from './records.js';
import { judgeRun } from './rules.js';
import { type judgementShape, presentRun, type testCellShape } from './schema.js';

type JudgementShown = z.input<typeof judgementShape>;

/** How far an open run is. */
export interface Standing {
  /** Every characteristic, in the specification's order, as its last reading would be judged. */
  judgements: JudgementShown[];
  /** What keeps the run from being completed, and why. */
  outstanding: { code: string; reason: string }[];
}

/** Judges an open run by the readings that it holds, without a verdict. */
export function standingOf(plant: Plant, run: RunRow): Standing {
  const specification = existingSpecification(plant, run.specificationId);
  const { characteristics } = specification;
  const answer = judgeRun(characteristics, readingsOf(plant, run.id, specification));
  const judgements = answer.complete ? answer.run.judgements : answer.judgements;
  return {
    judgements: characteristics.flatMap((characteristic, i) => {
      const judgement = judgements[i];
      return judgement ? [presentJudgement(characteristic, judgement)] : [];
    }),
    outstanding: answer.complete ? [] : answer.missing,
  };
}

/** The repair that a failed run opened. */
export function repairOpenedBy(plant: Plant, { id, motorId }: RunRow): number | null {
  return plant.repair.ofMotor(motorId).find((one) => one.runId === id)?.id ?? null;
}

/** What a test cell holds at an instant, and what is amiss with it. */
export function testCell(plant: Plant, cell: string, now: number): z.input<typeof testCellShape> {
  const open = plant.testing.openInCell(cell);
  const last = plant.testing.lastEndedIn(cell);
  return {
    cell,
    run: open ? soFar(plant, open) : null,
    lastRun: last ? ended(plant, last) : null,
    cellNotices: presentNotices(plant, cell, now),
  };
}

function soFar(plant: Plant, run: RunRow) {
  return { ...presentRun(run), ...plant.testing.held(run.id), ...standingOf(plant, run) };
}

function ended(plant: Plant, run: RunRow) {
  const failed = judgementsOf(plant, run).filter((one) => one.conforms === false);
  return { ...presentRun(run), failed, repair: repairOpenedBy(plant, run) };
}
