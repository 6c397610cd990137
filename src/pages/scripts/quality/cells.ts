import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { shortP } from './capability.js';
import { csvLink } from './csv.js';
import { em, type Mark, sideBySide, thinned } from './drawings.js';
import { legend } from './legend.js';
import type { Draw, Panel } from './panel.js';
import { behind, figure, interval, linked, tableOf } from './table.js';

const own = words.quality.cells;
const { columns, capability } = words.quality;

interface OfMean {
  mean: number | null;
  standardDeviation: number | null;
  lower: number | null;
  upper: number | null;
  count: number;
  link: string;
}
interface Cell extends OfMean {
  cell: string;
  ppk: number | null;
  ppkLower: number | null;
  ppkUpper: number | null;
}
interface Week extends OfMean {
  cell: string;
  week: string;
}
interface Pair {
  first: string;
  second: string;
  difference: number | null;
  lower: number | null;
  upper: number | null;
  pValue: number | null;
  differs: boolean | null;
  reason: string | null;
}
interface Comparison {
  characteristic: { name: string; unit: string; decimals: number; revision: number };
  count: number;
  link: string;
  lower: number | null;
  upper: number | null;
  cells: Cell[];
  anova: {
    between: { degreesOfFreedom: number } | null;
    within: { degreesOfFreedom: number } | null;
    f: number | null;
    pValue: number | null;
    rSquared: number | null;
    reason: string | null;
  };
  welch: {
    f: number | null;
    degreesOfFreedomBetween: number | null;
    degreesOfFreedomWithin: number | null;
    pValue: number | null;
    reason: string | null;
  };
  multiplicity: string;
  pairs: Pair[];
  weeks: Week[];
}

/** Below it, chance alone is taken to explain a difference rarely enough: common practice, no source. */
const SIGNIFICANT = 0.05;

/** Cells compared: in words whether they differ, each mean with its interval, and week by week. */
export function showCells(answer: Comparison, panel: Panel): void {
  const { cells, weeks, pairs, characteristic } = answer;
  if (cells.length === 0) {
    panel.empty();
    return;
  }
  const { unit, decimals } = characteristic;
  const shown = (value: number) => format.number(value, decimals + 2);
  panel.say(...inWords(answer));
  const dots = cells.map((one) => ({
    name: one.cell,
    value: one.mean,
    lower: one.lower,
    upper: one.upper,
    href: behind(one.link),
    title: own.point(one.cell, figure(one.mean, decimals + 2), one.count),
  }));
  const marks = nearLimits(answer);
  if (marks.length > 0) panel.say(legend([['specification', capability.limits.specification]]));
  panel.draw(0, sideBySide({ dots, label: unit, isShare: false, marks }));
  panel.draw(1, weekByWeek(weeks, unit, decimals));
  panel.table(
    element('h3', {}, own.weeks),
    tableOf<Week>(
      own.weeks,
      [
        { title: columns.cell, cell: (one) => one.cell },
        { title: columns.week, cell: (one) => linked(one.week, one.link) },
        { title: capability.count, isNumber: true, cell: (one) => linked(one.count, one.link) },
        { title: columns.mean, isNumber: true, cell: (one) => figure(one.mean, decimals + 2) },
        {
          title: columns.interval,
          isNumber: true,
          cell: (one) => interval(one.lower, one.upper, shown),
        },
      ],
      weeks,
    ),
  );
  panel.say(
    element('h3', {}, own.cells),
    tableOf<Cell>(
      own.cells,
      [
        { title: columns.cell, cell: (one) => linked(one.cell, one.link) },
        { title: capability.count, isNumber: true, cell: (one) => linked(one.count, one.link) },
        {
          title: `${columns.mean}, ${unit}`,
          isNumber: true,
          cell: (one) => figure(one.mean, decimals + 2),
        },
        {
          title: columns.interval,
          isNumber: true,
          cell: (one) => interval(one.lower, one.upper, shown),
        },
        {
          title: columns.standardDeviation,
          isNumber: true,
          cell: (one) => figure(one.standardDeviation, decimals + 2),
        },
        { title: columns.ppk, isNumber: true, cell: (one) => figure(one.ppk, 2) },
        {
          title: columns.interval,
          isNumber: true,
          cell: (one) => interval(one.ppkLower, one.ppkUpper, (value) => figure(value, 2)),
        },
      ],
      cells,
    ),
    ...pairTable(pairs, answer.multiplicity, shown),
  );
  panel.source(
    csvLink(words.quality.csvOf(own.pairs), String(panel.asked.pairs)),
    csvLink(words.quality.csvOf(own.weeks), String(panel.asked.weeks)),
    element('a', { href: behind(answer.link) ?? '' }, capability.all),
  );
}

