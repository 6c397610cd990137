import { existsSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import BetterSqlite3 from 'better-sqlite3';
import { commitCountOn } from './commit-count.js';
import { openReader } from './open.js';

/** All pages in one step: one snapshot, which no later write makes begin again. */
const ALL_PAGES = 0x7fffffff;

/**
 * Copies a database, also while a service writes to it, by SQLite's own backup from
 * one snapshot; checks the copy's integrity and references; only then gives it its name.
 * @param check whatever else must hold of the copy; throws where it does not
 * @throws Error when the destination exists or the copy is not sound; nothing is left then
 */
export async function backupDatabase(
  path: string,
  destination: string,
  check: (copy: string) => void = () => {},
): Promise<void> {
  // A log that lies there would be taken for the copy's own.
  for (const there of [destination, `${destination}-wal`, `${destination}-journal`]) {
    if (existsSync(there)) throw new Error(`${there} exists: choose another place`);
  }
  const unfinished = `${destination}.unfinished`;
  const source = openReader(path);
  try {
    await source.backup(unfinished, { progress: () => ALL_PAGES });
    settle(unfinished);
    check(unfinished);
    renameSync(unfinished, destination);
    // A copy that is restored from is nobody's data, and may lie where nothing can be written.
    if (existsSync(`${path}.lock`)) writeFileSync(markOf(path), `${destination}\n`);
  } finally {
    source.close();
    for (const suffix of ['', '-wal', '-shm']) rmSync(unfinished + suffix, { force: true });
  }
}

/** One file that stands without a log, and sound by SQLite's own checks. */
function settle(copy: string): void {
  const db = new BetterSqlite3(copy);
  try {
    db.pragma('journal_mode = DELETE');
    commitCountOn(db).settle();
    const integrity = db.pragma('integrity_check', { simple: true });
    if (integrity !== 'ok') throw new Error(`the copy is damaged: ${integrity}`);
    if ((db.pragma('foreign_key_check') as unknown[]).length > 0) {
      throw new Error('the copy has rows that refer to nothing');
    }
  } finally {
    db.close();
  }
}

/** Beside the database: its time says when the last backup was made. */
function markOf(path: string): string {
  return `${path}.backed-up`;
}

/** When a database was last backed up, by the clock of the disk; 0 for never. */
export function lastBackupMs(path: string): number {
  return statSync(markOf(path), { throwIfNoEntry: false })?.mtimeMs ?? 0;
}
