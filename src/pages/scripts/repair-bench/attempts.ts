import { drawChart, type Plot } from '../lib/chart.js';
import { words } from '../lib/page.js';

interface Point {
  attempt: number;
  value: number;
  lower: number | null;
  upper: number | null;
  acceptLower: number | null;
  acceptUpper: number | null;
  isAccepted: boolean;
  label: string;
}

/** A characteristic over a motor's attempts (src/pages/repair-bench/what-failed.ts). */
export interface AttemptChart {
  id: string;
  axis: string;
  points: Point[];
}

/** Half of the width that an attempt's limits take, in attempts. */
const HALF = 0.38;
/** Room above and below everything that is drawn, as a share of its height. */
const ROOM = 0.12;

/**
 * Draws a characteristic attempt by attempt: each value against the limits that it was judged
 * by, which may have changed between.
 * @param href where each mark leads
 */
export function drawAttempts({ id, axis, points }: AttemptChart, href: string): void {
  const domain = domainOf(points);
  drawChart(id, (plot, width) =>
    plot.plot({
      width,
      height: 16 * textPx(),
      className: 'attempts-plot',
      marginLeft: 4 * textPx(),
      marginTop: 2 * textPx(),
      marginBottom: 2.5 * textPx(),
      x: {
        label: words.repairBench.attempt,
        ticks: points.map((one) => one.attempt),
        tickFormat: 'd',
        domain: [Math.min(...points.map(left)), Math.max(...points.map(right))],
      },
      y: { label: axis, domain, grid: true },
      marks: marksOf(plot, points, domain, href),
    }),
  );
}

/** The size of text, which a person may have made larger. */
function textPx(): number {
  return Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
}

const left = ({ attempt }: Point) => attempt - 0.5;
const right = ({ attempt }: Point) => attempt + 0.5;

function marksOf(plot: Plot, points: Point[], domain: [number, number], href: string) {
  const [lowest, highest] = domain;
  const ends = { x1: (p: Point) => p.attempt - HALF, x2: (p: Point) => p.attempt + HALF };
  const limited = points.filter((p) => p.acceptLower !== null || p.acceptUpper !== null);
  const limit = (side: 'lower' | 'upper') =>
    plot.link(
      points.filter((p) => p[side] !== null),
      { ...ends, y1: side, y2: side, stroke: 'var(--ink)', strokeWidth: 2 },
    );
  const dots = (isAccepted: boolean) =>
    plot.dot(
      points.filter((p) => p.isAccepted === isAccepted),
      {
        x: 'attempt',
        y: 'value',
        r: 7,
        symbol: isAccepted ? 'circle' : 'times',
        fill: isAccepted ? 'var(--series-1)' : 'none',
        stroke: isAccepted ? 'var(--panel)' : 'var(--reading-bad)',
        strokeWidth: isAccepted ? 1.5 : 4,
        href: () => href,
        ariaLabel: 'label',
        title: 'label',
      },
    );
  return [
    plot.rect(limited, {
      ...ends,
      y1: (p: Point) => p.acceptLower ?? lowest,
      y2: (p: Point) => p.acceptUpper ?? highest,
      fill: 'var(--reading-zone)',
    }),
    limit('lower'),
    limit('upper'),
    plot.line(points, { x: 'attempt', y: 'value', stroke: 'var(--series-1)', strokeWidth: 2 }),
    dots(true),
    dots(false),
  ];
}

/** From the lowest to the highest of values and limits, with room at both ends. */
function domainOf(points: readonly Point[]): [number, number] {
  const all = points
    .flatMap(({ value, lower, upper }) => [value, lower, upper])
    .filter((one) => one !== null);
  const [lowest, highest] = [Math.min(...all), Math.max(...all)];
  const room = (highest - lowest || Math.abs(highest) || 1) * ROOM;
  return [lowest - room, highest + room];
}
