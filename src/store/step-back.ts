import { constants, setPriority } from 'node:os';
import { isMainThread } from 'node:worker_threads';

/**
 * Lets the main thread go first where cores are few: lowers the priority of the calling
 * worker thread alone (Linux takes process 0 as the calling thread).
 */
export function stepBack(): void {
  if (isMainThread || process.platform !== 'linux') return;
  setPriority(0, constants.priority.PRIORITY_LOW);
}
