import type { z } from 'zod';
import { acceptanceLimits, type Limits } from '../measurement/limits.js';
import { andersonDarling, andersonDarlingCountMin } from '../statistics/anderson-darling.js';
import {
  type CapabilityBySpread,
  capabilityBySpread,
  consecutiveSpreads,
  individualsSpreads,
  type ProcessSpreads,
} from '../statistics/capability.js';
import type { CapabilityIndex } from '../statistics/capability-indices.js';
import {
  countOutside,
  type FractionOutside,
  type ProcessLimits,
} from '../statistics/fraction-outside.js';
import { type Histogram, histogram } from '../statistics/histogram.js';
import { percentileCapability, percentileCountMin } from '../statistics/percentile-capability.js';
import { type SortedSample, sortedQuantile, sortSample } from '../statistics/sorted-sample.js';
import type { capabilityAnswer } from './capability-schema.js';

/** A p value below this takes values for not normal. */
const SIGNIFICANCE = 0.05;
/** Squares of larger values would not be finite: see `moments`. */
export const MAGNITUDE_LIMIT = 1e150;

/** Why figures are missing, for people. */
export const ONE_VALUE = 'There is one value only, and a spread needs two.';
export const TOO_LARGE = `There is a value of ${MAGNITUDE_LIMIT} or more in size, which cannot be squared.`;
export const NO_SPREAD = 'The values have no spread.';
export const NO_LIMIT = 'There is no limit to be capable of.';
const ONE_LIMIT = 'There is one limit only.';
const UNRESOLVED = `Fewer than ${percentileCountMin} values: the outer points would hug the extremes and flatter the process.`;

type Answer = z.input<typeof capabilityAnswer>;
type Share = Answer['specification']['within']['expectedOutside'];

/** Values beyond a limit, without the address of the readings behind. */
export interface Beyond {
  count: number;
  fraction: number;
}

/** What the values are against one pair of limits. */
export interface Against
  extends Pick<Answer['specification'], 'lower' | 'upper' | 'within' | 'overall' | 'percentile'> {
  observedOutside: { below: Beyond | null; above: Beyond | null; total: Beyond } | null;
}

/** Every figure of one characteristic that needs nothing but its values and limits. */
export interface CapabilityFigures
  extends Pick<
    Answer,
    'count' | 'reason' | 'moments' | 'spread' | 'points' | 'normality' | 'method'
  > {
  specification: Against;
  acceptance: Against;
  histogram: { classes: Histogram | null; reason: string | null };
}

/**
 * The capability of one characteristic against its specification and its acceptance limits.
 *
 * @param values in the order of time, all finite.
 * @param subgroup runs of a subgroup; null for the moving range of two.
 * @returns null with a reason in words for what the values do not tell.
 */
export function capabilityFigures(
  values: Float64Array,
  limits: Limits,
  subgroup: number | null,
): CapabilityFigures {
  const sample = values.length === 0 ? null : sortSample(values);
  const reason = faultOf(sample);
  const spreads = reason === null ? spreadsOf(values, subgroup) : null;
  const known: Known = { sample, spreads, reason };
  const normality = normalityOf(known);
  const specification = against({ lower: limits.lower, upper: limits.upper }, known);
  const alone = values.length === 1 ? (values[0] ?? null) : null;
  return {
    count: values.length,
    reason,
    moments: {
      mean: spreads?.overall.mean ?? alone,
      standardDeviation: spreads?.overall.standardDeviation ?? null,
      lowest: sample?.ascending[0] ?? null,
      highest: sample?.ascending.at(-1) ?? null,
    },
    spread: spreadOf(spreads, subgroup),
    points: pointsOf(known),
    normality,
    method: methodOf(values.length, normality, specification),
    specification,
    acceptance: against(acceptanceLimits(limits), known),
    histogram: histogramOf(known),
  };
}

/** Sorted values, their spreads, and why there are none. */
interface Known {
  sample: SortedSample | null;
  spreads: ProcessSpreads | null;
  reason: string | null;
}

/** Why values tell nothing of a spread; null if they do. */
function faultOf(sample: SortedSample | null): string | null {
  if (sample === null) return 'There is no value.';
  const { ascending } = sample;
  if (ascending.length === 1) return ONE_VALUE;
  const largest = Math.max(Math.abs(ascending[0] ?? 0), Math.abs(ascending.at(-1) ?? 0));
  return largest < MAGNITUDE_LIMIT ? null : TOO_LARGE;
}

