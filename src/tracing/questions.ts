import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { unpackJudgedAt } from '../testing/packing.js';
import { judgeValue } from '../testing/rules.js';
import { iso, isoOrNull } from '../time.js';
import type { PickedRow } from './records.js';
import { evaluate, leavesOf, type Picked, REASONS_KEPT, type Reason } from './rules.js';
import { type Condition, type Leaf, PICKED_LIMIT, type pickedShape } from './schema.js';

/** States in which a unit is no longer inside: it left, or there is nothing left to stop. */
const outsideStates = ['released', 'scrapped', 'torn-down'];

export function isInside(state: string): boolean {
  return !outsideStates.includes(state);
}

/**
 * The units that a condition picks, each as the outermost unit around what was hit.
 * @param few only these outermost units are looked at, with all that is in them
 * @throws Problem too-many-picked
 */
export function pick(plant: Plant, condition: Condition, few?: readonly number[]): Picked {
  const units = few?.flatMap((id) => plant.genealogy.tree(id).map((node) => node.unitId));
  const places = new Map(leavesOf(condition).map((leaf, place) => [leaf, place]));
  const picked = evaluate(condition, {
    leaf: (leaf) => pickLeaf(plant, leaf, places.get(leaf) ?? 0, units),
    everything: () => few ?? plant.tracing.everything(),
  });
  if (picked.size <= PICKED_LIMIT) return picked;
  throw new Problem(
    'too-many-picked',
    `The question picks ${picked.size} units; ask more narrowly.`,
  );
}

function pickLeaf(
  plant: Plant,
  leaf: Leaf,
  place: number,
  units: readonly number[] | undefined,
): Picked {
  const picked = new Map<number, Reason[]>();
  for (const [unitId, hitId] of plant.tracing.outermost(hitsOf(plant, leaf, units))) {
    const reason: Reason = hitId === unitId ? [place] : [place, hitId];
    const own = picked.get(unitId);
    if (!own) picked.set(unitId, [reason]);
    else if (own.length < REASONS_KEPT) own.push(reason);
  }
  return picked;
}

function hitsOf(plant: Plant, leaf: Leaf, units: readonly number[] | undefined): number[] {
  if ('reading' in leaf) {
    const { model, code, from = -Infinity, to = Infinity } = leaf.reading;
    return judgedHits(plant, model, code, units, ({ value }) => {
      return typeof value === 'number' && value >= from && value <= to;
    });
  }
  if ('margin' in leaf) {
    const { model, code, below } = leaf.margin;
    return judgedHits(plant, model, code, units, ({ margin }) => margin !== null && margin < below);
  }
  return plant.tracing.hits(leaf, units);
}

function judgedHits(
  plant: Plant,
  model: string,
  code: string,
  units: readonly number[] | undefined,
  fits: (judgement: ReturnType<typeof judgeValue>) => boolean,
): number[] {
  const hits: number[] = [];
  for (const specificationId of plant.tracing.specificationsWith(model, code)) {
    const { characteristics } = existingSpecification(plant, specificationId);
    const index = characteristics.findIndex((one) => one.code === code);
    const characteristic = characteristics[index];
    if (!characteristic) continue;
    for (const { unitId, judged } of plant.tracing.latestJudged(specificationId, units)) {
      const value = unpackJudgedAt(characteristic, judged, index);
      if (fits(judgeValue(characteristic, value))) hits.push(unitId);
    }
  }
  return hits;
}

/**
 * The reasons of many units in words. A containment that was opened by an older program kept
 * its reasons in words already.
 */
export function reasonsInWords(
  plant: Plant,
  condition: Condition,
  reasons: readonly (readonly (Reason | string)[])[],
): string[][] {
  const leaves = leavesOf(condition).map(describeLeaf);
  const hits = reasons.flatMap((own) => own.flatMap((one) => hitOf(one) ?? []));
  const names = plant.tracing.namesOf([...new Set(hits)]);
  const words = (reason: Reason | string) => {
    if (typeof reason === 'string') return reason;
    const [place, hitId] = reason;
    const leaf = leaves[place] ?? '';
    return hitId === undefined ? leaf : `${leaf}: ${names.get(hitId)}`;
  };
  return reasons.map((own) => [...new Set(own.map(words))]);
}

function hitOf(reason: Reason | string): number | undefined {
  return typeof reason === 'string' ? undefined : reason[1];
}

/** A leaf in words, for the reasons. */
function describeLeaf(leaf: Leaf): string {
  const [[kind, content] = ['', '']] = Object.entries(leaf);
  if (typeof content === 'string') return `${kind} ${content}`;
  if ('serials' in leaf)
    return `one of ${leaf.serials.serials.length} ${leaf.serials.class} serials`;
  const members = Object.entries(content as object).filter(([, value]) => value !== undefined);
  const areTimes = !('reading' in leaf);
  return `${kind} ${members.map(([name, value]) => `${name} ${areTimes ? shown(name, value) : value}`).join(', ')}`;
}

/** A member of a leaf; `from` and `until` are the instants of a period. */
function shown(name: string, value: unknown): string {
  const isTime = typeof value === 'number' && (name === 'from' || name === 'until');
  return isTime ? iso(value) : String(value);
}

export interface WhereUsed {
  items: z.input<typeof pickedShape>[];
  counts: Record<string, number>;
}

/** A where-used question with its answer: each unit, where it is, and why it was picked. */
export function whereUsed(plant: Plant, condition: Condition): WhereUsed {
  const picked = pick(plant, condition);
  const rows = plant.tracing.rows([...picked.keys()]);
  const counts: Record<string, number> = {};
  for (const row of rows) counts[row.state] = (counts[row.state] ?? 0) + 1;
  const reasons = reasonsInWords(
    plant,
    condition,
    rows.map((row) => picked.get(row.id) ?? []),
  );
  return { items: rows.map((row, i) => presentPicked(row, reasons[i] ?? [])), counts };
}

function presentPicked(row: PickedRow, reasons: string[]): z.input<typeof pickedShape> {
  return {
    class: row.class,
    serial: row.serial,
    model: row.model,
    part: row.part,
    partRevision: row.partRevision,
    state: row.state,
    inside: isInside(row.state),
    releasedAt: isoOrNull(row.releasedAtMs),
    order: row.order,
    reasons,
  };
}
