import type { Database, Statement } from 'better-sqlite3';

type Value = string | number | Buffer | null;

/** Rows of one INSERT: enough that the call costs little, few enough values for SQLite. */
const ROWS = 40;

/** Rows for one table, inserted many to a statement. */
export class BulkTable {
  readonly #db: Database;
  readonly #head: string;
  readonly #marks: string;
  readonly #full: Statement;
  #values: Value[] = [];
  #rows = 0;

  constructor(db: Database, table: string, columns: readonly string[]) {
    this.#db = db;
    this.#head = `INSERT INTO ${table} (${columns.join(', ')}) VALUES `;
    this.#marks = `(${columns.map(() => '?').join(', ')})`;
    this.#full = this.#prepare(ROWS);
  }

  add(...row: Value[]): void {
    this.#values.push(...row);
    this.#rows += 1;
    if (this.#rows === ROWS) this.#insert(this.#full);
  }

  /** Inserts what is still held back. */
  flush(): void {
    if (this.#rows > 0) this.#insert(this.#prepare(this.#rows));
  }

  #insert(statement: Statement): void {
    statement.run(this.#values);
    this.#values = [];
    this.#rows = 0;
  }

  #prepare(rows: number): Statement {
    return this.#db.prepare(this.#head + Array(rows).fill(this.#marks).join(', '));
  }
}

/**
 * Takes every index and trigger away that was made by a statement of its own, and returns
 * what brings them back: filling a table first and indexing it then is several times faster.
 */
export function stripIndexes(db: Database): () => void {
  const made = db
    .prepare<[], { type: string; name: string; sql: string }>(`
      SELECT type, name, sql
      FROM sqlite_master
      WHERE type IN ('index', 'trigger') AND sql IS NOT NULL
      ORDER BY type, name`)
    .all();
  for (const { type, name } of made) db.exec(`DROP ${type} ${name}`);
  return () => {
    for (const { sql } of made) db.exec(sql);
  };
}
