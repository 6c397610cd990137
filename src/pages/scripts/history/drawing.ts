import { drawChart, type Plot } from '../lib/chart.js';
import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import type { Capability, ClassOfValues, Reading } from './reading.js';

const own = words.history;
const HEIGHT = 170;

/** Draws a reading among its like, says in words what is drawn, and fills the table beside it. */
export function drawLike(place: HTMLElement, reading: Reading, like: Capability): void {
  const sameUnit = like.characteristic.unit === reading.unit;
  const said = place.querySelector('.said');
  if (said) said.textContent = sentences(reading, like, sameUnit).join(' ');
  // A fresh place: an earlier drawing goes on watching its own for a change of width.
  place.querySelector('.drawing')?.replaceWith(element('div', { class: 'drawing' }));
  const details = place.querySelector('details');
  if (details) details.hidden = like.count === 0;
  if (like.count === 0) return;
  place.querySelector('.table')?.replaceChildren(tableOf(reading, like, sameUnit));
  drawChart(reading.id, (plot, width) => drawing(plot, width, reading, like, sameUnit));
}

function sentences(reading: Reading, like: Capability, sameUnit: boolean): string[] {
  const { count, moments } = like;
  const { decimals } = like.characteristic;
  if (count === 0) return [own.noLike];
  const mean = format.number(moments.mean ?? 0, decimals);
  const deviation = moments.standardDeviation;
  const counted = format.number(count);
  return [
    sameUnit ? `${own.thisRun(format.number(reading.value, reading.decimals))}.` : '',
    deviation === null
      ? `${own.oneLike(counted, mean)}.`
      : `${own.likeText(counted, mean, format.number(deviation, decimals + 1))}.`,
    sameUnit ? standing(reading, like) : own.unitChanged(like.characteristic.unit),
  ];
}

/** How many runs lie in the classes below, in and above the one that the reading lies in. */
function standing({ value }: Reading, { histogram: { classes } }: Capability): string {
  const count = (isOne: (one: ClassOfValues, isLast: boolean) => boolean) =>
    classes.reduce(
      (sum, one, i) => sum + (isOne(one, i === classes.length - 1) ? one.count : 0),
      0,
    );
  const same = count((one, isLast) => isIn(value, one, isLast));
  const higher = count((one, isLast) => one.from > value && !isIn(value, one, isLast));
  const all = count(() => true);
  return own.standing(
    format.number(all - same - higher),
    format.number(same),
    format.number(higher),
  );
}

/** The page that lists the motors of a class, by the interface's address of its readings. */
function pageOf({ link }: ClassOfValues): string {
  return link.replace(/^\/v1\//, '/history/');
}

function isIn(value: number, { from, until }: ClassOfValues, isLast: boolean): boolean {
  return value >= from && (isLast ? value <= until : value < until);
}

function tableOf(reading: Reading, like: Capability, sameUnit: boolean): HTMLElement {
  const { classes } = like.histogram;
  const heads = [own.classFrom, own.classUntil, own.classRuns, own.classHere];
  const rows = classes.map((one, i) => {
    const here = sameUnit && isIn(reading.value, one, i === classes.length - 1);
    const count = element('a', { href: pageOf(one) }, format.number(one.count));
    return element(
      'tr',
      {},
      element('th', { scope: 'row', class: 'number' }, format.number(one.from)),
      element('td', { class: 'number' }, format.number(one.until)),
      element('td', { class: 'number' }, one.count === 0 ? '0' : count),
      element('td', {}, here ? own.here : ''),
    );
  });
  const head = heads.map((text, i) =>
    element('th', { scope: 'col', class: i < 3 ? 'number' : '' }, text),
  );
  return element(
    'div',
    { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': own.classTable(reading.name) },
    element(
      'table',
      {},
      element('caption', {}, own.classTable(reading.name)),
      element('thead', {}, element('tr', {}, ...head)),
      element('tbody', {}, ...rows),
    ),
  );
}

function drawing(
  plot: Plot,
  width: number,
  reading: Reading,
  like: Capability,
  sameUnit: boolean,
): SVGElement | HTMLElement {
  const drawn = plot.plot({
    className: 'like',
    width,
    height: HEIGHT,
    marginLeft: 44,
    marginBottom: 34,
    marginTop: 18,
    marginRight: 16,
    x: {
      label: reading.symbol,
      ticks: Math.max(3, Math.floor(width / 90)),
      insetLeft: 8,
      insetRight: 8,
    },
    y: { label: own.axisRuns, ticks: 3, grid: true },
    marks: [
      plot.rectY(like.histogram.classes, {
        x1: 'from',
        x2: 'until',
        y: 'count',
        fill: 'var(--series-1)',
        insetLeft: 0.5,
        insetRight: 0.5,
        href: pageOf,
        title: ({ from, until, count }: ClassOfValues) =>
          `${own.between(format.number(from), format.number(until))}: ${format.number(count)}`,
      }),
      plot.ruleY([0], { stroke: 'var(--ink)' }),
      ...(sameUnit ? ownMarks(plot, reading) : []),
    ],
  });
  // The table has the same links; hundreds of bars would stand in the way of the Tab key.
  drawn.setAttribute('aria-hidden', 'true');
  for (const link of drawn.querySelectorAll('a')) link.setAttribute('tabindex', '-1');
  return drawn;
}

/** Limits by which the run was judged, and the run itself: each by its own stroke, not by colour. */
function ownMarks(plot: Plot, reading: Reading) {
  const { lower, upper, acceptLower, acceptUpper, value, decimals } = reading;
  const stated = [lower, upper].filter((one) => one !== null);
  const accepted = [
    acceptLower === lower ? null : acceptLower,
    acceptUpper === upper ? null : acceptUpper,
  ].filter((one) => one !== null);
  const titled = (which: string) => (limit: number) => own.drawnLimit(which, format.number(limit));
  return [
    plot.ruleX(stated, {
      stroke: 'var(--ink)',
      strokeWidth: 2.5,
      title: titled(own.specificationLimit),
    }),
    plot.ruleX(accepted, {
      stroke: 'var(--ink)',
      strokeWidth: 1.5,
      strokeDasharray: '5 3',
      title: titled(own.acceptanceLimit),
    }),
    plot.ruleX([value], {
      stroke: 'var(--series-2)',
      strokeWidth: 3,
      title: () => own.thisRun(format.number(value, decimals)),
    }),
    plot.dot([value], {
      x: (one: number) => one,
      frameAnchor: 'top',
      r: 6,
      fill: 'var(--series-2)',
      stroke: 'var(--panel)',
    }),
  ];
}
