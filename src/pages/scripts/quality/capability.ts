import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { em, type Mark, uprightMarks } from './drawings.js';
import { type Against, indexTables } from './indices.js';
import { legend } from './legend.js';
import type { Draw, Panel } from './panel.js';
import { behind, figure, linked, tableOf } from './table.js';

const own = words.quality.capability;
const { columns } = words.quality;

/** A figure with five digits that tell something. */
export function short(value: number | null): string {
  return figure(value === null ? null : Number(value.toPrecision(5)));
}

interface Class {
  from: number;
  until: number;
  count: number;
  link: string;
}
interface Extreme {
  motor: string;
  run: number;
  cell: string;
  endedAt: string;
  value: number;
}
interface Revision {
  specification: number;
  revision: number;
  effectiveFrom: string | null;
  unit: string;
  lower: number | null;
  upper: number | null;
  guardBand: number;
  count: number;
  link: string;
}
export interface Capability {
  characteristic: { name: string; unit: string; decimals: number; revision: number };
  count: number;
  link: string;
  reason: string | null;
  moments: {
    mean: number | null;
    standardDeviation: number | null;
    lowest: number | null;
    highest: number | null;
  };
  spread: Record<'within' | 'overall', { standardDeviation: number | null; estimator: string }>;
  normality: {
    modified: number | null;
    pValue: number | null;
    normal: boolean | null;
    reason: string | null;
  };
  method: { read: keyof typeof own.read; why: string };
  specification: Against;
  acceptance: Against & { guardBand: number };
  histogram: { classes: Class[]; reason: string | null };
  lowest: Extreme[];
  highest: Extreme[];
  revisions: Revision[];
  limitsChanged: boolean;
  limitsNote: string;
}

/** All figures of one characteristic: first in words which indices to go by, then everything. */
export function showCapability(answer: Capability, panel: Panel): void {
  panel.say(...inWords(answer));
  if (answer.histogram.classes.length === 0) panel.omit(0);
  else {
    panel.say(
      legend([
        ['specification', own.limits.specification],
        ['acceptance', own.limits.acceptance],
        ['mean', own.limits.mean],
      ]),
    );
    panel.draw(0, histogram(answer));
  }
  panel.table(classTable(answer));
  panel.source(element('a', { href: behind(answer.link) ?? '' }, own.all));
  // Below the drawing, open: indices are what the page is asked for.
  document
    .getElementById(`${panel.asked.id}-chart-0`)
    ?.after(...indexTables(answer), ...extremes(answer), ...revisions(answer));
}

function inWords({
  count,
  characteristic,
  reason,
  method,
  normality,
  moments,
  spread,
  limitsNote,
  limitsChanged,
}: Capability): HTMLElement[] {
  const { unit, revision } = characteristic;
  const { normal, modified, pValue } = normality;
  const tested =
    normal === null
      ? [normality.reason]
      : [own.isNormal[`${normal}`], own.normality(figure(modified, 2), shortP(pValue))];
  const lines = [
    own.head(count, unit, revision),
    reason,
    moments.mean === null
      ? null
      : own.moments(
          short(moments.mean),
          short(moments.standardDeviation),
          figure(moments.lowest),
          figure(moments.highest),
        ),
    own.spreads(
      `${short(spread.within.standardDeviation)} (${phrase(spread.within.estimator)})`,
      `${short(spread.overall.standardDeviation)} (${phrase(spread.overall.estimator)})`,
    ),
    tested.filter((one) => one !== null).join(' '),
    limitsChanged ? limitsNote : null,
  ].filter((one) => one !== null && one !== '');
  const read = element('p', {}, element('strong', {}, own.read[method.read]), ` ${method.why}`);
  return [read, ...lines.map((one) => element('p', {}, one))];
}

/** A probability for people: very small ones as less than what is shown. */
export function shortP(value: number | null): string {
  if (value === null) return '–';
  return value < 0.0001 ? `< ${format.number(0.0001)}` : format.number(value, 4);
}