/** What the analysis of variance says, for somebody who would rather not read F. */
function inWords({ characteristic, count, anova, welch }: Comparison): HTMLElement[] {
  const head = capability.head(count, characteristic.unit, characteristic.revision);
  const verdict =
    welch.pValue === null
      ? welch.reason
      : welch.pValue < SIGNIFICANT
        ? own.differ(shortP(welch.pValue))
        : own.alike(shortP(welch.pValue));
  const degrees = (value: number | null | undefined) =>
    figure(value === null || value === undefined ? null : Number(value.toFixed(1)));
  const details = [
    welch.f === null
      ? null
      : own.welch(
          figure(welch.f, 2),
          degrees(welch.degreesOfFreedomBetween),
          degrees(welch.degreesOfFreedomWithin),
        ),
    anova.f === null
      ? anova.reason
      : own.anova(
          figure(anova.f, 2),
          degrees(anova.between?.degreesOfFreedom),
          degrees(anova.within?.degreesOfFreedom),
          shortP(anova.pValue),
        ),
    anova.rSquared === null ? null : own.share(format.percent(anova.rSquared)),
  ].filter((one) => one !== null);
  return [
    element('p', {}, element('strong', {}, verdict ?? '')),
    element('p', { class: 'soft' }, [head, ...details].join(' ')),
  ];
}

/** Limits that lie within the reach of the means: others would press them together. */
function nearLimits({ cells, lower, upper }: Comparison): Mark[] {
  const ends = cells
    .flatMap((one) => [one.lower, one.upper, one.mean])
    .filter((one) => one !== null);
  const [least, most] = [Math.min(...ends), Math.max(...ends)];
  const reach = (most - least) / 2;
  return [lower, upper]
    .filter((at) => at !== null)
    .filter((at) => at > least - reach && at < most + reach)
    .map((at) => ({
      at,
      kind: 'specification' as const,
      text: `${capability.limits.specification} ${figure(at)}`,
    }));
}

function pairTable(
  pairs: readonly Pair[],
  multiplicity: string,
  shown: (value: number) => string,
): HTMLElement[] {
  if (pairs.length === 0) return [];
  return [
    element('h3', {}, own.pairs),
    element('p', { class: 'soft' }, multiplicity),
    tableOf<Pair>(
      own.pairs,
      [
        { title: columns.first, cell: (one) => one.first },
        { title: columns.second, cell: (one) => one.second },
        {
          title: columns.difference,
          isNumber: true,
          cell: (one) => (one.difference === null ? '–' : shown(one.difference)),
        },
        {
          title: columns.interval,
          isNumber: true,
          cell: (one) => interval(one.lower, one.upper, shown),
        },
        { title: columns.pValue, isNumber: true, cell: (one) => shortP(one.pValue) },
        {
          title: columns.differs,
          cell: (one) =>
            one.differs === null ? (one.reason ?? '–') : own.differs[`${one.differs}`],
        },
      ],
      pairs,
    ),
  ];
}

/** Small drawings on one scale, a cell each, so that a drift of one shows beside the others. */
function weekByWeek(weeks: readonly Week[], unit: string, decimals: number): Draw {
  const shown = weeks.map((one) => ({
    ...one,
    href: behind(one.link),
    title: own.weekPoint(one.cell, one.week, figure(one.mean, decimals + 2), one.count),
  }));
  const names = [...new Set(weeks.map((one) => one.week))].sort();
  const cells = [...new Set(weeks.map((one) => one.cell))];
  return (plot, width) => {
    const room = 4.5 * em();
    return plot.plot({
      className: 'drawn',
      width,
      height: (cells.length * 6 + 4.5) * em(),
      marginLeft: room,
      marginRight: 1.5 * em(),
      marginBottom: 2.5 * em(),
      marginTop: 2 * em(),
      x: { type: 'point', domain: names, label: null },
      y: { label: unit, grid: true, nice: true, ticks: 3 },
      fy: { domain: cells, axis: null, padding: 0.25 },
      marks: [
        plot.axisX({ ticks: thinned(names, width - room), tickSize: 4, anchor: 'bottom' }),
        plot.text(cells, {
          fy: (one: string) => one,
          text: (one: string) => one,
          frameAnchor: 'top-left',
          dx: 4,
          dy: -4,
          fontWeight: 'bold',
          fill: 'var(--ink)',
        }),
        plot.ruleX(shown, {
          fy: 'cell',
          x: 'week',
          y1: 'lower',
          y2: 'upper',
          stroke: 'var(--series-1)',
          strokeOpacity: 0.55,
          strokeWidth: 2,
        }),
        plot.lineY(shown, {
          fy: 'cell',
          x: 'week',
          y: 'mean',
          stroke: 'var(--series-1)',
          strokeWidth: 2,
        }),
        plot.dot(shown, {
          fy: 'cell',
          x: 'week',
          y: 'mean',
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