function spreadsOf(values: Float64Array, subgroup: number | null): ProcessSpreads {
  return subgroup === null ? individualsSpreads(values) : consecutiveSpreads(values, subgroup);
}

function spreadOf(spreads: ProcessSpreads | null, subgroup: number | null): Answer['spread'] {
  const part = (of: 'within' | 'overall') => ({
    standardDeviation: spreads?.[of].standardDeviation ?? null,
    degreesOfFreedom: spreads?.[of].degreesOfFreedom ?? null,
  });
  const within =
    subgroup === null
      ? 'Mean moving range of two neighbours in time over 2/√π.'
      : `Pooled over subgroups of ${subgroup} runs consecutive in time.`;
  return {
    within: { ...part('within'), estimator: within },
    overall: { ...part('overall'), estimator: 'Standard deviation of all values.' },
  };
}

function pointsOf({ sample, reason }: Known): Answer['points'] {
  const points = { lower: null, median: null, upper: null, quantileType: 7 as const };
  if (sample === null || reason !== null) return { ...points, reason };
  const median = sortedQuantile(sample, 0.5);
  if (sample.ascending.length < percentileCountMin) {
    return { ...points, median, reason: UNRESOLVED };
  }
  // The points do not depend on the limits.
  const { lowerPoint, upperPoint } = percentileCapability(sample, { lower: 0, upper: null });
  return { ...points, lower: lowerPoint, median, upper: upperPoint, reason: null };
}

function normalityOf({ sample, spreads, reason }: Known): Answer['normality'] {
  const untested = { statistic: null, modified: null, pValue: null, normal: null };
  if (sample === null || spreads === null) return { ...untested, reason };
  if (sample.ascending.length < andersonDarlingCountMin) {
    return { ...untested, reason: `The test needs ${andersonDarlingCountMin} values.` };
  }
  const test = andersonDarling(sample, spreads.overall);
  if (test === null) return { ...untested, reason: NO_SPREAD };
  return { ...test, normal: test.pValue >= SIGNIFICANCE, reason: null };
}

/** Which indices to go by, and why. */
function methodOf(
  count: number,
  { normal, pValue, reason }: Answer['normality'],
  { lower, upper, percentile }: Against,
): Answer['method'] {
  if (lower === null && upper === null) return { read: 'none', why: NO_LIMIT };
  if (normal === null) {
    if (count < 2 || count >= andersonDarlingCountMin) return { read: 'none', why: reason ?? '' };
    const why = `With fewer than ${andersonDarlingCountMin} values it cannot be tested whether they are normal: take the normal method as provisional.`;
    return { read: 'normal', why };
  }
  const p = `Anderson-Darling, p = ${Number(pValue?.toPrecision(2))}`;
  if (normal) return { read: 'normal', why: `Nothing speaks against normal values (${p}).` };
  const found = `The values are not normal (${p})`;
  if (percentile.ppk === null) {
    const why = `${found}, and the percentile method has no figures: go by the observed fraction outside. ${percentile.reason}`;
    return { read: 'none', why };
  }
  const why = `${found}, and there are enough of them for the percentile method, which assumes no distribution.`;
  return { read: 'percentile', why };
}

function against(limits: ProcessLimits, { sample, spreads, reason }: Known): Against {
  const { lower, upper } = limits;
  if (lower === null && upper === null) return { lower, upper, ...nothing(NO_LIMIT) };
  if (sample === null) return { lower, upper, ...nothing(reason) };
  const observedOutside = observedAgainst(sample, limits);
  if (spreads === null) return { lower, upper, ...nothing(reason), observedOutside };
  const within = indicesBy(capabilityBySpread(spreads.within, limits), limits);
  const overall = indicesBy(capabilityBySpread(spreads.overall, limits), limits);
  return {
    lower,
    upper,
    within: {
      cp: within.both,
      cpl: within.lower,
      cpu: within.upper,
      cpk: within.nearest,
      expectedOutside: within.expectedOutside,
      reason: within.reason,
    },
    overall: {
      pp: overall.both,
      ppl: overall.lower,
      ppu: overall.upper,
      ppk: overall.nearest,
      expectedOutside: overall.expectedOutside,
      reason: overall.reason,
    },
    percentile: percentileAgainst(sample, limits),
    observedOutside,
  };
}

