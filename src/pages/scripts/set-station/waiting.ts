import { remember, remembered } from '../lib/kept.js';
import type { Pair } from './pair.js';

/** The body of a set (`POST /v1/sets`). */
export interface SetDraft {
  powerhead: string;
  lowerUnit: string;
  station: string;
  order?: string;
}

/** A pair that was sent and has no answer yet. */
export interface WaitingPair {
  draft: SetDraft;
  powerhead: string;
  lowerUnit: string;
}

const NAME = 'set-station.waiting';

/** In memory too, for a browser that may keep nothing. */
let pair: WaitingPair | undefined = remembered(NAME);

/** The pair that waits for its answer, also after the page was loaded anew. */
export function waitingPair(): WaitingPair | undefined {
  return pair;
}

/** Keeps a pair, just as it is sent, until it has its answer. */
export function keepWaiting(
  { powerhead, lowerUnit }: Pair,
  station: string,
  order: string | undefined,
): WaitingPair {
  const draft: SetDraft = {
    powerhead: powerhead.text,
    lowerUnit: lowerUnit.text,
    station,
    ...(order === undefined ? {} : { order }),
  };
  pair = { draft, powerhead: powerhead.name, lowerUnit: lowerUnit.name };
  remember(NAME, pair);
  return pair;
}

/** Forgets the pair: it has its answer, or was given up. */
export function forgetWaiting(): void {
  pair = undefined;
  remember(NAME, undefined);
}

/** Whether a scan, or the serial on it, is of the pair. */
export function isOfPair({ draft, powerhead, lowerUnit }: WaitingPair, text: string): boolean {
  return [draft.powerhead, draft.lowerUnit, powerhead, lowerUnit].includes(text);
}
