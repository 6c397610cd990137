import type { SetRow } from '../pairing/records.js';
import type { Exchange, RepairRow } from '../repair/records.js';
import type { RunRow } from '../testing/records.js';
import type { Hold } from '../units/records.js';

/** A set as it was known at an instant: a later teardown had not come yet. */
export function setAsOf(set: SetRow, asOfMs: number): SetRow {
  if (set.tornDownAtMs === null || set.tornDownAtMs <= asOfMs) return set;
  return { ...set, tornDownAtMs: null, teardownReason: null };
}

/** A run as it was known at an instant: one that ended later was open, without a verdict. */
export function runAsOf(run: RunRow, asOfMs: number): RunRow {
  if (run.endedAtMs === null || run.endedAtMs <= asOfMs) return run;
  return {
    ...run,
    state: 'open',
    endedAtMs: null,
    attempt: null,
    verdict: null,
    firstPass: null,
    cellVerdict: null,
    disagreement: 0,
    abortReason: null,
    judged: null,
  };
}

/** A repair and its exchanges as they were known at an instant: one that ended later was open. */
export function repairAsOf(
  repair: RepairRow,
  exchanges: Exchange[],
  asOfMs: number,
): { repair: RepairRow; exchanges: Exchange[] } {
  const known = exchanges.filter((one) => one.atMs <= asOfMs);
  if (repair.closedAtMs === null || repair.closedAtMs <= asOfMs) {
    return { repair, exchanges: known };
  }
  const ending = { closedAtMs: null, outcome: null, closedBy: null };
  const findings = { symptom: null, cause: null, action: null, note: null };
  return { repair: { ...repair, ...ending, ...findings }, exchanges: known };
}

/** The holds that were known at an instant: one lifted later was open. */
export function holdsAsOf(holds: Hold[], asOfMs: number): Hold[] {
  return holds
    .filter((hold) => hold.placedAtMs <= asOfMs)
    .map((hold) =>
      hold.liftedAtMs === null || hold.liftedAtMs <= asOfMs
        ? hold
        : { ...hold, liftedAtMs: null, liftedBy: null, liftReason: null },
    );
}
