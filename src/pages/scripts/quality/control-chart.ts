import type { Plot } from '../lib/chart.js';
import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { em } from './drawings.js';
import { legend } from './legend.js';
import type { Draw, Panel } from './panel.js';
import { figure, motorsOf, tableOf } from './table.js';

const own = words.quality.charts;
const { columns } = words.quality;

interface Signal {
  figure: keyof typeof own.figures;
  rule: keyof typeof own.rules;
  direction: keyof typeof own.directions | null;
  runs: number[];
}
interface Point {
  number: number;
  at: string;
  day: string | null;
  size: number;
  value: number;
  centre: number;
  lower: number | null;
  upper: number | null;
  spread: number | null;
  spreadCentre: number | null;
  spreadLower: number | null;
  spreadUpper: number | null;
  average: number | null;
  highSum: number | null;
  lowSum: number | null;
  decisionInterval: number | null;
  signals: Signal[];
  runs: number[];
}

/** One plotted figure: its course with limits, and which of a point's signals are its own. */
interface Course {
  value: (point: Point) => number | null;
  centre: (point: Point) => number | null;
  lower: (point: Point) => number | null;
  upper: (point: Point) => number | null;
  figures: readonly Signal['figure'][];
}

const spread: Course = {
  value: (one) => one.spread,
  centre: (one) => one.spreadCentre,
  lower: (one) => one.spreadLower,
  upper: (one) => one.spreadUpper,
  figures: ['moving-range', 'range', 'standard-deviation'],
};
const values: Course = {
  value: (one) => one.value,
  centre: (one) => one.centre,
  lower: (one) => one.lower,
  upper: (one) => one.upper,
  figures: ['individual', 'mean', 'proportion', 'rate'],
};
const average: Course = { ...values, value: (one) => one.average, figures: ['average'] };
const bare: Course = {
  value: (one) => one.value,
  centre: (one) => one.centre,
  lower: () => null,
  upper: () => null,
  figures: [],
};
const highSum: Course = {
  value: (one) => one.highSum,
  centre: () => 0,
  lower: () => null,
  upper: (one) => one.decisionInterval,
  figures: ['high-sum'],
};
const lowSum: Course = {
  value: (one) => negative(one.lowSum),
  centre: () => 0,
  lower: (one) => negative(one.decisionInterval),
  upper: () => null,
  figures: ['low-sum'],
};

function negative(value: number | null): number | null {
  return value === null ? null : -value;
}

/** What each drawing of a chart plots, from top to bottom. */
function drawingsOf(kind: string): Course[][] {
  if (kind === 'ewma') return [[average], [bare]];
  if (kind === 'cusum') return [[highSum, lowSum], [bare]];
  if (kind === 'p' || kind === 'u') return [[values]];
  return [[values], [spread]];
}

/** The points of a control chart with their limits; those that met a rule stand out by shape. */
export function showControlChart({ items }: { items: Point[] }, panel: Panel): void {
  const { kind, unit } = panel.asked;
  const label = kind === 'p' || unit === null ? '' : String(unit);
  panel.say(
    legend([
      ['dot', own.legendPoint],
      ['diamond', own.legendSignal],
      ['solid', own.limit.centre],
      ['dashed', kind === 'cusum' ? own.limit.decision : `${own.limit.lower}, ${own.limit.upper}`],
    ]),
  );
  for (const [i, courses] of drawingsOf(String(kind)).entries()) {
    panel.draw(i, drawCourses(items, courses, label, kind === 'p'));
  }
  panel.table(pointTable(items, kind === 'p'));
}

function drawCourses(
  points: readonly Point[],
  courses: readonly Course[],
  label: string,
  isShare: boolean,
): Draw {
  return (plot, width) =>
    plot.plot({
      className: 'drawn',
      width,
      height: 16 * em(),
      marginLeft: 4.5 * em(),
      marginRight: 4.5 * em(),
      marginBottom: 3 * em(),
      marginTop: 2 * em(),
      x: {
        label: own.point,
        labelAnchor: 'center',
        labelArrow: 'none',
        inset: 8,
        ticks: Math.min(points.length, Math.floor(width / (5 * em()))),
        tickFormat: (value: number) => (Number.isInteger(value) ? format.number(value) : ''),
      },
      y: {
        label,
        grid: false,
        nice: true,
        ...(isShare ? { tickFormat: (value: number) => format.percent(value, 0) } : {}),
      },
      marks: courses.flatMap((course) => marksOf(plot, points, course, isShare)),
    });
}

