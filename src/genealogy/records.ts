import type { Database } from 'better-sqlite3';

/** Levels of nesting at most: motor, powerhead, fuel rail, injector leave room for four more. */
export const DEPTH_LIMIT = 8;

/** Later than any instant: the tree as it stands. */
export const NOW_AND_ON = 8_640_000_000_000_000;

export interface Installation {
  id: number;
  parentId: number;
  position: string;
  childId: number;
  fromMs: number;
  untilMs: number | null;
}

export interface TreeNode {
  unitId: number;
  class: string;
  serial: string;
  state: string;
  /** Part number and revision, or the model of a motor. */
  part: string | null;
  partRevision: string | null;
  model: string | null;
  parentId: number | null;
  position: string | null;
  fromMs: number | null;
  untilMs: number | null;
  depth: number;
}

type TreeValues = [
  unitId: number,
  unitClass: string,
  serial: string,
  state: string,
  part: string | null,
  partRevision: string | null,
  model: string | null,
  parentId: number | null,
  position: string | null,
  fromMs: number | null,
  untilMs: number | null,
  depth: number,
];

/** better-sqlite3 sets a row's members one by one, which takes longer than reading them. */
function treeNode([
  unitId,
  unitClass,
  serial,
  state,
  part,
  partRevision,
  model,
  parentId,
  position,
  fromMs,
  untilMs,
  depth,
]: TreeValues): TreeNode {
  return {
    unitId,
    class: unitClass,
    serial,
    state,
    part,
    partRevision,
    model,
    parentId,
    position,
    fromMs,
    untilMs,
    depth,
  };
}

const columns = `
  id,
  parent_id AS parentId,
  position,
  child_id AS childId,
  from_ms AS fromMs,
  until_ms AS untilMs`;

