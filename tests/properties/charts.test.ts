import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ChartOptions, freezeBaseline } from '../../src/charts/baseline-rules.js';
import {
  type ChartState,
  type Entry,
  isByDay,
  type Point,
  startState,
  takeRun,
  type Yardstick,
} from '../../src/charts/rules.js';
import { judgeCusum, startCusum } from '../../src/statistics/cusum.js';
import { judgeEwma, startEwmaChart } from '../../src/statistics/ewma-chart.js';
import { judgeIndividual, startIndividualsChart } from '../../src/statistics/individuals-chart.js';
import { judgeSeries } from '../../src/statistics/judge-series.js';
import { judgeProportion, startProportionChart } from '../../src/statistics/proportion-chart.js';
import { judgeRate, startRateChart } from '../../src/statistics/rate-chart.js';
import { nelsonRules, runRules } from '../../src/statistics/run-rules.js';
import { judgeSubgroup, startXbarChart } from '../../src/statistics/xbar-chart.js';

const HOUR_MS = 3_600_000;

/** Tenths, so that equal neighbours and values on a line occur; on counting charts a few failures. */
function values(kind: ChartOptions['kind']) {
  const value = {
    p: fc.constantFrom(0, 0, 0, 0, 1),
    u: fc.constantFrom(0, 0, 0, 0, 1, 2),
    measured: fc.integer({ min: -10, max: 10 }).map((n) => n / 10),
  }[isByDay(kind) ? kind : 'measured'];
  const gap = fc.constantFrom(1, 2, 9, 30, -20);
  return fc.array(fc.record({ value, gap }), { minLength: 60, maxLength: 120, size: 'max' });
}

/** From somewhere on more fails, or values lie higher or lower. */
function shifted(kind: ChartOptions['kind']) {
  return fc
    .tuple(values(kind), fc.nat({ max: 60 }), fc.constantFrom(0, 1, -1, 3))
    .map(([drawn, from, shift]) =>
      drawn.map(({ value, gap }, i) => {
        if (i < from || shift === 0) return { value, gap };
        if (isByDay(kind)) return { value: kind === 'p' ? 1 : value + 2, gap };
        return { value: value + shift, gap };
      }),
    );
}

/** Runs of ids upwards; a gap of hours is added to the time, and where it is negative the run comes late. */
function entriesOf(
  kind: ChartOptions['kind'],
  drawn: readonly { value: number; gap: number }[],
  { firstRun, late }: { firstRun: number; late: boolean },
): Entry[] {
  let now = firstRun * 1000 * HOUR_MS;
  return drawn.map(({ value, gap }, i) => {
    now += Math.max(gap, 0) * HOUR_MS;
    const atMs = late ? now + Math.min(gap, 0) * HOUR_MS : now;
    const day = isByDay(kind) ? new Date(atMs).toISOString().slice(0, 10) : null;
    return { runId: firstRun + i, atMs, day, value };
  });
}

/** As a service keeps it: the state written to JSON after each run, and read back at the next. */
function streamed(yardstick: Yardstick, entries: readonly Entry[]): Point[] {
  const frozen = JSON.stringify(yardstick);
  let kept = JSON.stringify(startState);
  const points: Point[] = [];
  for (const entry of entries) {
    const given = JSON.parse(kept) as ChartState;
    const step = takeRun(JSON.parse(frozen) as Yardstick, given, entry);
    expect(JSON.stringify(given)).toBe(kept);
    kept = JSON.stringify(step.state);
    if (step.point) points.push(step.point);
  }
  return points;
}

/** What a signal says, told of a whole series by the numbers of its points. */
interface Told {
  figure: string;
  rule: string;
  direction: string | null;
  runs: number[];
}

