import { areCommensurable, convert } from '../measurement/units.js';
import { type CusumBaseline, judgeCusum } from '../statistics/cusum.js';
import { type EwmaBaseline, judgeEwma } from '../statistics/ewma-chart.js';
import {
  type ControlLimits,
  type IndividualsBaseline,
  judgeIndividual,
} from '../statistics/individuals-chart.js';
import { judgeProportion, type ProportionBaseline } from '../statistics/proportion-chart.js';
import { judgeRate, type RateBaseline } from '../statistics/rate-chart.js';
import type { Direction, RunRule, RunRuleState } from '../statistics/run-rules.js';
import { judgeSubgroup, type XbarBaseline } from '../statistics/xbar-chart.js';
import type { Characteristic } from '../testing/rules.js';

/** The kinds of chart, as the trade calls them. */
export const chartKinds = ['individuals', 'xbar-r', 'xbar-s', 'p', 'u', 'ewma', 'cusum'] as const;
export type ChartKind = (typeof chartKinds)[number];

/** What points are judged by: the rules chosen and the frozen baseline; plain data. */
export type Yardstick =
  | { kind: 'individuals'; rules: readonly RunRule[]; baseline: Readonly<IndividualsBaseline> }
  | { kind: 'xbar-r' | 'xbar-s'; rules: readonly RunRule[]; baseline: Readonly<XbarBaseline> }
  | { kind: 'p'; rules: readonly RunRule[]; baseline: Readonly<ProportionBaseline> }
  | { kind: 'u'; rules: readonly RunRule[]; baseline: Readonly<RateBaseline> }
  | { kind: 'ewma'; baseline: Readonly<EwmaBaseline> }
  | { kind: 'cusum'; baseline: Readonly<CusumBaseline> };
type Of<K extends ChartKind> = Extract<Yardstick, { kind: K }>;

/** What a chart takes of one run. */
export interface Entry {
  runId: number;
  /** When the run ended. */
  atMs: number;
  /** The run's plant day, on charts that count by day; else null. */
  day: string | null;
  /** The measured value; on a p chart 1 for a failed run, else 0; on a u chart the failed characteristics. */
  value: number;
}

/** What becomes one point: a run, a subgroup, or the runs of a day. */
export interface Sample {
  /** The last run's end; of a day the latest end, which a run recorded late does not have. */
  atMs: number;
  day: string | null;
  /** How many runs. */
  size: number;
  /** The runs' values; of a day their sum alone. */
  values: readonly number[];
  /** The runs; of a day the last alone. */
  runs: readonly number[];
}

/** Runs that wait for their subgroup to be whole. */
interface OpenSubgroup {
  values: readonly number[];
  runs: readonly number[];
}

/** The day whose runs are still being counted. */
interface OpenDay {
  day: string;
  size: number;
  sum: number;
  lastRun: number;
  atMs: number;
}

/** What a chart remembers of the points before; what its kind does not need is absent. */
export interface Memory {
  /** The last points in sigmas from the centre, as many as the rules look at, and each one's runs. */
  recent?: readonly number[];
  runs?: readonly (readonly number[])[];
  /** Individuals: the value before. */
  previous?: number;
  /** EWMA: the average so far. */
  average?: number;
  /** CUSUM: both sums. */
  high?: OneSidedSum;
  low?: OneSidedSum;
}

/** A sum with the point and the run since which it is above 0. */
interface OneSidedSum {
  sum: number;
  since: number | null;
  run: number | null;
}

/** A chart between two runs: plain data, small enough to be stored at each of them. */
export interface ChartState {
  /** Points judged. */
  points: number;
  /** The subgroup or day that is not whole yet. */
  open: OpenSubgroup | OpenDay | null;
  memory: Memory;
}

/** A chart before its first run. */
export const startState: ChartState = Object.freeze({ points: 0, open: null, memory: {} });

/** Which plotted figure met a rule. */
export const figures = [
  'individual',
  'moving-range',
  'mean',
  'range',
  'standard-deviation',
  'proportion',
  'rate',
  'average',
  'high-sum',
  'low-sum',
] as const;
export type Figure = (typeof figures)[number];

export type SignalRule = RunRule | 'beyond-limits' | 'beyond-decision-interval';

/** A rule met at a point. */
export interface Signal {
  figure: Figure;
  rule: SignalRule;
  direction: Direction;
  /** The figure at the point. */
  value: number;
  /**
   * The runs of the points that make the pattern, the newest last; of a day its last run. Of a
   * CUSUM the run since which the sum is above 0, and this one.
   */
  runs: readonly number[];
}

