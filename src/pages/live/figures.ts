import type { SignalRow } from '../../charts/records.js';
import type { Plant } from '../../plant.js';
import type { Settings } from '../../settings.js';
import { iso } from '../../time.js';
import type { Hold } from '../../units/records.js';
import { firstPassYield } from '../../yield/questions.js';
import { address } from '../../yield/rework-links.js';
import { windowOf } from '../../yield/step-questions.js';
import { SET } from '../../yield/step-rules.js';

/** States in which a motor of the plant waits for something, in the order of its way. */
export const waitingStates = ['awaiting-test', 'in-test', 'in-repair', 'passed'] as const;
export type WaitingState = (typeof waitingStates)[number];

/** Counted no further, so that no question grows with what piles up. */
export const COUNTED_AT_MOST = 10_000;
const LAST = 6;

type Yield = ReturnType<typeof firstPassYield>[number];

/** What the live screen shows; plain data. */
export interface LiveFigures {
  day: string;
  shift: string | null;
  /** Attempts at a set of the plant day, and by station. */
  sets: { set: number; refused: number };
  stations: { station: string; set: number; refused: number; link: string }[];
  /** Where the sets and the failed tests of the day are listed. */
  links: Record<'sets' | 'refused' | 'firstTests' | 'completed' | 'failed' | 'aborted', string>;
  /** Tests of the plant day; undefined before the first one. */
  tests: Yield | undefined;
  cells: Yield[];
  waiting: { state: WaitingState; motors: number }[];
  holds: { open: number; last: Hold[] };
  signals: { open: number; last: SignalRow[] };
}

/**
 * The figures of the plant day and of now: roll-ups of one day and ends of indexes, some
 * dozens of rows whatever the size of the file.
 */
export function liveFigures(plant: Plant, now: number, { timeZone }: Settings): LiveFigures {
  const { day, shift } = plant.calendar.shiftAt(now, timeZone);
  const days = { fromDay: day, untilDay: day };
  const { fromMs, untilMs } = windowOf(plant, days, timeZone);
  const attempts = (more: Record<string, string>) =>
    address('/v1/set-attempts', { from: iso(fromMs), until: iso(untilMs), ...more });
  const runs = (outcome: string) => address('/v1/yield/runs', { ...days, outcome });
  const ofSets = { ...days, step: SET, station: null };
  const stations = plant.rework.stepSums('station', ofSets).map((one) => ({
    station: one.slice,
    set: one.passes,
    refused: one.attempts - one.passes,
    link: attempts({ station: one.slice }),
  }));
  const sum = (of: 'set' | 'refused') => stations.reduce((total, one) => total + one[of], 0);
  return {
    day,
    shift: shift?.code ?? null,
    sets: { set: sum('set'), refused: sum('refused') },
    stations,
    links: {
      sets: attempts({ outcome: 'set' }),
      refused: address('/v1/yield/refused-sets', days),
      firstTests: address('/v1/yield/motors', days),
      completed: runs('completed'),
      failed: runs('failed'),
      aborted: runs('aborted'),
    },
    tests: firstPassYield(plant, { by: 'plant', ...days })[0],
    cells: firstPassYield(plant, { by: 'cell', ...days }),
    waiting: waitingStates.map((state) => ({
      state,
      motors: plant.units.countMotorsIn(state, COUNTED_AT_MOST),
    })),
    holds: {
      open: plant.units.countOpenHolds(COUNTED_AT_MOST),
      last: plant.units.latestHolds(LAST),
    },
    signals: {
      open: plant.charts.countOpenSignals(COUNTED_AT_MOST),
      last: plant.charts.latestSignals(LAST),
    },
  };
}
