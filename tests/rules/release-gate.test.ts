import { describe, expect, it } from 'vitest';
import { type GateFacts, gateReasons } from '../../src/release/rules.js';

const passed: GateFacts = {
  state: 'passed',
  lastRun: { id: 7, verdict: 'pass' },
  conceded: false,
  changedSinceRun: false,
  openRun: null,
  openRepair: null,
  holds: [],
};
const hold = { id: 3, serial: 'F00001', cause: 'lot', reason: 'Seals too hard' };

const codes = (facts: Partial<GateFacts>) =>
  gateReasons({ ...passed, ...facts }).map((one) => one.code);

describe('reasons why a motor may not be released', () => {
  it('are none for one that passed, and that nothing has touched since', () => {
    expect(gateReasons(passed)).toEqual([]);
  });

  it.each([
    ['released', 'already-released'],
    ['torn-down', 'torn-down'],
    ['scrapped', 'scrapped'],
  ])('are, of one that is %s, that alone', (state, code) => {
    const everything = { openRepair: 4, holds: [hold], changedSinceRun: true, lastRun: null };
    expect(codes({ ...everything, state })).toEqual([code]);
  });

  it('name a run that is missing or failed', () => {
    expect(codes({ lastRun: null, state: 'awaiting-test' })).toEqual(['never-tested']);
    const lastRun = { id: 7, verdict: 'fail' as const };
    expect(codes({ lastRun, state: 'awaiting-test' })).toEqual(['last-run-failed']);
    expect(gateReasons({ ...passed, lastRun })[0]?.detail).toContain('run 7');
  });

  it('pass over a failed run that a concession accepts, but not what came after it', () => {
    const lastRun = { id: 7, verdict: 'fail' as const };
    expect(codes({ lastRun, conceded: true })).toEqual([]);
    expect(codes({ lastRun, conceded: true, changedSinceRun: true })).toEqual([
      'changed-since-run',
    ]);
    expect(codes({ lastRun, conceded: true, state: 'awaiting-test' })).toEqual(['retest-due']);
  });

  it('name a change since the run, and a test that is due without one', () => {
    expect(codes({ changedSinceRun: true, state: 'awaiting-test' })).toEqual(['changed-since-run']);
    expect(codes({ state: 'awaiting-test' })).toEqual(['retest-due']);
  });

  it('name what is open, with its number and place', () => {
    const reasons = gateReasons({
      ...passed,
      state: 'in-test',
      openRun: { id: 9, cell: 'CELL-4' },
      openRepair: 5,
      holds: [hold],
    });
    expect(reasons).toEqual([
      { code: 'run-open', detail: 'Run 9 is open in cell CELL-4.' },
      { code: 'repair-open', detail: 'Repair 5 is open.' },
      { code: 'on-hold', detail: 'F00001 is on hold (lot): Seals too hard' },
    ]);
  });

  it('name each hold', () => {
    expect(codes({ holds: [hold, { ...hold, id: 4 }] })).toEqual(['on-hold', 'on-hold']);
  });
});