function nothing(reason: string | null): Omit<Against, 'lower' | 'upper'> {
  const none = { expectedOutside: null, reason };
  return {
    within: { cp: null, cpl: null, cpu: null, cpk: null, ...none },
    overall: { pp: null, ppl: null, ppu: null, ppk: null, ...none },
    percentile: { pp: null, ppl: null, ppu: null, ppk: null, reason },
    observedOutside: null,
  };
}

function observedAgainst(sample: SortedSample, limits: ProcessLimits): Against['observedOutside'] {
  const { below, above } = countOutside(sample, limits);
  const beyond = (count: number) => ({ count, fraction: count / sample.ascending.length });
  return {
    below: limits.lower === null ? null : beyond(below),
    above: limits.upper === null ? null : beyond(above),
    total: beyond(below + above),
  };
}

/** The indices of one spread, and why some or all of them are null. */
function indicesBy(
  { indices, expectedOutside }: CapabilityBySpread,
  limits: ProcessLimits,
): Record<'both' | 'lower' | 'upper' | 'nearest', CapabilityIndex | null> & {
  expectedOutside: Share;
  reason: string | null;
} {
  const expected = sidesOf(expectedOutside, limits);
  // A spread near the smallest double gives an index beyond the largest.
  if (indices === null || !Number.isFinite(indices.nearest.upper - indices.nearest.lower)) {
    const none = { both: null, lower: null, upper: null, nearest: null };
    return { ...none, expectedOutside: expected, reason: NO_SPREAD };
  }
  return { ...indices, expectedOutside: expected, reason: oneLimitOf(limits) };
}

function oneLimitOf({ lower, upper }: ProcessLimits): string | null {
  return lower === null || upper === null ? ONE_LIMIT : null;
}

function sidesOf(outside: FractionOutside | null, { lower, upper }: ProcessLimits): Share {
  if (outside === null) return null;
  const { below, above, total } = outside;
  return { below: lower === null ? null : below, above: upper === null ? null : above, total };
}

function percentileAgainst(sample: SortedSample, limits: ProcessLimits): Against['percentile'] {
  const none = { pp: null, ppl: null, ppu: null, ppk: null };
  if (sample.ascending.length < percentileCountMin) return { ...none, reason: UNRESOLVED };
  const { pp, ppl, ppu, ppk } = percentileCapability(sample, limits);
  const indices = { pp, ppl, ppu, ppk };
  const coincides =
    (limits.lower !== null && ppl === null) || (limits.upper !== null && ppu === null);
  if (coincides) return { ...indices, reason: 'An outer point coincides with the median.' };
  if (!Number.isFinite(ppk)) return { ...none, reason: NO_SPREAD };
  return { ...indices, reason: oneLimitOf(limits) };
}

function histogramOf({ sample, reason }: Known): CapabilityFigures['histogram'] {
  if (sample === null || (reason !== null && sample.ascending.length > 1)) {
    return { classes: null, reason };
  }
  try {
    return { classes: histogram(sample), reason: null };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return { classes: null, reason: 'The values differ too little for their size.' };
  }
}

/** Places of the lowest and of the highest values, the outermost first; of equal ones the earliest. */
export function extremePlaces(
  values: Float64Array,
  count: number,
): { lowest: number[]; highest: number[] } {
  return { lowest: firstPlaces(values, count, 1), highest: firstPlaces(values, count, -1) };
}

/** @param sign 1 for the lowest first, -1 for the highest first */
function firstPlaces(values: Float64Array, count: number, sign: 1 | -1): number[] {
  const places: number[] = [];
  let last = Number.POSITIVE_INFINITY;
  for (let i = 0; i < values.length; i += 1) {
    const value = sign * (values[i] as number);
    if (value >= last) continue;
    const at = places.findIndex((place) => value < sign * (values[place] as number));
    places.splice(at === -1 ? places.length : at, 0, i);
    places.length = Math.min(places.length, count);
    if (places.length === count) last = sign * (values[places.at(-1) ?? 0] as number);
  }
  return places;
}
