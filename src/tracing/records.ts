import type { Database } from 'better-sqlite3';
import type { Leaf, LeafKind } from './schema.js';

export type PickedRow = [
  id: number,
  unitClass: string,
  serial: string,
  model: string | null,
  part: string | null,
  partRevision: string | null,
  state: string,
  releasedAtMs: number | null,
  order: string | null,
];

/** Later than any instant. */
const EVER = 8_640_000_000_000_000;

/**
 * A leaf's SQL: a query for `x.unit_id`, and the parameters that it takes. It is
 * prepared twice: over all units, and over a few that a command has just touched.
 */
interface LeafQuery {
  sql: string;
  bind: (leaf: never) => Record<string, unknown>;
}

type Of<K extends LeafKind> = Extract<Leaf, Record<K, unknown>>[K];
interface Period {
  from?: number | undefined;
  until?: number | undefined;
}
const period = ({ from, until }: Period) => ({ from: from ?? 0, until: until ?? EVER });

function query<K extends LeafKind>(
  kind: K,
  sql: string,
  bind: (content: Of<K>) => Record<string, unknown>,
): [K, LeafQuery] {
  return [kind, { sql, bind: (leaf: Record<K, Of<K>>) => bind(leaf[kind]) } as LeafQuery];
}

/** Leaves that SQL answers by itself; readings and margins are packed and decoded in TypeScript. */
const queries = new Map<string, LeafQuery>([
  query(
    'lot',
    `SELECT u.unit_id FROM lots l
     JOIN parts p ON p.id = l.part_id
     JOIN lot_uses u ON u.lot_id = l.id
     WHERE p.number = @part AND (@revision IS NULL OR p.revision = @revision) AND l.code = @lot`,
    ({ part, revision, lot }) => ({ part, revision: revision ?? null, lot }),
  ),
  query(
    'serials',
    `SELECT u.id AS unit_id FROM json_each(@serials) s
     JOIN units u ON u.class = @class AND u.serial = s.value`,
    ({ class: unitClass, serials }) => ({ class: unitClass, serials: JSON.stringify(serials) }),
  ),
  query(
    'serialRange',
    `SELECT id AS unit_id FROM units
     WHERE class = @class AND serial >= @first AND serial <= @last`,
    ({ class: unitClass, first, last }) => ({ class: unitClass, first, last }),
  ),
  query(
    'part',
    `SELECT u.id AS unit_id FROM parts p JOIN units u ON u.part_id = p.id
     WHERE p.number = @number AND (@revision IS NULL OR p.revision = @revision)`,
    ({ number, revision }) => ({ number, revision: revision ?? null }),
  ),
  query(
    'model',
    'SELECT u.id AS unit_id FROM models m JOIN units u ON u.model_id = m.id WHERE m.code = @code',
    (code) => ({ code }),
  ),
  query(
    'configuration',
    `SELECT s.motor_id AS unit_id FROM configurations c JOIN sets s ON s.configuration_id = c.id
     WHERE c.code = @code AND (@revision IS NULL OR c.revision = @revision)`,
    ({ code, revision }) => ({ code, revision: revision ?? null }),
  ),
  query(
    'station',
    `SELECT motor_id AS unit_id FROM sets
     WHERE station = @name AND at_ms >= @from AND at_ms < @until`,
    ({ name, ...times }) => ({ name, ...period(times) }),
  ),
  query(
    'cell',
    `SELECT motor_id AS unit_id FROM runs
     WHERE cell = @name AND started_at_ms >= @from AND started_at_ms < @until`,
    ({ name, ...times }) => ({ name, ...period(times) }),
  ),
  query(
    'handledBy',
    `SELECT s.motor_id AS unit_id FROM api_keys k JOIN sets s ON s.key_id = k.id
     WHERE k.name = @key AND s.at_ms >= @from AND s.at_ms < @until
     UNION
     SELECT r.motor_id FROM api_keys k JOIN runs r ON r.started_by = k.id
     WHERE k.name = @key AND r.started_at_ms >= @from AND r.started_at_ms < @until
     UNION
     SELECT r.motor_id FROM api_keys k JOIN repairs r ON r.closed_by = k.id
     WHERE k.name = @key AND r.closed_at_ms >= @from AND r.closed_at_ms < @until`,
    ({ key, ...times }) => ({ key, ...period(times) }),
  ),
  query(
    'tool',
    `SELECT unit_id FROM fastenings
     WHERE tool = @name AND at_ms >= @from AND at_ms < @until`,
    ({ name, ...times }) => ({ name, ...period(times) }),
  ),
  query(
    'setIn',
    'SELECT motor_id AS unit_id FROM sets WHERE at_ms >= @from AND at_ms < @until',
    (times) => period(times),
  ),
  query(
    'specification',
    `SELECT r.motor_id AS unit_id FROM models m
     JOIN specifications s ON s.model_id = m.id AND s.revision = @revision
     JOIN runs r ON r.specification_id = s.id
     WHERE m.code = @model AND r.state = 'completed'`,
    ({ model, revision }) => ({ model, revision }),
  ),
  query('repairCause', 'SELECT motor_id AS unit_id FROM repairs WHERE cause = @cause', (cause) => ({
    cause,
  })),
]);