/** A judged point with everything that is plotted of it. */
export interface Point {
  /** From 1, since the baseline was frozen. */
  number: number;
  sample: Sample;
  /** The value, the subgroup's mean, the share of failed runs, or failed characteristics a run. */
  value: number;
  centre: number;
  /** Limits at this point: of the average on an EWMA chart; none on a CUSUM. */
  limits: Readonly<ControlLimits> | null;
  /** Moving range, range or standard deviation; null where there is none. */
  spread: number | null;
  average: number | null;
  highSum: number | null;
  lowSum: number | null;
  signals: readonly Signal[];
}

/** What taking a run led to: the state to keep, and the point if one was completed. */
export interface Step {
  state: ChartState;
  point: Point | null;
}

/** What is charted of a run: a characteristic in a unit, or what failed. */
export interface Charted {
  kind: ChartKind;
  /** Null on p and u charts. */
  characteristic: string | null;
  /** UCUM code; null on p and u charts. */
  unit: string | null;
}

/** What a completed run has to offer to a chart. */
export interface RunFacts {
  failed: boolean;
  /** How many of its characteristics did not conform. */
  failures: number;
  characteristics: readonly Characteristic[];
  /** Judged values in the specification's order, see src/testing/packing.ts. */
  judged: Buffer;
}

export function isByDay(kind: ChartKind): kind is 'p' | 'u' {
  return kind === 'p' || kind === 'u';
}

/**
 * What a chart takes of a run; undefined where it takes nothing, because the run's
 * specification does not measure the characteristic, or nothing was measured.
 */
export function chartedValue({ kind, characteristic, unit }: Charted, run: RunFacts) {
  if (kind === 'p') return run.failed ? 1 : 0;
  if (kind === 'u') return run.failures;
  const position = run.characteristics.findIndex((one) => one.code === characteristic);
  const own = run.characteristics[position];
  if (!own || own.kind === 'attribute' || unit === null) return undefined;
  return inUnit(run.judged.readDoubleLE(position * VALUE_BYTES), own.unit, unit);
}

const VALUE_BYTES = 8;
/** No two commensurable units are 1e18 apart, so a value below this converts to a double. */
const SURELY_CONVERTIBLE = 1e280;

/** A value in a chart's unit; undefined for one that is missing or cannot be had in it. */
export function inUnit(value: number, from: string, to: string): number | undefined {
  if (!Number.isFinite(value)) return undefined;
  if (from === to) return value;
  const convertible = areCommensurable(from, to) && Math.abs(value) < SURELY_CONVERTIBLE;
  return convertible ? convert(value, from, to) : undefined;
}

/**
 * Takes the next run, in the order in which completions were recorded, and judges the
 * point that it completes.
 *
 * On p and u charts a run of a later day closes the open day, which is judged then. A run of
 * an earlier day that is recorded late counts to the open day: each run counts once, and a
 * judged point never changes.
 */
export function takeRun(yardstick: Yardstick, state: ChartState, entry: Entry): Step {
  const size = 'size' in yardstick.baseline ? yardstick.baseline.size : 1;
  const { open, sample } = formSample(yardstick.kind, size, state.open, entry);
  const { points, memory } = state;
  if (!sample) return { state: { points, open, memory }, point: null };
  const judged = judgeSample(yardstick, points, memory, sample);
  return { state: { points: points + 1, open, memory: judged.memory }, point: judged.point };
}

type Open = ChartState['open'];

interface Formed {
  open: Open;
  /** The sample that the run completed. */
  sample: Sample | null;
}

/** Adds a run to the sample that is forming. */
export function formSample(kind: ChartKind, size: number, open: Open, entry: Entry): Formed {
  if (isByDay(kind)) return formDay(open && 'day' in open ? open : null, entry);
  if (kind === 'xbar-r' || kind === 'xbar-s') {
    return formSubgroup(size, open && 'runs' in open ? open : null, entry);
  }
  const { atMs, value, runId } = entry;
  return { open: null, sample: { atMs, day: null, size: 1, values: [value], runs: [runId] } };
}

function formSubgroup(
  size: number,
  open: OpenSubgroup | null,
  { atMs, value, runId }: Entry,
): Formed {
  const values = open ? [...open.values, value] : [value];
  const runs = open ? [...open.runs, runId] : [runId];
  if (values.length < size) return { open: { values, runs }, sample: null };
  return { open: null, sample: { atMs, day: null, size, values, runs } };
}

