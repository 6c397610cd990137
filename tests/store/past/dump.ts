import type { Database } from 'better-sqlite3';

interface SchemaRow {
  type: 'table' | 'index' | 'trigger' | 'view';
  name: string;
  sql: string;
}

/**
 * A database as SQL: its tables, the rows that `rows` has in them, then indexes and
 * triggers, which would else have a say in what is inserted.
 * @param only the condition of a table's rows, by its name, where not all are wanted
 */
export function dumpOf(
  schema: Database,
  rows: Database,
  only: Readonly<Record<string, string>> = {},
): string {
  const made = schema
    .prepare<[], SchemaRow>(
      "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'",
    )
    .all();
  const isTable = ({ type }: SchemaRow) => type === 'table';
  const tables = made.filter(isTable);
  const others = made.filter((one) => !isTable(one));
  return [
    ...tables.map(({ sql }) => `${sql};`),
    ...tables.flatMap(({ name }) => insertsInto(name, rows, only[name])),
    ...others.map(({ sql }) => `${sql};`),
  ].join('\n');
}

function insertsInto(table: string, rows: Database, condition = 'TRUE'): string[] {
  const columns = (rows.pragma(`table_info(${table})`) as { name: string }[]).map(
    ({ name }) => `quote("${name}")`,
  );
  return rows
    .prepare<[], string>(
      `SELECT ${columns.join(" || ', ' || ")} FROM "${table}" WHERE ${condition}`,
    )
    .pluck()
    .all()
    .map((values) => `INSERT INTO "${table}" VALUES (${values});`);
}
