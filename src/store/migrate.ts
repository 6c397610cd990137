import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';

interface Migration {
  number: number;
  name: string;
  sql: string;
  checksum: string;
}

/**
 * Reads the numbered SQL files of a folder, `0001_name.sql` and up without a gap.
 * @throws Error when a number is missing or used twice.
 */
export function readMigrations(folder: string): Migration[] {
  const files = readdirSync(folder)
    .filter((file) => /^\d{4}_.+\.sql$/.test(file))
    .sort();
  return files.map((name, index) => {
    const number = Number(name.slice(0, 4));
    if (number !== index + 1) throw new Error(`migration ${name} is out of sequence`);
    const sql = readFileSync(join(folder, name), 'utf8');
    return { number, name, sql, checksum: createHash('sha256').update(sql).digest('hex') };
  });
}

/**
 * Brings a database to the program's version, all in one transaction.
 * Returns how many migrations were applied.
 * @throws Error, changing nothing, when the file is newer than the program or an
 * applied migration has been edited since.
 */
export function migrate(db: Database, folder: string): number {
  const migrations = readMigrations(folder);
  const bring = db.transaction((): number => {
    db.exec(`CREATE TABLE IF NOT EXISTS migrations (
      number   INTEGER PRIMARY KEY,
      name     TEXT NOT NULL,
      checksum TEXT NOT NULL
    ) STRICT`);
    const pending = migrations.slice(checkedCount(db, migrations));
    const note = db.prepare('INSERT INTO migrations (number, name, checksum) VALUES (?, ?, ?)');
    for (const { number, name, sql, checksum } of pending) {
      db.exec(sql);
      note.run(number, name, checksum);
    }
    return pending.length;
  });
  return bring.immediate();
}

/**
 * Only looks whether a database is one that `migrate` would take; an empty one is.
 * @throws Error as `migrate` does
 */
export function assertKnown(db: Database, folder: string): void {
  const known = db.prepare("SELECT 1 FROM sqlite_schema WHERE name = 'migrations'").get();
  if (known !== undefined) checkedCount(db, readMigrations(folder));
}

/** How many migrations were applied, each the one that the program knows. */
function checkedCount(db: Database, migrations: readonly Migration[]): number {
  const applied = db
    .prepare<[], { number: number; checksum: string }>(
      'SELECT number, checksum FROM migrations ORDER BY number',
    )
    .all();
  for (const row of applied) checkApplied(row, migrations[row.number - 1]);
  return applied.length;
}

function checkApplied(
  row: { number: number; checksum: string },
  known: Migration | undefined,
): void {
  if (!known) {
    throw new Error(
      `this database has migration ${row.number}, which this program does not know: it was written by a newer Skeg`,
    );
  }
  if (known.checksum !== row.checksum) {
    throw new Error(`migration ${known.name} was changed after it had been applied here`);
  }
}
