import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { type Bar, bars, type Dot, sideBySide } from './drawings.js';
import type { Panel } from './panel.js';
import { behind, type Column, figure, interval, linked, percent, tableOf } from './table.js';

const own = words.quality.rework;
const { columns } = words.quality;
/** Dots of one chart; the table has the rest. */
const DOTS = 25;

interface Items<L> {
  items: L[];
}
interface LoopsLine {
  loops: number;
  motors: number;
  share: number;
  cumulativeShare: number;
  meanLoops: number;
  link: string;
}

export function showLoops({ items }: Items<LoopsLine>, panel: Panel): void {
  const [first] = items;
  if (!first) return;
  panel.say(element('p', {}, own.loopsMean(format.number(first.meanLoops, 2))));
  const barOf = ({ loops, motors, share, link }: LoopsLine): Bar => ({
    name: format.number(loops),
    value: motors,
    text: `${format.number(motors)}, ${percent(share)}`,
    href: behind(link),
    title: own.loopsBar(loops, motors, percent(share)),
  });
  panel.draw(0, bars(items.map(barOf), columns.motors, false));
  const list: Column<LoopsLine>[] = [
    { title: columns.loops, cell: (one) => linked(one.loops, one.link) },
    { title: columns.motors, isNumber: true, cell: (one) => linked(one.motors, one.link) },
    { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
    { title: columns.cumulativeShare, isNumber: true, cell: (one) => percent(one.cumulativeShare) },
  ];
  panel.table(tableOf(own.loops, list, items));
}

interface AgesLine {
  ageClass: string;
  fromHours: number;
  untilHours: number | null;
  motors: number;
  inRepair: number;
  forRetest: number;
  share: number | null;
  link: string;
}

export function showWaitingAges({ items }: Items<AgesLine>, panel: Panel): void {
  panel.draw(0, bars(items.flatMap(waitingBars), columns.motors, false));
  const list: Column<AgesLine>[] = [
    {
      title: columns.ageClass,
      cell: (one) => linked(ageOf(one), one.motors > 0 ? one.link : null),
    },
    { title: columns.motors, isNumber: true, cell: (one) => figure(one.motors) },
    { title: columns.inRepair, isNumber: true, cell: (one) => figure(one.inRepair) },
    { title: columns.forRetest, isNumber: true, cell: (one) => figure(one.forRetest) },
    { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
  ];
  panel.table(tableOf(own.waiting, list, items));
}

function ageOf({ fromHours, untilHours }: AgesLine): string {
  if (untilHours === null) return own.ageFrom(format.number(fromHours));
  if (fromHours === 0) return own.ageUnder(format.number(untilHours));
  return own.ageBetween(format.number(fromHours), format.number(untilHours));
}

/** Two parts of one bar; what they are stands at its end, so that colour says nothing alone. */
function waitingBars(line: AgesLine): Bar[] {
  const name = ageOf(line);
  const href = behind(line.link);
  const text = line.motors === 0 ? '0' : format.number(line.motors);
  return [
    {
      name,
      value: line.inRepair,
      text,
      href,
      title: own.waitingBar(name, line.inRepair, own.inRepair),
    },
    {
      name,
      value: line.forRetest,
      text: '',
      href,
      part: 'second',
      title: own.waitingBar(name, line.forRetest, own.forRetest),
    },
  ];
}

interface TimesLine {
  slice: string;
  loops: number;
  medianHours: number | null;
  p90Hours: number | null;
  maxHours: number | null;
  unfinished: number;
  ended: number;
  link: string;
}

export function showTimes({ items }: Items<TimesLine>, panel: Panel): void {
  const finished = items.filter((one) => one.medianHours !== null).slice(0, DOTS);
  const dotOf = ({ slice, medianHours, p90Hours, link }: TimesLine): Dot => ({
    name: slice,
    value: medianHours,
    lower: medianHours,
    upper: p90Hours,
    href: behind(link),
    title: own.timesPoint(slice, figure(medianHours, 1), figure(p90Hours, 1)),
  });
  if (finished.length === 0) panel.omit(0);
  else
    panel.draw(
      0,
      sideBySide({ dots: finished.map(dotOf), label: own.hours, isShare: false, fromZero: true }),
    );
  const list: Column<TimesLine>[] = [
    { title: columns.slice, cell: (one) => linked(one.slice, one.link) },
    { title: columns.loops, isNumber: true, cell: (one) => linked(one.loops, one.link) },
    { title: columns.medianHours, isNumber: true, cell: (one) => figure(one.medianHours, 1) },
    { title: columns.p90Hours, isNumber: true, cell: (one) => figure(one.p90Hours, 1) },
    { title: columns.maxHours, isNumber: true, cell: (one) => figure(one.maxHours, 1) },
    { title: columns.unfinished, isNumber: true, cell: (one) => figure(one.unfinished) },
    { title: columns.ended, isNumber: true, cell: (one) => figure(one.ended) },
  ];
  panel.table(tableOf(own.times, list, items));
}

interface ShareLine {
  share: number | null;
  lower: number | null;
  upper: number | null;
  nextRuns: number;
  unfinished: number;
  link: string;
}
interface CureLine extends ShareLine {
  category: string;
  action: string;
  loops: number;
  passed: number;
  failedAgain: number;
}

export function showCures({ items }: Items<CureLine>, panel: Panel): void {
  const told = items.filter((one) => one.share !== null);
  const drawn = told.slice(0, DOTS);
  if (drawn.length < told.length)
    panel.say(element('p', {}, words.quality.drawnFirst(drawn.length, told.length)));
  const dotOf = (one: CureLine): Dot => ({
    name: `${one.category}: ${one.action}`,
    value: one.share,
    lower: one.lower,
    upper: one.upper,
    href: behind(one.link),
    title: own.curesPoint(one.category, one.action, percent(one.share), one.passed, one.nextRuns),
  });
  if (drawn.length === 0) panel.omit(0);
  else panel.draw(0, sideBySide({ dots: drawn.map(dotOf), label: columns.passed }));
  panel.table(
    tableOf<CureLine>(
      own.cures,
      [
        { title: columns.category, cell: (one) => linked(one.category, one.link) },
        { title: columns.action, cell: (one) => one.action },
        { title: columns.loops, isNumber: true, cell: (one) => linked(one.loops, one.link) },
        { title: columns.nextRuns, isNumber: true, cell: (one) => figure(one.nextRuns) },
        { title: columns.passed, isNumber: true, cell: (one) => figure(one.passed) },
        { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
        { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
        { title: columns.failedAgain, isNumber: true, cell: (one) => figure(one.failedAgain) },
        { title: columns.unfinished, isNumber: true, cell: (one) => figure(one.unfinished) },
      ],
      items,
    ),
  );
}

interface RefailLine extends ShareLine {
  characteristic: string;
  failedRuns: number;
  failedAgain: number;
}

export function showRefails({ items }: Items<RefailLine>, panel: Panel): void {
  panel.table(
    tableOf<RefailLine>(
      own.refails,
      [
        { title: columns.characteristic, cell: (one) => one.characteristic },
        { title: columns.failedRuns, isNumber: true, cell: (one) => figure(one.failedRuns) },
        { title: columns.nextRuns, isNumber: true, cell: (one) => figure(one.nextRuns) },
        {
          title: columns.failedAgain,
          isNumber: true,
          cell: (one) => linked(one.failedAgain, one.link),
        },
        { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
        { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
      ],
      items,
    ),
  );
}

interface NoFaultLine extends ShareLine {
  cell: string;
  failedRuns: number;
  closed: number;
  noFaultFound: number;
}

export function showNoFault({ items }: Items<NoFaultLine>, panel: Panel): void {
  panel.table(
    tableOf<NoFaultLine>(
      own.noFault,
      [
        { title: columns.cell, cell: (one) => one.cell },
        { title: columns.failedRuns, isNumber: true, cell: (one) => figure(one.failedRuns) },
        { title: columns.closed, isNumber: true, cell: (one) => figure(one.closed) },
        {
          title: columns.noFaultFound,
          isNumber: true,
          cell: (one) => linked(one.noFaultFound, one.link),
        },
        { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
        { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
      ],
      items,
    ),
  );
}
