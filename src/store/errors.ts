/** The queue of commands is full: the caller should come back later. */
export class OverloadedError extends Error {}

/** The file could not be written or read (disk full, read-only, locked, damaged). */
export class StorageError extends Error {}

const storageCodes = [
  'SQLITE_FULL',
  'SQLITE_IOERR',
  'SQLITE_READONLY',
  'SQLITE_BUSY',
  'SQLITE_CANTOPEN',
  'SQLITE_CORRUPT',
  'SQLITE_NOTADB',
];

/** True when SQLite says that the file, not the statement, is the trouble. */
export function isStorageTrouble(error: unknown): boolean {
  if (error instanceof StorageError) return true;
  const code = (error as { code?: unknown } | null)?.code;
  return typeof code === 'string' && storageCodes.some((known) => code.startsWith(known));
}
