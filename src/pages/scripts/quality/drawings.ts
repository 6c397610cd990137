import type { Plot } from '../lib/chart.js';
import { format } from '../lib/page.js';
import type { Draw } from './panel.js';

/** A dot with its interval. */
export interface Dot {
  name: string;
  value: number | null;
  lower: number | null;
  upper: number | null;
  href?: string | undefined;
  title: string;
}

/** One em in CSS pixels: drawings grow with the text. */
export function em(): number {
  return Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
}

/** Room for names left of a drawing: as long as the longest, but not half of the width. */
export function namesRoom(names: readonly string[], width: number): number {
  const longest = Math.max(0, ...names.map((one) => one.length));
  return Math.min(longest * 0.5 * em() + 1.2 * em(), width * 0.42);
}

/** Names down the left side, cut where they are longer than their room. */
export function namesAxis(plot: Plot, room: number) {
  return plot.axisY({
    label: null,
    tickSize: 0,
    lineWidth: room / em() / 0.85,
    textOverflow: 'ellipsis',
  });
}

/** Every so many of the names that have room beside each other. */
export function thinned(names: readonly string[], width: number): string[] {
  const longest = Math.max(1, ...names.map((one) => one.length));
  const step = Math.ceil((names.length * (longest + 2) * 0.5 * em()) / Math.max(1, width));
  return names.filter((_, i) => i % Math.max(1, step) === 0);
}

/** Lowest value to show of shares that lie near 1: a little below what is there. */
function floorOf(values: readonly (number | null)[]): number {
  const lowest = Math.min(1, ...values.filter((one) => one !== null));
  return Math.max(0, Math.floor(lowest * 20) / 20);
}

export interface Along {
  /** Every name along the axis, those without a value too. */
  names: readonly string[];
  dots: readonly Dot[];
  /** A second, quieter course, drawn dashed with squares. */
  second?: readonly Dot[];
  label: string;
  /** Whether the values are shares of one. */
  isShare?: boolean;
}

/** Dots with intervals along time, joined by a line. */
export function along({ names, dots, second = [], label, isShare = true }: Along): Draw {
  return (plot, width) => {
    const shown = [...dots, ...second];
    const room = 4.5 * em();
    const tickFormat = isShare ? (value: number) => format.percent(value, 0) : undefined;
    return plot.plot({
      className: 'drawn',
      width,
      height: 18 * em(),
      marginLeft: room,
      marginRight: 1.5 * em(),
      marginBottom: 2.8 * em(),
      marginTop: 2 * em(),
      x: { type: 'point', domain: [...names], label: null },
      y: {
        label,
        grid: true,
        ...(tickFormat ? { tickFormat } : {}),
        ...(isShare
          ? { domain: [floorOf(shown.flatMap((one) => [one.value, one.lower])), 1] }
          : {}),
      },
      marks: [
        plot.axisX({ ticks: thinned(names, width - room), tickSize: 4 }),
        plot.lineY(second, {
          x: 'name',
          y: 'value',
          stroke: 'var(--series-2)',
          strokeDasharray: '5 4',
        }),
        plot.dot(second, {
          x: 'name',
          y: 'value',
          symbol: 'square',
          r: 3.5,
          stroke: 'var(--series-2)',
          fill: 'var(--panel)',
          href: 'href',
          title: 'title',
        }),
        plot.ruleX(dots, {
          x: 'name',
          y1: 'lower',
          y2: 'upper',
          stroke: 'var(--series-1)',
          strokeOpacity: 0.55,
          strokeWidth: 2,
        }),
        plot.lineY(dots, { x: 'name', y: 'value', stroke: 'var(--series-1)', strokeWidth: 2 }),
        plot.dot(dots, {
          x: 'name',
          y: 'value',
          r: 5,
          fill: 'var(--series-1)',
          stroke: 'var(--panel)',
          href: 'href',
          title: 'title',
        }),
      ],
    });
  };
}

/** A line across a drawing, such as a limit. */
export interface Mark {
  at: number;
  text: string;
  kind: 'specification' | 'acceptance' | 'mean';
}

const lineOf = {
  specification: { stroke: 'var(--series-2)', strokeWidth: 2.5 },
  acceptance: { stroke: 'var(--series-3)', strokeWidth: 2, strokeDasharray: '6 4' },
  mean: { stroke: 'var(--ink)', strokeWidth: 1.5, strokeDasharray: '2 3' },
} as const;

/** Lines at limits, upright, with what they are above them. */
export function uprightMarks(plot: Plot, marks: readonly Mark[]) {
  return (['acceptance', 'specification', 'mean'] as const).map((kind) =>
    plot.ruleX(
      marks.filter((one) => one.kind === kind),
      { x: 'at', title: 'text', ...lineOf[kind] },
    ),
  );
}

