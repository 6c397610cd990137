import type { z } from 'zod';
import type { Plant } from '../plant.js';
import { iso, isoOrNull } from '../time.js';
import { resolveAnyUnit } from '../units/resolve.js';
import { type Installation, NOW_AND_ON, type TreeNode } from './records.js';
import type { placedShape, treeShape } from './tree-schema.js';

export interface TreeQuery {
  serial: string;
  class?: string | undefined;
  asOf?: number | undefined;
  direction?: 'inside' | 'around' | undefined;
}

type Placed = z.input<typeof placedShape>;

/**
 * What was in a unit at an instant, at every level, or what it was in, outward to the
 * outermost; the unit itself comes first. An installation holds from its beginning on and
 * no longer at its end.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, wrong-class, scan-part-mismatch
 */
export function treeOf(plant: Plant, query: TreeQuery, now: number): z.input<typeof treeShape> {
  const unit = resolveAnyUnit(plant, query.serial, query.class);
  const direction = query.direction ?? 'inside';
  const atMs = query.asOf ?? NOW_AND_ON;
  return {
    asOf: iso(query.asOf ?? now),
    direction,
    units: direction === 'inside' ? inside(plant, unit.id, atMs) : around(plant, unit.id, atMs),
  };
}

function inside(plant: Plant, unitId: number, atMs: number): Placed[] {
  const tree = plant.genealogy.tree(unitId, atMs);
  const byId = new Map(tree.map((node) => [node.unitId, node]));
  return tree.map((node) => placed(node, node.depth, parentOf(byId, node), node));
}

function parentOf(
  byId: ReadonlyMap<number, TreeNode>,
  { parentId }: TreeNode,
): TreeNode | undefined {
  return parentId === null ? undefined : byId.get(parentId);
}

function around(plant: Plant, unitId: number, atMs: number): Placed[] {
  return plant.genealogy.ancestors(unitId, atMs).map((one) => {
    const place = placeAt(plant.genealogy.ofChild(one.unitId), atMs);
    const parent = place && plant.units.byId(place.parentId);
    const unit = plant.units.byId(one.unitId);
    if (!unit) throw new Error(`unit ${one.unitId} is installed but not known`);
    return placed(unit, one.depth, parent, place);
  });
}

/** The installation that held at an instant; a unit is in one place at a time. */
function placeAt(places: readonly Installation[], atMs: number): Installation | undefined {
  return places.find(
    ({ fromMs, untilMs }) => fromMs <= atMs && (untilMs === null || untilMs > atMs),
  );
}

/** A unit as a tree shows it, with what it is in and the installation that put it there. */
function placed(
  unit: Pick<TreeNode, 'class' | 'serial' | 'part' | 'partRevision' | 'model'>,
  depth: number,
  parent: Pick<TreeNode, 'class' | 'serial'> | undefined,
  place: Pick<TreeNode, 'position' | 'fromMs' | 'untilMs'> | undefined,
): Placed {
  return {
    class: unit.class,
    serial: unit.serial,
    part: unit.part,
    partRevision: unit.partRevision,
    model: unit.model,
    depth,
    position: place?.position ?? null,
    parentClass: parent?.class ?? null,
    parent: parent?.serial ?? null,
    since: isoOrNull(place?.fromMs ?? null),
    until: isoOrNull(place?.untilMs ?? null),
  };
}
