import type { ProblemDocument } from '../lib/api.js';

/** A characteristic as its last reading is judged (`Judgement` of the interface). */
export interface Judged {
  code: string;
  name: string;
  value: number | boolean | null;
  conforms: boolean | null;
}

export interface OpenRun {
  id: number;
  motor: string;
  lastBatch: number;
  judgements: Judged[];
  outstanding: { code: string; reason: string }[];
}

export interface EndedRun {
  id: number;
  motor: string;
  state: 'completed' | 'aborted';
  attempt: number | null;
  verdict: 'pass' | 'fail' | null;
  firstPass: boolean | null;
  cellVerdict: 'pass' | 'fail' | null;
  disagreement: boolean;
  failed: Judged[];
  repair: number | null;
}

/** How a test cell stands (`/v1/test-cells/{cell}`). */
export interface TestCell {
  cell: string;
  run: OpenRun | null;
  lastRun: EndedRun | null;
  cellNotices: { kind: string; detail: string }[];
}

/** Where a motor that was scanned is under test, as the refusal says. */
export function whereUnderTest(problem: ProblemDocument): { run: number; cell: string } | null {
  const { run, cell } = problem;
  return typeof run === 'number' && typeof cell === 'string' ? { run, cell } : null;
}