function formDay(open: OpenDay | null, entry: Entry): Formed {
  const { atMs, runId: lastRun, value } = entry;
  const day = entry.day ?? '';
  if (!open || day > open.day) {
    const next = { day, size: 1, sum: value, lastRun, atMs };
    return { open: next, sample: open && closeDay(open) };
  }
  const [size, sum] = [open.size + 1, open.sum + value];
  return {
    open: { day: open.day, size, sum, lastRun, atMs: Math.max(open.atMs, atMs) },
    sample: null,
  };
}

/** A day's runs as the sample that they make. */
export function closeDay({ day, size, sum, lastRun, atMs }: OpenDay): Sample {
  return { atMs, day, size, values: [sum], runs: [lastRun] };
}

export interface Judged {
  memory: Memory;
  point: Point;
}

/** Judges a whole sample against the frozen baseline, so many points after it. */
export function judgeSample(
  yardstick: Yardstick,
  points: number,
  memory: Memory,
  sample: Sample,
): Judged {
  switch (yardstick.kind) {
    case 'individuals':
      return judgeAsIndividual(yardstick, points, memory, sample);
    case 'xbar-r':
    case 'xbar-s':
      return judgeAsSubgroup(yardstick, points, memory, sample);
    case 'p':
    case 'u':
      return judgeAsCount(yardstick, points, memory, sample);
    case 'ewma':
      return judgeAsAverage(yardstick, points, memory, sample);
    case 'cusum':
      return judgeAsSums(yardstick, points, memory, sample);
  }
}

/** Further out than this many sigmas a value counts as so far out, so that no sum overflows. */
const FARTHEST = 1e9;

function within(
  { centre, sigma }: Readonly<{ centre: number; sigma: number }>,
  value: number | undefined,
): number {
  const reach = FARTHEST * sigma;
  return Math.min(Math.max(value ?? centre, centre - reach), centre + reach);
}

// These state every member of a point: made by spreading objects, a point took longer than its judging.

function judgeAsIndividual(
  { rules, baseline }: Of<'individuals'>,
  points: number,
  memory: Memory,
  sample: Sample,
): Judged {
  const { value, movingRange, signals, state } = judgeIndividual(
    {
      baseline,
      individual: rulesBefore(rules, points, memory),
      movingRange: limitsBefore(points),
      previous: memory.previous ?? null,
    },
    within(baseline, sample.values[0]),
  );
  const { recent } = state.individual;
  const runs = runsBehind(recent, memory, sample);
  return {
    memory: { recent, runs, previous: value },
    point: {
      number: points + 1,
      sample,
      value,
      centre: baseline.centre,
      limits: baseline.limits,
      spread: movingRange,
      average: null,
      highSum: null,
      lowSum: null,
      signals: signals.map(({ chart, ...signal }) => ({
        figure: chart,
        ...toldOf(signal, points, runs),
        value: chart === 'individual' ? value : (movingRange ?? 0),
      })),
    },
  };
}

function judgeAsSubgroup(
  { rules, baseline }: Of<'xbar-r' | 'xbar-s'>,
  points: number,
  memory: Memory,
  sample: Sample,
): Judged {
  const { mean, spread, signals, state } = judgeSubgroup(
    { baseline, mean: rulesBefore(rules, points, memory), spread: limitsBefore(points) },
    sample.values.map((value) => within(baseline, value)),
  );
  const { recent } = state.mean;
  const runs = runsBehind(recent, memory, sample);
  return {
    memory: { recent, runs },
    point: {
      number: points + 1,
      sample,
      value: mean,
      centre: baseline.centre,
      limits: baseline.limits,
      spread,
      average: null,
      highSum: null,
      lowSum: null,
      signals: signals.map(({ chart, ...signal }) => ({
        figure: chart,
        ...toldOf(signal, points, runs),
        value: chart === 'mean' ? mean : spread,
      })),
    },
  };
}

function judgeAsCount(
  yardstick: Of<'p' | 'u'>,
  points: number,
  memory: Memory,
  sample: Sample,
): Judged {
  const before = rulesBefore(yardstick.rules, points, memory);
  const { value, limits, signals, recent } =
    yardstick.kind === 'p'
      ? proportionOf(yardstick, before, sample)
      : rateOf(yardstick, before, sample);
  const figure = yardstick.kind === 'p' ? 'proportion' : 'rate';
  const runs = runsBehind(recent, memory, sample);
  return {
    memory: { recent, runs },
    point: {
      number: points + 1,
      sample,
      value,
      centre: yardstick.baseline.centre,
      limits,
      spread: null,
      average: null,
      highSum: null,
      lowSum: null,
      signals: signals.map((signal) => ({ figure, ...toldOf(signal, points, runs), value })),
    },
  };
}