/** Installations' SQL on one connection: the one record that all genealogy reads. */
export function genealogyRecords(db: Database) {
  const install = db.prepare(
    'INSERT INTO installations (parent_id, position, child_id, from_ms) VALUES (?, ?, ?, ?)',
  );
  // Reads installation_of_child.
  const end = db.prepare(
    'UPDATE installations SET until_ms = MAX(from_ms, ?) WHERE child_id = ? AND until_ms IS NULL',
  );
  const openOfChild = db.prepare<[number], Installation>(
    `SELECT ${columns} FROM installations WHERE child_id = ? AND until_ms IS NULL`,
  );
  const inPosition = db.prepare<[number, string], Installation>(
    `SELECT ${columns} FROM installations WHERE parent_id = ? AND position = ? AND until_ms IS NULL`,
  );
  const ofChild = db.prepare<[number], Installation>(
    `SELECT ${columns} FROM installations WHERE child_id = ? ORDER BY id`,
  );
  const earliest = db.prepare<
    [{ childId: number; parentId: number; position: string }],
    { atMs: number }
  >(`
    SELECT MAX(at_ms) AS atMs
    FROM (
      SELECT until_ms AS at_ms FROM installations WHERE child_id = @childId
      UNION ALL
      SELECT until_ms FROM installations WHERE parent_id = @parentId AND position = @position
      UNION ALL
      SELECT entered_at_ms FROM units WHERE id IN (@childId, @parentId))`);
  const tree = db
    .prepare<[{ rootId: number; atMs: number }], TreeValues>(`
    WITH RECURSIVE tree (unit_id, parent_id, position, from_ms, until_ms, depth) AS (
      SELECT @rootId, NULL, NULL, NULL, NULL, 0
      UNION ALL
      SELECT i.child_id, i.parent_id, i.position, i.from_ms, i.until_ms, tree.depth + 1
      FROM tree
      JOIN installations i ON i.parent_id = tree.unit_id
      WHERE i.from_ms <= @atMs
        AND (i.until_ms IS NULL OR i.until_ms > @atMs)
        AND tree.depth < ${DEPTH_LIMIT}
    )
    SELECT t.unit_id, u.class, u.serial, u.state, p.number, p.revision, m.code,
           t.parent_id, t.position, t.from_ms, t.until_ms, t.depth
    FROM tree t
    JOIN units u ON u.id = t.unit_id
    LEFT JOIN parts p ON p.id = u.part_id
    LEFT JOIN models m ON m.id = u.model_id
    ORDER BY t.depth, t.position`)
    .raw();
  const above = db.prepare<[{ unitId: number; atMs: number }], { unitId: number; depth: number }>(`
    WITH RECURSIVE above (unit_id, depth) AS (
      SELECT @unitId, 0
      UNION ALL
      SELECT i.parent_id, above.depth + 1
      FROM above
      JOIN installations i ON i.child_id = above.unit_id
      WHERE i.from_ms <= @atMs
        AND (i.until_ms IS NULL OR i.until_ms > @atMs)
        AND above.depth < ${DEPTH_LIMIT}
    )
    SELECT unit_id AS unitId, depth FROM above ORDER BY depth`);
  // Everything that had been in a unit by an instant, with the moment it last left (null:
  // still in). What left a part before the part came in was never in the unit.
  const everIn = db.prepare<
    [{ rootId: number; atMs: number }],
    { unitId: number; untilMs: number | null }
  >(`
    WITH RECURSIVE inside (unit_id, from_ms, until_ms, depth) AS (
      SELECT @rootId, 0, NULL, 0
      UNION
      SELECT i.child_id,
             MAX(i.from_ms, inside.from_ms),
             CASE WHEN i.until_ms IS NULL THEN inside.until_ms
                  ELSE MIN(i.until_ms, COALESCE(inside.until_ms, i.until_ms)) END,
             inside.depth + 1
      FROM inside
      JOIN installations i ON i.parent_id = inside.unit_id
      WHERE i.from_ms <= MIN(@atMs, COALESCE(inside.until_ms, @atMs))
        AND (i.until_ms IS NULL OR i.until_ms > inside.from_ms)
        AND inside.depth < ${DEPTH_LIMIT}
    )
    SELECT unit_id AS unitId,
           CASE WHEN COUNT(*) = COUNT(until_ms) THEN MAX(until_ms) END AS untilMs
    FROM inside
    GROUP BY unit_id`);
  const ancestors = (unitId: number, atMs = NOW_AND_ON) => above.all({ unitId, atMs });
  return {
    /**
     * Fits a child: not before both were entered, nor before it and its position were
     * last freed, nor before the parent last left the child, so that at no instant of
     * the past the two are in each other.
     */
    install(parentId: number, position: string, childId: number, atMs: number): void {
      const free = earliest.get({ childId, parentId, position })?.atMs ?? atMs;
      const parted = everIn
        .all({ rootId: childId, atMs: NOW_AND_ON })
        .find((one) => one.unitId === parentId)?.untilMs;
      install.run(parentId, position, childId, Math.max(atMs, free, parted ?? free));
    },
    /** Ends a child's open installation. */
    remove: (childId: number, atMs: number) => void end.run(atMs, childId),
    openOfChild: (childId: number) => openOfChild.get(childId),
    inPosition: (parentId: number, position: string) => inPosition.get(parentId, position),
    ofChild: (childId: number) => ofChild.all(childId),
    /** The unit and everything in it at an instant, parents before children. */
    tree: (rootId: number, atMs = NOW_AND_ON) => tree.all({ rootId, atMs }).map(treeNode),
    /** The unit itself, then what it is in, outward. */
    ancestors,
    /** The outermost unit that this one is in; itself when it is in none. */
    outermost: (unitId: number, atMs = NOW_AND_ON) =>
      ancestors(unitId, atMs).at(-1)?.unitId ?? unitId,
    everIn: (rootId: number, atMs: number) => everIn.all({ rootId, atMs }),
  };
}