function marksOf(plot: Plot, points: readonly Point[], course: Course, isShare: boolean) {
  const shown = points.map((point) => {
    const met = point.signals.filter((one) => course.figures.includes(one.figure));
    return {
      number: point.number,
      value: course.value(point),
      centre: course.centre(point),
      lower: course.lower(point),
      upper: course.upper(point),
      isSignal: met.length > 0,
      href: motorsOf(point.runs),
      title: titleOf(point, course.value(point), met, isShare),
    };
  });
  const x = 'number';
  const limit = {
    x,
    stroke: 'var(--series-2)',
    strokeDasharray: '7 4',
    strokeWidth: 1.5,
    curve: 'step',
  } as const;
  const last = shown.at(-1);
  const ends = [last?.upper, last?.centre, last?.lower].flatMap((at) =>
    at === null || at === undefined || !last ? [] : [{ number: last.number, at }],
  );
  return [
    plot.line(shown, { ...limit, y: 'upper' }),
    plot.line(shown, { ...limit, y: 'lower' }),
    plot.line(shown, { x, y: 'centre', stroke: 'var(--soft)', strokeWidth: 1.2 }),
    plot.line(shown, { x, y: 'value', stroke: 'var(--series-1)', strokeWidth: 1.5 }),
    plot.dot(
      shown.filter((one) => !one.isSignal),
      {
        x,
        y: 'value',
        r: 4,
        fill: 'var(--panel)',
        stroke: 'var(--series-1)',
        strokeWidth: 1.8,
        href: 'href',
        title: 'title',
      },
    ),
    plot.dot(
      shown.filter((one) => one.isSignal),
      {
        x,
        y: 'value',
        r: 8,
        symbol: 'diamond',
        fill: 'var(--series-2)',
        stroke: 'var(--panel)',
        href: 'href',
        title: 'title',
      },
    ),
    plot.text(ends, {
      x: 'number',
      y: 'at',
      text: (one: { at: number }) => shortFigure(one.at, isShare),
      textAnchor: 'start',
      dx: 12,
      fill: 'var(--ink)',
    }),
  ];
}

function shortFigure(value: number, isShare: boolean): string {
  return isShare ? format.percent(value, 1) : format.number(Number(value.toPrecision(4)));
}

function titleOf(
  { number, at }: Point,
  value: number | null,
  met: readonly Signal[],
  isShare: boolean,
): string {
  const shown = value === null ? '–' : shortFigure(value, isShare);
  return own.pointTitle(number, format.dateTime(Date.parse(at)), shown, met.map(seenOf).join('; '));
}

function seenOf({ figure: of, rule, direction }: Signal): string {
  return own.signalled(
    own.figures[of],
    own.rules[rule],
    direction === null ? null : own.directions[direction],
  );
}

function pointTable(points: readonly Point[], isShare: boolean): HTMLElement {
  const shown = (value: number | null) =>
    value === null ? '–' : isShare ? format.percent(value, 1) : figure(value);
  const optional = (name: 'spread' | 'average' | 'highSum' | 'lowSum') =>
    points.some((one) => one[name] !== null)
      ? [{ title: columns[name], isNumber: true, cell: (one: Point) => figure(one[name]) }]
      : [];
  return tableOf<Point>(
    own.points,
    [
      { title: columns.number, cell: (one) => one.number.toString() },
      {
        title: columns.at,
        cell: (one) =>
          one.day === null ? format.dateTime(Date.parse(one.at)) : format.calendarDay(one.day),
      },
      { title: columns.value, isNumber: true, cell: (one) => shown(one.value) },
      { title: columns.centre, isNumber: true, cell: (one) => shown(one.centre) },
      { title: own.lower, isNumber: true, cell: (one) => shown(one.lower) },
      { title: own.upper, isNumber: true, cell: (one) => shown(one.upper) },
      ...optional('spread'),
      ...optional('average'),
      ...optional('highSum'),
      ...optional('lowSum'),
      {
        title: columns.signals,
        cell: (one) =>
          one.signals.length === 0
            ? '–'
            : element('strong', {}, one.signals.map(seenOf).join('; ')),
      },
      {
        title: own.motors,
        cell: (one) => element('a', { href: motorsOf(one.runs) }, own.runsOf(one.runs.length)),
      },
    ],
    [...points].reverse(),
  );
}