export interface SideBySide {
  dots: readonly Dot[];
  label: string;
  isShare?: boolean;
  marks?: readonly Mark[];
  /** Whether the axis begins at 0. */
  fromZero?: boolean;
}

/** Dots with intervals, one name below the other. */
export function sideBySide({
  dots,
  label,
  isShare = true,
  marks = [],
  fromZero = false,
}: SideBySide): Draw {
  return (plot, width) => {
    const names = dots.map((one) => one.name);
    const room = namesRoom(names, width);
    const tickFormat = isShare ? { tickFormat: (value: number) => format.percent(value, 0) } : {};
    return plot.plot({
      className: 'drawn',
      width,
      height: (names.length * 2 + 5.5) * em(),
      marginLeft: room,
      marginRight: 2 * em(),
      marginBottom: 3 * em(),
      marginTop: 1 * em(),
      y: { type: 'band', domain: names, label: null },
      x: {
        label,
        grid: true,
        nice: true,
        zero: fromZero,
        labelAnchor: 'center',
        labelArrow: 'none',
        ticks: Math.max(2, Math.floor((width - room) / (5 * em()))),
        ...tickFormat,
      },
      marks: [
        namesAxis(plot, room),
        ...uprightMarks(plot, marks),
        plot.ruleY(dots, {
          y: 'name',
          x1: 'lower',
          x2: 'upper',
          stroke: 'var(--series-1)',
          strokeWidth: 3,
          strokeOpacity: 0.6,
        }),
        plot.dot(dots, {
          y: 'name',
          x: 'value',
          r: 6,
          fill: 'var(--series-1)',
          stroke: 'var(--panel)',
          href: 'href',
          title: 'title',
        }),
      ],
    });
  };
}

export interface Bar {
  name: string;
  value: number;
  /** Where the line over the bars is, where there is one. */
  cumulative?: number;
  text: string;
  href?: string | undefined;
  title: string;
  /** Bars of one name that are set one on the other. */
  part?: string;
}

/** Bars, one name below the other, with what they count at their ends and a line of what is summed up. */
export function bars(all: readonly Bar[], label: string, isShare: boolean): Draw {
  // Nobody counts half a motor.
  const whole = (value: number) => (Number.isInteger(value) ? format.number(value) : '');
  const share = (value: number) => format.percent(value, 0);
  return (plot, width) => {
    const names = [...new Set(all.map((one) => one.name))];
    const room = namesRoom(names, width);
    const most = Math.max(
      1,
      ...names.map((name) =>
        all.filter((one) => one.name === name).reduce((sum, one) => sum + one.value, 0),
      ),
    );
    return plot.plot({
      className: 'drawn',
      width,
      height: (names.length * 2.2 + 5) * em(),
      marginLeft: room,
      marginRight: (isShare ? 2 : 6) * em(),
      marginBottom: 3 * em(),
      marginTop: 0.5 * em(),
      y: { type: 'band', domain: names, label: null, padding: 0.25 },
      x: {
        label,
        grid: true,
        domain: isShare ? [0, 1] : [0, most],
        labelAnchor: 'center',
        labelArrow: 'none',
        ticks: Math.max(2, Math.min(isShare ? 5 : most, Math.floor((width - room) / (4.5 * em())))),
        tickFormat: isShare ? share : whole,
      },
      marks: [
        namesAxis(plot, room),
        plot.barX(all, {
          y: 'name',
          x: 'value',
          fill: (one: Bar) => (one.part === 'second' ? 'var(--series-2)' : 'var(--series-1)'),
          stroke: 'var(--panel)',
          href: 'href',
          title: 'title',
        }),
        plot.lineX(
          all.filter((one) => one.cumulative !== undefined),
          { y: 'name', x: 'cumulative', stroke: 'var(--series-2)', strokeWidth: 2 },
        ),
        plot.dot(
          all.filter((one) => one.cumulative !== undefined),
          {
            y: 'name',
            x: 'cumulative',
            r: 4,
            fill: 'var(--panel)',
            stroke: 'var(--series-2)',
            strokeWidth: 2,
            title: 'title',
          },
        ),
        plot.text(
          all.filter((one) => one.text !== ''),
          {
            y: 'name',
            x: (one: Bar) => endOf(all, one),
            text: 'text',
            textAnchor: 'start',
            dx: 0.4 * em(),
            fill: 'var(--ink)',
            stroke: 'var(--panel)',
            strokeWidth: 4,
          },
        ),
      ],
    });
  };
}

function endOf(all: readonly Bar[], bar: Bar): number {
  return all.filter((one) => one.name === bar.name).reduce((sum, one) => sum + one.value, 0);
}