function histogram({
  histogram: { classes },
  specification,
  acceptance,
  moments,
  characteristic,
}: Capability): Draw {
  const shown = classes.map((one) => ({
    ...one,
    href: behind(one.link),
    title: own.histogramBar(figure(one.from), figure(one.until), one.count),
  }));
  const marks = [
    ...limitsOf(specification, 'specification'),
    ...limitsOf(acceptance, 'acceptance'),
    ...(moments.mean === null
      ? []
      : [
          {
            at: moments.mean,
            kind: 'mean' as const,
            text: `${own.limits.mean} ${short(moments.mean)}`,
          },
        ]),
  ];
  return (plot, width) =>
    plot.plot({
      className: 'drawn',
      width,
      height: 20 * em(),
      marginLeft: 4 * em(),
      marginRight: 2 * em(),
      marginBottom: 3 * em(),
      marginTop: 2.2 * em(),
      x: {
        label: characteristic.unit,
        labelAnchor: 'center',
        labelArrow: 'none',
        nice: true,
        ticks: Math.floor(width / (5 * em())),
      },
      y: {
        label: own.values,
        grid: true,
        ticks: Math.min(6, Math.max(...classes.map((one) => one.count))),
      },
      marks: [
        plot.rectY(shown, {
          x1: 'from',
          x2: 'until',
          y: 'count',
          fill: 'var(--series-1)',
          fillOpacity: 0.75,
          inset: 0.5,
          href: 'href',
          title: 'title',
        }),
        plot.ruleY([0], { stroke: 'var(--ink)' }),
        ...uprightMarks(plot, marks),
        plot.text(
          marks.filter((one) => one.kind !== 'mean'),
          {
            x: 'at',
            frameAnchor: 'top',
            dy: -1.1 * em(),
            text: (one: Mark) => (one.kind === 'specification' ? figure(one.at) : ''),
            fill: 'var(--ink)',
            fontWeight: 'bold',
          },
        ),
      ],
    });
}

function limitsOf({ lower, upper }: Against, kind: 'specification' | 'acceptance'): Mark[] {
  return [lower, upper]
    .filter((at) => at !== null)
    .map((at) => ({ at, kind, text: `${own.limits[kind]} ${figure(at)}` }));
}

function classTable({ histogram: { classes } }: Capability): HTMLElement {
  return tableOf<Class>(
    own.classes,
    [
      {
        title: own.range,
        cell: (one) => words.quality.interval(figure(one.from), figure(one.until)),
      },
      {
        title: own.count,
        isNumber: true,
        cell: (one) => linked(one.count, one.count > 0 ? one.link : null),
      },
    ],
    classes,
  );
}

function extremes({ lowest, highest, characteristic: { unit } }: Capability): HTMLElement[] {
  const all = [
    ...lowest,
    ...highest.filter((one) => !lowest.some((low) => low.run === one.run)).reverse(),
  ];
  if (all.length === 0) return [];
  const serial = (one: Extreme) =>
    element(
      'a',
      {
        href: `/history?${new URLSearchParams({ serial: one.motor, class: 'motor' })}`,
        class: 'serial',
      },
      one.motor,
    );
  return [
    element('h3', {}, own.extremes),
    tableOf<Extreme>(
      own.extremes,
      [
        { title: columns.motor, cell: serial },
        { title: `${columns.value}, ${unit}`, isNumber: true, cell: (one) => figure(one.value) },
        { title: columns.cell, cell: (one) => one.cell },
        { title: columns.endedAt, cell: (one) => format.dateTime(Date.parse(one.endedAt)) },
      ],
      all,
    ),
  ];
}

function revisions({ revisions: all }: Capability): HTMLElement[] {
  return [
    element('h3', {}, own.revisions),
    tableOf<Revision>(
      own.revisions,
      [
        { title: columns.revision, cell: (one) => figure(one.revision) },
        {
          title: columns.effectiveFrom,
          cell: (one) =>
            one.effectiveFrom === null ? '–' : format.dateTime(Date.parse(one.effectiveFrom)),
        },
        { title: columns.lower, isNumber: true, cell: (one) => figure(one.lower) },
        { title: columns.upper, isNumber: true, cell: (one) => figure(one.upper) },
        { title: columns.guardBand, isNumber: true, cell: (one) => figure(one.guardBand) },
        { title: columns.unit, cell: (one) => one.unit },
        {
          title: own.count,
          isNumber: true,
          cell: (one) => linked(one.count, one.count > 0 ? one.link : null),
        },
      ],
      all,
    ),
  ];
}

/** A sentence inside another. */
function phrase(sentence: string): string {
  return sentence.replace(/\.$/, '').replace(/^./, (first) => first.toLowerCase());
}
