import type { z } from 'zod';
import { capabilityIndices } from '../statistics/capability-indices.js';
import type { ProcessLimits } from '../statistics/fraction-outside.js';
import { meanInterval } from '../statistics/mean-interval.js';
import { type Moments, moments } from '../statistics/moments.js';
import { oneWayAnova } from '../statistics/one-way-anova.js';
import { welchAnova } from '../statistics/welch-anova.js';
import { pairwiseWelchIntervals } from '../statistics/welch-interval.js';
import type { comparisonAnswer } from './comparison-schema.js';
import { MAGNITUDE_LIMIT, NO_LIMIT, NO_SPREAD, ONE_VALUE, TOO_LARGE } from './rules.js';

type Answer = z.input<typeof comparisonAnswer>;

/** One cell's values in the order of time. */
export interface CellValues {
  cell: string;
  values: Float64Array;
  endedAtMs: Float64Array;
}

/** Values of all cells, parted; cells in the order of their names. */
export function byCell(series: {
  values: Float64Array;
  endedAtMs: Float64Array;
  cells: readonly string[];
  cellOf: Uint16Array;
}): CellValues[] {
  const counts = new Array<number>(series.cells.length).fill(0);
  for (const at of series.cellOf) counts[at] = (counts[at] ?? 0) + 1;
  const parted = series.cells.map((cell, at) => ({
    cell,
    values: new Float64Array(counts[at] ?? 0),
    endedAtMs: new Float64Array(counts[at] ?? 0),
    filled: 0,
  }));
  for (let i = 0; i < series.values.length; i += 1) {
    const own = parted[series.cellOf[i] as number] as (typeof parted)[number];
    own.values[own.filled] = series.values[i] as number;
    own.endedAtMs[own.filled] = series.endedAtMs[i] as number;
    own.filled += 1;
  }
  return parted
    .filter((one) => one.filled > 0)
    .map(({ filled: _, ...one }) => one)
    .sort((a, b) => (a.cell < b.cell ? -1 : 1));
}

/** A mean with its interval, or why there is none. */
export type MeanFigures = Pick<
  Answer['weeks'][number],
  'count' | 'mean' | 'standardDeviation' | 'lower' | 'upper' | 'reason'
>;

/** @param values one or more */
export function meanFigures(values: Float64Array): MeanFigures {
  const { count, moments: found, reason } = summaryOf(values);
  if (found === null) {
    const mean = count === 1 ? (values[0] ?? null) : null;
    return { count, mean, standardDeviation: null, lower: null, upper: null, reason };
  }
  const { mean, standardDeviation } = found;
  return { count, mean, standardDeviation, ...meanInterval(found), reason: null };
}

interface Summary {
  count: number;
  moments: Moments | null;
  reason: string | null;
}

function summaryOf(values: Float64Array): Summary {
  const count = values.length;
  if (count === 1) return { count, moments: null, reason: ONE_VALUE };
  if (!values.every((value) => Math.abs(value) < MAGNITUDE_LIMIT)) {
    return { count, moments: null, reason: TOO_LARGE };
  }
  return { count, moments: moments(values), reason: null };
}

/** What a cell's values are by themselves and against the specification limits. */
export type CellFigures = Omit<Answer['cells'][number], 'cell' | 'link'>;

/** @param values one or more */
export function cellFigures(values: Float64Array, limits: ProcessLimits): CellFigures {
  const figures = meanFigures(values);
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  const { ppk, why } = ppkOf(figures, limits);
  return {
    ...figures,
    lowest,
    highest,
    ppk: ppk?.estimate ?? null,
    ppkLower: ppk?.lower ?? null,
    ppkUpper: ppk?.upper ?? null,
    reason: figures.reason ?? why,
  };
}

function ppkOf({ count, mean, standardDeviation }: MeanFigures, limits: ProcessLimits) {
  if (mean === null || standardDeviation === null) return { ppk: null, why: null };
  if (limits.lower === null && limits.upper === null) {
    return { ppk: null, why: NO_LIMIT };
  }
  const spread = { count, mean, standardDeviation, degreesOfFreedom: count - 1 };
  const ppk = capabilityIndices(spread, limits)?.nearest ?? null;
  return ppk !== null && Number.isFinite(ppk.upper - ppk.lower)
    ? { ppk, why: null }
    : { ppk: null, why: NO_SPREAD };
}

/** How cells differ. */
export type Differences = Pick<Answer, 'anova' | 'welch' | 'multiplicity' | 'pairs'>;

const CONFIDENCE = 0.95;
/** A smaller spread is taken for none: one over its square would not be finite. */
const SPREAD_MIN = 1e-150;

/** Compares the cells that have a spread to be compared by. */
export function differencesOf(cells: readonly (MeanFigures & { cell: string })[]): Differences {
  const groups = cells.flatMap(({ cell, count, mean, standardDeviation: own }) => {
    if (mean === null || own === null) return [];
    return [{ cell, count, mean, standardDeviation: own < SPREAD_MIN ? 0 : own }];
  });
  const pairs = pairsOf(groups);
  return {
    anova: anovaOf(groups),
    welch: welchOf(groups),
    multiplicity: `Bonferroni: each of the ${pairs.length} pairs has an interval at 1 - 0.05/${Math.max(1, pairs.length)} and a p value times ${pairs.length}, so that all intervals hold together at 95 %.`,
    pairs,
  };
}

type Group = Moments & { cell: string };

const TOO_FEW = 'A comparison needs two cells with two values each.';
const NONE_WITHIN = 'The values within the cells have no spread.';

function anovaOf(groups: readonly Group[]): Answer['anova'] {
  if (groups.length < 2) {
    const none = { between: null, within: null, f: null, pValue: null, rSquared: null };
    return { ...none, reason: TOO_FEW };
  }
  const table = oneWayAnova(groups);
  return { ...table, reason: table.f === null ? NONE_WITHIN : null };
}

function welchOf(groups: readonly Group[]): Answer['welch'] {
  const none = {
    f: null,
    degreesOfFreedomBetween: null,
    degreesOfFreedomWithin: null,
    pValue: null,
  };
  if (groups.length < 2) return { ...none, reason: TOO_FEW };
  const found = welchAnova(groups);
  return found === null
    ? { ...none, reason: 'The values of a cell have no spread.' }
    : { ...found, reason: null };
}

/** Every pair of cells once, also those that cannot be compared. */
function pairsOf(groups: readonly Group[]): Answer['pairs'] {
  if (groups.length < 2) return [];
  const found = new Map(
    pairwiseWelchIntervals(groups, CONFIDENCE).map((pair) => [
      keyOf(pair.first, pair.second),
      pair,
    ]),
  );
  return groups.flatMap((one, first) =>
    groups.slice(first + 1).map((other, offset) => {
      const second = first + 1 + offset;
      const pair = found.get(keyOf(first, second));
      const names = { first: one.cell, second: other.cell };
      if (!pair) {
        const none = { lower: null, upper: null, pValue: null, differs: null };
        return { ...names, difference: one.mean - other.mean, ...none, reason: NONE_WITHIN };
      }
      const { difference, lower, upper, pValue } = pair;
      const differs = lower > 0 || upper < 0;
      return { ...names, difference, lower, upper, pValue, differs, reason: null };
    }),
  );
}

function keyOf(first: number, second: number): string {
  return `${first} ${second}`;
}
