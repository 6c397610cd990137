import { cusumBaseline } from '../statistics/cusum.js';
import { type EwmaOptions, ewmaBaseline } from '../statistics/ewma-chart.js';
import { individualsBaseline } from '../statistics/individuals-chart.js';
import { proportionBaseline } from '../statistics/proportion-chart.js';
import { rateBaseline } from '../statistics/rate-chart.js';
import type { RunRule } from '../statistics/run-rules.js';
import { xbarBaseline } from '../statistics/xbar-chart.js';
import {
  closeDay,
  type Entry,
  formSample,
  isByDay,
  judgeSample,
  type Sample,
  startState,
  type Yardstick,
} from './rules.js';

/** What a chart's definition says of its kind: kept for every baseline that it will have. */
export type ChartOptions =
  | { kind: 'individuals' | 'p' | 'u'; rules: readonly RunRule[] }
  | { kind: 'xbar-r' | 'xbar-s'; subgroupSize: number; rules: readonly RunRule[] }
  | ({ kind: 'ewma' } & Required<EwmaOptions>)
  | { kind: 'cusum'; target: number | null; allowance: number; decisionInterval: number };

/** Points that a baseline has at least. Twenty and more make better limits (common practice, no source). */
export const BASELINE_POINTS_MIN = 10;

/** A baseline as it is frozen, with what it was computed from. */
export interface FrozenBaseline {
  yardstick: Yardstick;
  /** Runs and points that it was computed from. */
  runs: number;
  points: number;
  firstRun: number;
  lastRun: number;
  /** When those two ended. */
  fromMs: number;
  untilMs: number;
  /** Of these points, those that meet a rule of the chart themselves. */
  signalling: number;
}

export type Freezing =
  | { possible: true; baseline: FrozenBaseline }
  | { possible: false; why: string };

/**
 * Computes a baseline from runs in the order in which they ended.
 *
 * @param last only the last so many values, on p and u charts days; null for all of them.
 * @returns the baseline, or why these runs set no limits, in plain words.
 */
export function freezeBaseline(
  options: ChartOptions,
  runs: readonly Entry[],
  last: number | null,
): Freezing {
  const { entries, samples } = chosen(options, runs, last);
  const [first, final] = [entries[0], entries.at(-1)];
  if (!first || !final || samples.length < BASELINE_POINTS_MIN) {
    const found = `${counted(samples.length, 'point')} from ${counted(entries.length, 'run')}`;
    const why = `${found}, where at least ${BASELINE_POINTS_MIN} points are needed`;
    return { possible: false, why };
  }
  const yardstick = yardstickOf(options, samples);
  if (typeof yardstick === 'string') return { possible: false, why: yardstick };
  return {
    possible: true,
    baseline: {
      yardstick,
      runs: entries.length,
      points: samples.length,
      firstRun: first.runId,
      lastRun: final.runId,
      fromMs: first.atMs,
      untilMs: final.atMs,
      signalling: signallingAmong(yardstick, samples),
    },
  };
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

/** The runs and the whole samples that the baseline is made of. */
function chosen(
  options: ChartOptions,
  runs: readonly Entry[],
  last: number | null,
): { entries: readonly Entry[]; samples: readonly Sample[] } {
  if (isByDay(options.kind)) {
    const days = samplesOf(options, runs).slice(last === null ? 0 : -last);
    const firstDay = days[0]?.day ?? '';
    return { entries: runs.filter((run) => (run.day ?? '') >= firstDay), samples: days };
  }
  const entries = runs.slice(last === null ? 0 : -last);
  const samples = samplesOf(options, entries);
  const whole = samples.reduce((sum, sample) => sum + sample.size, 0);
  return { entries: entries.slice(0, whole), samples };
}

function samplesOf(options: ChartOptions, entries: readonly Entry[]): Sample[] {
  const size = 'subgroupSize' in options ? options.subgroupSize : 1;
  const samples: Sample[] = [];
  let open = startState.open;
  for (const entry of entries) {
    const formed = formSample(options.kind, size, open, entry);
    if (formed.sample) samples.push(formed.sample);
    open = formed.open;
  }
  return open && 'day' in open ? [...samples, closeDay(open)] : samples;
}

/** @returns why there is none, in words, where the samples set no limits. */
function yardstickOf(options: ChartOptions, samples: readonly Sample[]): Yardstick | string {
  try {
    const yardstick = computed(options, samples);
    return saneOrWhyNot(yardstick);
  } catch (error) {
    if (error instanceof RangeError) return error.message;
    throw error;
  }
}

function computed(options: ChartOptions, samples: readonly Sample[]): Yardstick {
  const singles = () => individualsBaseline(samples.flatMap((sample) => sample.values));
  const counts = samples.map(({ values, size }) => ({ count: values[0] ?? 0, size }));
  switch (options.kind) {
    case 'individuals':
      return { kind: options.kind, rules: options.rules, baseline: singles() };
    case 'xbar-r':
    case 'xbar-s': {
      const spread = options.kind === 'xbar-r' ? 'range' : 'standard-deviation';
      const subgroups = samples.map((sample) => sample.values);
      const baseline = xbarBaseline(subgroups, spread);
      return { kind: options.kind, rules: options.rules, baseline };
    }
    case 'p': {
      const baseline = proportionBaseline(
        counts.map(({ count, size }) => ({ nonconforming: count, size })),
      );
      return { kind: options.kind, rules: options.rules, baseline };
    }
    case 'u': {
      const baseline = rateBaseline(
        counts.map(({ count, size }) => ({ defects: count, units: size })),
      );
      return { kind: options.kind, rules: options.rules, baseline };
    }
    case 'ewma': {
      const { kind, ...tuning } = options;
      return { kind, baseline: ewmaBaseline(singles(), tuning) };
    }
    case 'cusum': {
      const { kind, target, ...tuning } = options;
      const { centre, sigma } = singles();
      return { kind, baseline: cusumBaseline({ centre: target ?? centre, sigma }, tuning) };
    }
  }
}

/** A sigma of less than this share of the centre is the rounding of equal values. */
const LEAST_SPREAD = 1e-12;
const LARGEST = 1e280;

function saneOrWhyNot(yardstick: Yardstick): Yardstick | string {
  if (yardstick.kind === 'p' || yardstick.kind === 'u') return yardstick;
  const { centre, sigma } = yardstick.baseline;
  if (sigma <= LEAST_SPREAD * Math.abs(centre)) {
    return 'the values vary by no more than their rounding, so they set no limits';
  }
  return Math.max(Math.abs(centre), sigma) < LARGEST ? yardstick : 'the values are too large';
}

function signallingAmong(yardstick: Yardstick, samples: readonly Sample[]): number {
  let { memory } = startState;
  let signalling = 0;
  for (const [points, sample] of samples.entries()) {
    const judged = judgeSample(yardstick, points, memory, sample);
    if (judged.point.signals.length > 0) signalling += 1;
    memory = judged.memory;
  }
  return signalling;
}
