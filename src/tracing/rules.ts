import { type Condition, type Leaf, partsOf } from './schema.js';

/**
 * Why a unit was picked: the place of a leaf among those of the condition, and what the leaf
 * hit inside the unit, where that is not the unit itself. Thousands are kept with a
 * containment; their words follow from them.
 */
export type Reason = readonly [leaf: number, hitId?: number];

/** Units that a condition picks, each with the reasons. */
export type Picked = ReadonlyMap<number, readonly Reason[]>;

/** Reasons kept of one unit; a motor with a hundred parts of a lot needs no hundred reasons. */
export const REASONS_KEPT = 10;

/** How a leaf is answered, and what all units are, for a `not` with nothing beside it. */
export interface Sources {
  leaf: (leaf: Leaf) => Picked;
  everything: () => Iterable<number>;
}

/** The leaves of a condition, in the order in which they stand. */
export function leavesOf(condition: Condition): Leaf[] {
  const parts = partsOf(condition);
  return parts.length === 0 ? [condition as Leaf] : parts.flatMap(leavesOf);
}

/**
 * The units that a condition picks. `all` needs every part to pick a unit, `any` one of
 * them; `not` gives no reason, since there is none to see.
 */
export function evaluate(condition: Condition, sources: Sources): Picked {
  if ('all' in condition) return evaluateAll(condition.all, sources);
  if ('any' in condition) return union(partsOf(condition).map((one) => evaluate(one, sources)));
  if ('not' in condition) {
    const out = evaluate(condition.not, sources);
    return new Map([...sources.everything()].filter((id) => !out.has(id)).map((id) => [id, []]));
  }
  return sources.leaf(condition);
}

/** The parts that pick narrow first, so that a `not` beside them never asks for everything. */
function evaluateAll(parts: readonly Condition[], sources: Sources): Picked {
  const picking = parts.filter((one) => !('not' in one));
  const refusing = parts.flatMap((one) => ('not' in one ? [one.not] : []));
  if (picking.length === 0) {
    return evaluate({ not: { any: refusing } }, sources);
  }
  let picked = intersection(picking.map((one) => evaluate(one, sources)));
  for (const one of refusing) {
    const out = evaluate(one, sources);
    picked = new Map([...picked].filter(([id]) => !out.has(id)));
  }
  return picked;
}

function union(sets: readonly Picked[]): Picked {
  const all = new Map<number, readonly Reason[]>();
  for (const set of sets) {
    for (const [id, reasons] of set) all.set(id, joined(all.get(id), reasons));
  }
  return all;
}

function intersection(sets: readonly Picked[]): Picked {
  const [first, ...others] = [...sets].sort((a, b) => a.size - b.size);
  const both = new Map<number, readonly Reason[]>();
  for (const [id, reasons] of first ?? []) {
    if (!others.every((set) => set.has(id))) continue;
    both.set(
      id,
      others.reduce((sum, set) => joined(sum, set.get(id) ?? []), reasons),
    );
  }
  return both;
}

function joined(a: readonly Reason[] | undefined, b: readonly Reason[]): readonly Reason[] {
  if (!a || a.length === 0) return b;
  return [...a, ...b].slice(0, REASONS_KEPT);
}
