import { showEmpty, showHalf } from './cards.js';
import type { Half } from './scan.js';

/**
 * A half that nothing follows is let go: whoever comes back to the station must not join
 * with it what was never joined.
 */
export const LET_GO_AFTER_MS = 5 * 60 * 1000;

export interface Pair {
  powerhead: Half;
  lowerUnit: Half;
}

const scanned = new Map<Half['is'], Half>();
let timer: ReturnType<typeof setTimeout> | undefined;

/** Takes a scanned half, in place of another of its kind, and returns the pair once it is whole. */
export function takeHalf(half: Half, whenLetGo: (half: Half) => void): Pair | undefined {
  scanned.set(half.is, half);
  showHalf(half);
  clearTimeout(timer);
  const powerhead = scanned.get('powerhead');
  const lowerUnit = scanned.get('lower-unit');
  if (powerhead && lowerUnit) return { powerhead, lowerUnit };
  timer = setTimeout(() => {
    clearPair();
    whenLetGo(half);
  }, LET_GO_AFTER_MS);
  return undefined;
}

/** Empties both cards. */
export function clearPair(): void {
  clearTimeout(timer);
  scanned.clear();
  showEmpty('powerhead');
  showEmpty('lower-unit');
}