function proportionOf({ baseline }: Of<'p'>, runs: RunRuleState, { values, size }: Sample) {
  const sample = { nonconforming: values[0] ?? 0, size };
  const { proportion, limits, signals, state } = judgeProportion({ baseline, runs }, sample);
  return { value: proportion, limits, signals, recent: state.runs.recent };
}

function rateOf({ baseline }: Of<'u'>, runs: RunRuleState, { values, size }: Sample) {
  const sample = { defects: values[0] ?? 0, units: size };
  const { rate, limits, signals, state } = judgeRate({ baseline, runs }, sample);
  return { value: rate, limits, signals, recent: state.runs.recent };
}

function judgeAsAverage(
  { baseline }: Of<'ewma'>,
  points: number,
  memory: Memory,
  sample: Sample,
): Judged {
  const value = within(baseline, sample.values[0]);
  const { average, limits, signals } = judgeEwma(
    { baseline, average: memory.average ?? baseline.centre, count: points },
    value,
  );
  return {
    memory: { average },
    point: {
      number: points + 1,
      sample,
      value,
      centre: baseline.centre,
      limits,
      spread: null,
      average,
      highSum: null,
      lowSum: null,
      signals: signals.map(({ rule, direction }) => ({
        figure: 'average',
        rule,
        direction,
        value: average,
        runs: sample.runs,
      })),
    },
  };
}

const emptySum: OneSidedSum = Object.freeze({ sum: 0, since: null, run: null });

function judgeAsSums(
  { baseline }: Of<'cusum'>,
  points: number,
  { high: highBefore = emptySum, low: lowBefore = emptySum }: Memory,
  sample: Sample,
): Judged {
  const value = within(baseline, sample.values[0]);
  const { signals, state } = judgeCusum(
    {
      baseline,
      count: points,
      high: highBefore.sum,
      low: lowBefore.sum,
      highSince: highBefore.since,
      lowSince: lowBefore.since,
    },
    value,
  );
  const run = sample.runs[0] ?? 0;
  const high = sumAfter(highBefore, state.high, state.highSince, run);
  const low = sumAfter(lowBefore, state.low, state.lowSince, run);
  return {
    memory: { high, low },
    point: {
      number: points + 1,
      sample,
      value,
      centre: baseline.centre,
      limits: null,
      spread: null,
      average: null,
      highSum: high.sum,
      lowSum: low.sum,
      signals: signals.map(({ rule, direction }) => {
        const own = direction === 'above' ? high : low;
        const figure = direction === 'above' ? 'high-sum' : 'low-sum';
        const runs = own.run === null || own.run === run ? [run] : [own.run, run];
        return { figure, rule, direction, value: own.sum, runs };
      }),
    },
  };
}

function sumAfter(
  before: OneSidedSum,
  sum: number,
  since: number | null,
  run: number,
): OneSidedSum {
  if (since === null) return emptySum;
  return { sum, since, run: since === before.since ? before.run : run };
}

function rulesBefore(rules: readonly RunRule[], points: number, { recent }: Memory): RunRuleState {
  return { rules, count: points, recent: recent ?? [] };
}

/** A moving range or spread is judged by its limits, which look at no point before. */
function limitsBefore(points: number): RunRuleState {
  return { rules: ['beyond-three-sigma'], count: points, recent: [] };
}

/** The runs behind each of the points that the rules remember, this one the last. */
function runsBehind(
  recent: readonly number[],
  { runs }: Memory,
  sample: Sample,
): readonly (readonly number[])[] {
  return runs ? [...runs, sample.runs].slice(-recent.length) : [sample.runs];
}

/** A rule that was met, with the runs of the points that met it; these are counted from 0. */
function toldOf(
  signal: { rule: RunRule; direction: Direction; points: readonly number[] },
  newest: number,
  remembered: readonly (readonly number[])[],
) {
  const first = newest + 1 - remembered.length;
  const runs = signal.points.flatMap((point) => remembered[point - first] ?? []);
  return { rule: signal.rule, direction: signal.direction, runs };
}