/** The charts' points over the whole series by the statistics alone: nothing of the stepping. */
function recomputed(yardstick: Yardstick, entries: readonly Entry[]): Told[][] {
  const singles = entries.map((entry) => entry.value);
  const ids = entries.map((entry) => [entry.runId]);
  switch (yardstick.kind) {
    case 'individuals': {
      const start = startIndividualsChart(yardstick.baseline, yardstick.rules);
      return judgeSeries(start, singles, judgeIndividual).points.map((point) =>
        point.signals.map(({ chart, ...signal }) => told(chart, signal, ids)),
      );
    }
    case 'xbar-r':
    case 'xbar-s': {
      const groups = chunks(entries, yardstick.baseline.size);
      const start = startXbarChart(yardstick.baseline, yardstick.rules);
      const means = groups.map((group) => group.map((entry) => entry.value));
      const runs = groups.map((group) => group.map((entry) => entry.runId));
      return judgeSeries(start, means, judgeSubgroup).points.map((point) =>
        point.signals.map(({ chart, ...signal }) => told(chart, signal, runs)),
      );
    }
    case 'p': {
      const days = closedDays(entries);
      const samples = days.map((day) => ({ nonconforming: total(day), size: day.length }));
      const start = startProportionChart(yardstick.baseline, yardstick.rules);
      return judgeSeries(start, samples, judgeProportion).points.map((point) =>
        point.signals.map((signal) => told('proportion', signal, lastOf(days))),
      );
    }
    case 'u': {
      const days = closedDays(entries);
      const samples = days.map((day) => ({ defects: total(day), units: day.length }));
      const start = startRateChart(yardstick.baseline, yardstick.rules);
      return judgeSeries(start, samples, judgeRate).points.map((point) =>
        point.signals.map((signal) => told('rate', signal, lastOf(days))),
      );
    }
    case 'ewma':
      return judgeSeries(startEwmaChart(yardstick.baseline), singles, judgeEwma).points.map(
        (point) => point.signals.map((signal) => told('average', signal, ids)),
      );
    case 'cusum':
      return judgeSeries(startCusum(yardstick.baseline), singles, judgeCusum).points.map((point) =>
        point.signals.map(({ since, ...signal }) => {
          const points = [...new Set([since, ...signal.points])];
          const figure = signal.direction === 'above' ? 'high-sum' : 'low-sum';
          return told(figure, { ...signal, points }, ids);
        }),
      );
  }
}

function told(
  figure: string,
  signal: { rule: string; direction: string | null; points: readonly number[] },
  runs: readonly (readonly number[])[],
): Told {
  const { rule, direction, points } = signal;
  return { figure, rule, direction, runs: points.flatMap((at) => runs[at] ?? []) };
}

function chunks<T>(all: readonly T[], size: number): T[][] {
  const whole = Math.floor(all.length / size);
  return Array.from({ length: whole }, (_, i) => all.slice(i * size, (i + 1) * size));
}

/** Days in the order of recording, a run of an earlier day among those of the open one; the last is open. */
function closedDays(entries: readonly Entry[]): Entry[][] {
  let open = '';
  const days = new Map<string, Entry[]>();
  for (const entry of entries) {
    if ((entry.day ?? '') > open) open = entry.day ?? '';
    days.set(open, [...(days.get(open) ?? []), entry]);
  }
  return [...days.values()].slice(0, -1);
}

const total = (entries: readonly Entry[]) => entries.reduce((sum, one) => sum + one.value, 0);
const lastOf = (days: readonly Entry[][]) => days.map((day) => [day.at(-1)?.runId ?? 0]);

const rules = fc.constantFrom(['beyond-three-sigma'] as const, nelsonRules, runRules);
const options: Record<ChartOptions['kind'], fc.Arbitrary<ChartOptions>> = {
  individuals: fc.record({ kind: fc.constant('individuals' as const), rules }),
  'xbar-r': fc.record({
    kind: fc.constant('xbar-r' as const),
    subgroupSize: fc.integer({ min: 2, max: 5 }),
    rules,
  }),
  'xbar-s': fc.record({
    kind: fc.constant('xbar-s' as const),
    subgroupSize: fc.integer({ min: 2, max: 5 }),
    rules,
  }),
  p: fc.record({ kind: fc.constant('p' as const), rules }),
  u: fc.record({ kind: fc.constant('u' as const), rules }),
  ewma: fc.record({
    kind: fc.constant('ewma' as const),
    weight: fc.constantFrom(0.05, 0.2, 1),
    width: fc.constantFrom(1, 2.7, 3),
    variance: fc.constantFrom('exact' as const, 'asymptotic' as const),
  }),
  cusum: fc.record({
    kind: fc.constant('cusum' as const),
    target: fc.constantFrom(null, 0, 1.5),
    allowance: fc.constantFrom(0, 0.5),
    decisionInterval: fc.constantFrom(1, 5),
  }),
};

describe('a chart judged run by run equals the whole series judged at once', () => {
  it.each(Object.keys(options) as ChartOptions['kind'][])('%s', (kind) => {
    let signals = 0;
    fc.assert(
      fc.property(options[kind], values(kind), shifted(kind), (chosen, past, drawn) => {
        const before = entriesOf(kind, past, { firstRun: 1, late: false });
        const frozen = freezeBaseline(chosen, before, null);
        fc.pre(frozen.possible);
        if (!frozen.possible) return;
        const entries = entriesOf(kind, drawn, { firstRun: 1000, late: true });
        const { yardstick } = frozen.baseline;
        const points = streamed(yardstick, entries);
        const whole = recomputed(yardstick, entries);
        expect(points.map((point) => point.number)).toEqual(whole.map((_, i) => i + 1));
        expect(
          points.map((point) => point.signals.map(({ value: _, ...signal }) => signal)),
        ).toEqual(whole);
        signals += whole.flat().length;
      }),
      { numRuns: 60 },
    );
    expect(signals).toBeGreaterThan(30);
  });
});
