import { countInFile } from './commit-count.js';
import { StorageError } from './errors.js';
import { fileBytes } from './file-bytes.js';
import { type Log, readLog } from './log.js';

/**
 * Refuses a database file that its write-ahead log does not go on from. SQLite alone would
 * open each of these without a word, and serve pages of different moments, or no longer
 * hold what was committed and answered:
 * - a log that ends before the file does, or is missing while the file was in use;
 * - a log that begins after the file ends: the file is an older one than the log's;
 * - a log damaged anywhere but in its last commit, which alone a power cut may leave torn.
 *
 * What it cannot know is whether whole commits are missing at the very end; nor, where a
 * reader held an older moment while the log was moved, whether the log was cut among the
 * few commits before that moment, which the first page could not tell of. Verify finds that.
 * @throws StorageError, with nothing changed
 */
export function assertLogFits(path: string): void {
  const fault = faultOf(countInFile(path), readLog(`${path}-wal`), fileBytes(path));
  if (fault === undefined) return;
  throw new StorageError(
    `${path} cannot be trusted: ${fault}. Nothing was changed. Restore a backup, or see in the README under "Keep it" what can be saved.`,
  );
}

function faultOf(count: number, log: Log, bytes: number): string | undefined {
  const reached = Math.abs(count);
  const { whole, leftOut } = log;
  if (log.state === 'damaged') return 'the beginning of its log is damaged';
  if (log.state === 'missing') {
    return count < 0
      ? 'it was in use and its log is missing, so that its last commits are lost'
      : undefined;
  }
  if (bytes === 0) return 'it is empty or gone, while its log is still there';
  if (whole && whole.first > reached + 1) {
    return `it ends at commit ${reached} and the log beside it begins at ${whole.first}: the two do not belong together`;
  }
  const end = whole?.last ?? reached;
  if (end < reached) return `it holds commit ${reached} and its log ends at ${end}`;
  if (leftOut && leftOut.highest > end + 1) {
    return `its log is damaged after commit ${end}, and holds commits up to ${leftOut.highest}`;
  }
  // Nought is what a file has from before commits were numbered.
  if (reached > 0 && !whole && leftOut && leftOut.lowest <= reached) {
    return `it holds commit ${reached} and its log is damaged from the first on`;
  }
  return undefined;
}
