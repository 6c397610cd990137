import { type Condition, type Leaf, partsOf } from './schema.js';

/** Units that a condition picks, each with the reasons in words. */
export type Picked = ReadonlyMap<number, readonly string[]>;

/** Reasons kept of one unit; a motor with a hundred parts of a lot needs no hundred reasons. */
const REASONS_KEPT = 10;

/** How a leaf is answered, and what all units are, for a `not` with nothing beside it. */
export interface Sources {
  leaf: (leaf: Leaf) => Picked;
  everything: () => Iterable<number>;
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
  const all = new Map<number, readonly string[]>();
  for (const set of sets) {
    for (const [id, reasons] of set) all.set(id, joined(all.get(id), reasons));
  }
  return all;
}

function intersection(sets: readonly Picked[]): Picked {
  const [first, ...others] = [...sets].sort((a, b) => a.size - b.size);
  const both = new Map<number, readonly string[]>();
  for (const [id, reasons] of first ?? []) {
    if (!others.every((set) => set.has(id))) continue;
    both.set(
      id,
      others.reduce((sum, set) => joined(sum, set.get(id) ?? []), reasons),
    );
  }
  return both;
}

function joined(a: readonly string[] | undefined, b: readonly string[]): readonly string[] {
  if (!a || a.length === 0) return b;
  return [...new Set([...a, ...b])].slice(0, REASONS_KEPT);
}
