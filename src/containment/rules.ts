import type { ContainmentDisposition } from './records.js';

/** What a disposition does to a unit beside lifting its hold. */
export type Effect = 'none' | 'open-repair' | 'reject' | 'scrap';

export type EffectAnswer = { possible: true; effect: Effect } | { possible: false; why: string };

const left = ['released', 'torn-down', 'scrapped'];

/**
 * What a disposition does to a unit in a state: rework sends a motor to repair and a
 * loose unit back to its inspection; scrap ends it; clear and concession let it go on;
 * notified is for a unit that has left, and says that its keeper was told.
 */
export function effectOf(disposition: ContainmentDisposition, state: string): EffectAnswer {
  const gone = left.includes(state);
  if (disposition === 'notified') {
    return gone
      ? { possible: true, effect: 'none' }
      : { possible: false, why: `it is ${state}, still inside` };
  }
  if (disposition === 'clear' || disposition === 'concession' || gone) {
    const possible = !gone || disposition === 'clear' || disposition === 'concession';
    return possible ? { possible, effect: 'none' } : { possible, why: `it is ${state}` };
  }
  if (disposition === 'rework') return reworkOf(state);
  if (state === 'in-test' || state === 'installed')
    return { possible: false, why: `it is ${state}` };
  return { possible: true, effect: 'scrap' };
}

function reworkOf(state: string): EffectAnswer {
  switch (state) {
    case 'awaiting-test':
    case 'passed':
      return { possible: true, effect: 'open-repair' };
    case 'accepted':
      return { possible: true, effect: 'reject' };
    case 'in-repair':
    case 'rejected':
      return { possible: true, effect: 'none' };
    default:
      return { possible: false, why: `it is ${state}` };
  }
}
