/** What is known of a motor at the gate. */
export interface GateFacts {
  state: string;
  lastRun: { id: number; verdict: 'pass' | 'fail' } | null;
  /** A concession accepts that run although it failed. */
  conceded: boolean;
  changedSinceRun: boolean;
  openRun: { id: number; cell: string } | null;
  openRepair: number | null;
  holds: readonly { id: number; serial: string; cause: string; reason: string }[];
}

export type GateReason =
  | 'already-released'
  | 'torn-down'
  | 'scrapped'
  | 'never-tested'
  | 'last-run-failed'
  | 'changed-since-run'
  | 'retest-due'
  | 'run-open'
  | 'repair-open'
  | 'on-hold';

/**
 * Every reason why a motor may not be released; empty when it may: its latest completed
 * run passed (or a concession accepts it), nothing was installed, removed or repaired
 * since, and no hold, repair or run is open on it or on anything in it.
 */
export function gateReasons(facts: GateFacts): { code: GateReason; detail: string }[] {
  const { state, lastRun, conceded, openRun, openRepair } = facts;
  if (state === 'released')
    return [{ code: 'already-released', detail: 'It is released already.' }];
  if (state === 'torn-down') return [{ code: 'torn-down', detail: 'It was torn down.' }];
  if (state === 'scrapped') return [{ code: 'scrapped', detail: 'It is scrapped.' }];
  const reasons: { code: GateReason; detail: string }[] = [];
  if (!lastRun) {
    reasons.push({ code: 'never-tested', detail: 'It has no completed test run.' });
  } else if (lastRun.verdict === 'fail' && !conceded) {
    reasons.push({
      code: 'last-run-failed',
      detail: `Its latest completed run ${lastRun.id} failed.`,
    });
  } else if (facts.changedSinceRun) {
    reasons.push({
      code: 'changed-since-run',
      detail: `Something was changed since run ${lastRun.id}.`,
    });
  } else if (state === 'awaiting-test') {
    reasons.push({
      code: 'retest-due',
      detail: `It has to be tested again since run ${lastRun.id}.`,
    });
  }
  if (openRun) {
    reasons.push({
      code: 'run-open',
      detail: `Run ${openRun.id} is open in cell ${openRun.cell}.`,
    });
  }
  if (openRepair !== null) {
    reasons.push({ code: 'repair-open', detail: `Repair ${openRepair} is open.` });
  }
  for (const hold of facts.holds) {
    reasons.push({
      code: 'on-hold',
      detail: `${hold.serial} is on hold (${hold.cause}): ${hold.reason}`,
    });
  }
  return reasons;
}
