import { tell } from '../lib/answer.js';
import { ask } from '../lib/api.js';
import { type Child, element } from '../lib/dom.js';
import { words } from '../lib/page.js';
import type { EndedRun } from './cell.js';

const own = words.testCell;

interface Gate {
  releasable: boolean;
  reasons: { detail: string }[];
}

/** Says over the full width how a run ended, and where its motor goes now. */
export async function tellEnd(run: EndedRun): Promise<void> {
  if (run.verdict === null) {
    const heading = own.aborted(run.motor);
    tell({ kind: 'noted', heading, body: [own.wasAborted], sound: 'noted' });
    return;
  }
  const more =
    run.disagreement && run.cellVerdict ? [own.disagrees(own.verdict[run.cellVerdict])] : [];
  if (run.verdict === 'fail') tellFailed(run, more);
  else await tellPassed(run, more);
}

async function tellPassed({ motor, firstPass, attempt }: EndedRun, more: Child[]): Promise<void> {
  const label = own.passedLabel;
  const heading = own.ofMotor(motor, attempt ?? 0, firstPass === true);
  const body = [...more, ...(await gateInWords(motor))];
  tell({ kind: 'accepted', label, heading, body, sound: 'accepted' });
}

function tellFailed({ motor, attempt, failed, repair }: EndedRun, more: Child[]): void {
  const names = failed.map((one) => element('li', {}, one.name));
  tell({
    kind: 'refused',
    label: own.failedLabel,
    heading: own.ofMotor(motor, attempt ?? 0, false),
    body: [...more, element('ul', {}, ...names), repair === null ? null : own.toRepair(repair)],
    sound: 'refused',
  });
}

/** What the release gate says of a motor; nothing where it cannot be asked now. */
async function gateInWords(motor: string): Promise<Child[]> {
  const gate = await ask<Gate>(`/v1/release-gate?${new URLSearchParams({ motor })}`);
  if (gate.kind !== 'done') return [];
  if (gate.body.releasable) return [own.mayBeReleased];
  const reasons = gate.body.reasons.map(({ detail }) => element('li', {}, detail));
  return [own.gateSays, element('ul', {}, ...reasons)];
}
