import { html, type Markup } from '../http/html.js';

export interface GaugeReading {
  value: number;
  /** Specification limits. */
  lower: number | null;
  upper: number | null;
  /** Acceptance limits: the specification limits narrowed by the guard band. */
  acceptLower: number | null;
  acceptUpper: number | null;
  /** Null where there is nothing to conform to. */
  conforms: boolean | null;
}

const WIDTH = 160;
const HEIGHT = 28;
const MIDDLE = HEIGHT / 2;
/** Room at both ends for a mark on the edge of the scale. */
const EDGE = 8;
/** How much of the scale lies outside the limits, in widths between them. */
const BEYOND = 0.4;

/** The lowest and the highest value that the drawing shows. */
interface Scale {
  from: number;
  to: number;
}

/**
 * A reading on a line: long strokes for specification limits, a bar where it would be
 * accepted, dashed strokes where a guard band ends that bar short of a limit; a dot
 * conforms, a cross does not, and an arrowhead at the edge says that the value lies
 * beyond. Shapes alone tell all of it. Null without limits: there is nothing to draw.
 */
export function gauge(reading: GaugeReading): Markup | null {
  const scale = scaleOf(reading);
  if (scale === null) return null;
  const { lower, upper, acceptLower, acceptUpper } = reading;
  const at = (value: number) => place(value, scale);
  const from = acceptLower === null ? EDGE : at(acceptLower);
  const to = acceptUpper === null ? WIDTH - EDGE : at(acceptUpper);
  return html`<svg class="gauge" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}" aria-hidden="true" focusable="false"><path class="scale" d="M${EDGE} ${MIDDLE}H${WIDTH - EDGE}"/><path class="zone" d="M${from} ${MIDDLE}H${Math.max(from, to)}"/>${[
    dashed(acceptLower, lower, at),
    dashed(acceptUpper, upper, at),
    stroke(lower, at),
    stroke(upper, at),
  ]}${mark(reading, scale)}</svg>`;
}

function scaleOf({ value, lower, upper }: GaugeReading): Scale | null {
  const limit = lower ?? upper;
  if (limit === null) return null;
  if (lower !== null && upper !== null) {
    const span = upper - lower || Math.abs(lower) || 1;
    return { from: lower - BEYOND * span, to: upper + BEYOND * span };
  }
  const span = Math.abs(value - limit) || Math.abs(limit) || 1;
  return lower === null
    ? { from: limit - 2 * span, to: limit + span }
    : { from: limit - span, to: limit + 2 * span };
}

/** Where a value stands, held to the scale's ends, in tenths of a drawing unit. */
function place(value: number, { from, to }: Scale): number {
  const share = Math.min(1, Math.max(0, (value - from) / (to - from)));
  return Math.round((EDGE + share * (WIDTH - 2 * EDGE)) * 10) / 10;
}

function stroke(limit: number | null, at: (value: number) => number): Markup | null {
  return limit === null ? null : html`<path class="limit" d="M${at(limit)} 3V${HEIGHT - 3}"/>`;
}

function dashed(
  accepted: number | null,
  limit: number | null,
  at: (value: number) => number,
): Markup | null {
  if (accepted === null || accepted === limit) return null;
  return html`<path class="accepted" d="M${at(accepted)} 4V${HEIGHT - 4}"/>`;
}

function mark({ value, conforms }: GaugeReading, scale: Scale): Markup {
  const x = place(value, scale);
  const y = MIDDLE;
  const shape =
    conforms === false
      ? html`<path class="halo" d="M${x - 5} ${y - 5}l10 10m0 -10l-10 10"/><path class="cross" d="M${x - 5} ${y - 5}l10 10m0 -10l-10 10"/>`
      : html`<circle class="dot" cx="${x}" cy="${y}" r="5"/>`;
  if (value >= scale.from && value <= scale.to) return shape;
  const [tip, root] = value < scale.from ? [0, EDGE] : [WIDTH, WIDTH - EDGE];
  return html`<path class="beyond" d="M${tip} ${y}L${root} ${y - 9}V${y + 9}Z"/>`;
}
