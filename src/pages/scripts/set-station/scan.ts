import { type Answer, ask, type ProblemDocument } from '../lib/api.js';

export type HalfName = 'powerhead' | 'lower-unit';

export interface Order {
  number: string;
  model: string;
  quantity: number;
  set: number;
  dueOn: string;
}

interface Found {
  name: string;
  part: string | null;
  partRevision: string | null;
  attributes: Record<string, string>;
  /** What a set with it would be refused with now. */
  refusal: ProblemDocument | null;
}

/** What the service says a scan is (`/v1/sets/scan`). */
export type Recognised =
  | (Found & { is: HalfName; order: null })
  | (Found & { is: 'order'; order: Order });

/** A half as it was scanned. */
export interface Half extends Found {
  is: HalfName;
  /** The scan itself, which the set is asked with. */
  text: string;
}

/** Asks what a scan is. */
export function recognise(text: string, half?: HalfName): Promise<Answer<Recognised>> {
  const query = new URLSearchParams({ text, ...(half ? { class: half } : {}) });
  return ask<Recognised>(`/v1/sets/scan?${query}`);
}
