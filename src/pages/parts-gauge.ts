import { html, type Markup } from '../http/html.js';

/** What a gauge line shows: a value, if one was read, against its limits. */
export interface GaugeValue {
  value: number | null;
  /** Specification limits. */
  lower: number | null;
  upper: number | null;
  /** Acceptance limits: the specification limits narrowed by the guard band. */
  acceptLower: number | null;
  acceptUpper: number | null;
  /** Where the value is best; sets the scale where one limit alone does not. */
  nominal: number | null;
  /** Null where there is no value or nothing to conform to. */
  conforms: boolean | null;
}

const WIDTH = 220;
const HEIGHT = 36;
/** Room at both ends for a pointer on the edge of the scale. */
const EDGE = 9;
const LEFT = EDGE;
const RIGHT = WIDTH - EDGE;
const TOP = 14;
const BOTTOM = 32;
/** Share of the scale between two limits; the rest lies outside of them. */
const BETWEEN = 0.6;

interface Scale {
  from: number;
  to: number;
}

/**
 * A value on a line, drawn by the service: an open frame spans the specification limits, a
 * filled bar inside of it what is accepted, so that a guard band shows as frame without
 * filling. A wedge points at an accepted value, a cross stands over one that is not; at the
 * edge an arrow says that the value lies beyond. The scale does not move with the value, so
 * that a live one can be followed. For the eye only: the words stand beside it.
 * @returns null without limits, where there is nothing to draw
 */
export function gaugeLine(gauge: GaugeValue): Markup | null {
  const scale = scaleOf(gauge);
  if (scale === null) return null;
  const { lower, upper, acceptLower, acceptUpper } = gauge;
  const from = acceptLower === null ? LEFT : place(acceptLower, scale);
  const to = acceptUpper === null ? RIGHT : place(acceptUpper, scale);
  return html`<svg class="gauge-line" viewBox="0 0 ${WIDTH} ${HEIGHT}" aria-hidden="true" focusable="false"><path class="scale" d="M${LEFT} ${(TOP + BOTTOM) / 2}H${RIGHT}"/><path class="accepted-zone" d="M${from} ${TOP + 3}H${Math.max(from, to)}V${BOTTOM - 3}H${from}z"/><path class="frame" d="${frame(lower, upper, scale)}"/>${pointer(gauge, scale)}</svg>`;
}

/** Open at an end that has no limit. */
function frame(lower: number | null, upper: number | null, scale: Scale): string {
  const from = lower === null ? LEFT : place(lower, scale);
  const to = upper === null ? RIGHT : place(upper, scale);
  const ends = [lower === null ? '' : `M${from} ${TOP}V${BOTTOM}`];
  if (upper !== null) ends.push(`M${to} ${TOP}V${BOTTOM}`);
  return `M${from} ${TOP}H${to}M${from} ${BOTTOM}H${to}${ends.join('')}`;
}

function scaleOf({ lower, upper, nominal }: GaugeValue): Scale | null {
  if (lower !== null && upper !== null) return around(lower, upper);
  const limit = lower ?? upper;
  if (limit === null) return null;
  // As if the nominal value were the middle between the limit and another.
  const half = Math.abs((nominal ?? limit) - limit) || Math.abs(limit) || 1;
  return lower === null ? around(limit - 2 * half, limit) : around(limit, limit + 2 * half);
}

function around(lower: number, upper: number): Scale {
  const beyond = ((upper - lower) * (1 - BETWEEN)) / (2 * BETWEEN);
  return { from: lower - beyond, to: upper + beyond };
}

/** Where a value stands, held to the scale's ends, in tenths of a drawing unit. */
function place(value: number, { from, to }: Scale): number {
  const share = Math.min(1, Math.max(0, (value - from) / (to - from)));
  return Math.round((LEFT + share * (RIGHT - LEFT)) * 10) / 10;
}

function pointer({ value, conforms }: GaugeValue, scale: Scale): Markup | null {
  if (value === null) return null;
  if (value < scale.from) return html`<path class="arrow" d="M0 23l14-9v18z"/>`;
  if (value > scale.to) return html`<path class="arrow" d="M${WIDTH} 23l-14-9v18z"/>`;
  const x = place(value, scale);
  const needle = html`<path class="needle" d="M${x} ${TOP - 1}V${BOTTOM + 2}"/>`;
  return conforms === false
    ? html`${needle}<path class="cross" d="M${x - 5} 1.5l10 10m0-10l-10 10"/>`
    : html`${needle}<path class="wedge" d="M${x - 6} 1h12l-6 11z"/>`;
}