/**
 * A question whose rows come as one JSON text, in no order. Of 10,000 units by id, handing them
 * over one by one took 12 of 14 ms.
 */
function inOneText<P extends unknown[], Row>(
  db: Database,
  row: string,
  from: string,
): (...parameters: P) => Row[] {
  const statement = db.prepare<P, string>(`SELECT json_group_array(${row}) ${from}`).pluck();
  return (...parameters) => JSON.parse(statement.get(...parameters) ?? '[]') as Row[];
}

/** Where-used questions' SQL on one connection. Reads every capability's tables, writes none. */
export function tracingRecords(db: Database) {
  const prepared = new Map(
    [...queries].map(([kind, { sql, bind }]) => [
      kind,
      {
        bind,
        all: inOneText<[unknown], number>(db, 'DISTINCT x.unit_id', `FROM (${sql}) x`),
        few: inOneText<[unknown], number>(
          db,
          'DISTINCT x.unit_id',
          `FROM (${sql}) x WHERE x.unit_id IN (SELECT value FROM json_each(@units))`,
        ),
      },
    ]),
  );
  const parents = inOneText<[string], [unitId: number, parentId: number]>(
    db,
    'json_array(i.child_id, i.parent_id)',
    `FROM json_each(?) j
     CROSS JOIN installations i ON i.child_id = j.value AND i.until_ms IS NULL`,
  );
  const names = inOneText<[string], [id: number, name: string]>(
    db,
    `json_array(u.id, u.class || ' ' || u.serial)`,
    'FROM json_each(?) j CROSS JOIN units u ON u.id = j.value',
  );
  const everything = inOneText<[], number>(db, 'id', `FROM units WHERE state <> 'installed'`);
  const rows = inOneText<[string], PickedRow>(
    db,
    'json_array(u.id, u.class, u.serial, m.code, p.number, p.revision, u.state, r.at_ms, o.number)',
    `FROM json_each(?) j
     CROSS JOIN units u ON u.id = j.value
     LEFT JOIN models m ON m.id = u.model_id
     LEFT JOIN parts p ON p.id = u.part_id
     LEFT JOIN releases r ON r.motor_id = u.id
     LEFT JOIN sets s ON s.motor_id = u.id
     LEFT JOIN orders o ON o.id = s.order_id`,
  );
  const states = db
    .prepare<[string], [id: number, state: string]>(`
    SELECT u.id, u.state
    FROM json_each(?) j
    CROSS JOIN units u ON u.id = j.value
    ORDER BY u.id`)
    .raw();
  const specificationsWith = db.prepare<[string, string], { id: number }>(`
    SELECT s.id
    FROM models m
    JOIN specifications s ON s.model_id = m.id
    JOIN characteristics c ON c.specification_id = s.id
    WHERE m.code = ? AND c.code = ? AND s.state = 'approved'`);
  // The latest completed run of each motor judged by a specification.
  const latest = `
    SELECT r.motor_id AS unitId, r.judged
    FROM runs r
    WHERE r.specification_id = @specificationId
      AND r.state = 'completed'
      AND NOT EXISTS (
        SELECT 1 FROM runs later WHERE later.motor_id = r.motor_id AND later.attempt > r.attempt)`;
  const judgedAll = db.prepare<[unknown], { unitId: number; judged: Buffer }>(latest);
  const judgedFew = db.prepare<[unknown], { unitId: number; judged: Buffer }>(
    `${latest} AND r.motor_id IN (SELECT value FROM json_each(@units))`,
  );
  return {
    /** Units that a leaf hits: of all, or of a few. */
    hits(leaf: Leaf, units?: readonly number[]): number[] {
      const [kind = ''] = Object.keys(leaf);
      const found = prepared.get(kind);
      if (!found) throw new Error(`${kind} is answered elsewhere`);
      const bound = found.bind(leaf as never);
      return units ? found.few({ ...bound, units: JSON.stringify(units) }) : found.all(bound);
    },
    /** The unit in which each is now; a loose one has none. */
    parentsOf: (ids: readonly number[]): ReadonlyMap<number, number> =>
      new Map(parents(JSON.stringify(ids))),
    /** Class and serial of units, by id. */
    namesOf: (ids: readonly number[]): ReadonlyMap<number, string> =>
      new Map(names(JSON.stringify(ids))),
    everything: () => everything(),
    /** What is told of picked units, ascending. */
    rows: (ids: readonly number[]) => rows(JSON.stringify(ids)).sort(([a], [b]) => a - b),
    /** Units with the state in which each is, ascending. */
    statesOf: (ids: readonly number[]) => states.all(JSON.stringify(ids)),
    specificationsWith: (model: string, code: string) =>
      specificationsWith.all(model, code).map((row) => row.id),
    /** Judged values of the latest completed runs under a specification. */
    latestJudged: (specificationId: number, units?: readonly number[]) =>
      units
        ? judgedFew.iterate({ specificationId, units: JSON.stringify(units) })
        : judgedAll.iterate({ specificationId }),
  };
}
