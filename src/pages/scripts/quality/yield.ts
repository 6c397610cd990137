import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { along, type Dot, sideBySide } from './drawings.js';
import type { Panel } from './panel.js';
import { behind, type Column, figure, interval, linked, percent, tableOf } from './table.js';

const own = words.quality;

interface Line {
  slice: string;
  firstRuns: number;
  firstPasses: number;
  firstPassYield: number | null;
  lower: number | null;
  upper: number | null;
  finallyPassed: number;
  finalYield: number | null;
  finalLower: number | null;
  finalUpper: number | null;
  reworked: number;
  completedRuns: number;
  abortedRuns: number;
  link: string;
  runsLink: string;
}
interface Answer<L> {
  items: L[];
  next?: string | null;
}

/** First-pass and final yield over time, by day, week or month. */
export function showYieldOverTime({ items, next }: Answer<Line>, panel: Panel): void {
  if (next) panel.say(element('p', {}, own.yield.onlyFirst(items.length)));
  const { by } = panel.asked;
  const nameOf = (slice: string) => (by === 'day' ? format.calendarDay(slice) : slice);
  const slices = by === 'day' ? everyDay(items) : items.map((one) => one.slice);
  panel.table(yieldTable(items, own.yield.periods[by as 'day'], nameOf));
  panel.draw(
    0,
    along({
      names: slices.map(nameOf),
      dots: items.map((one) => ({ ...firstPassDot(one), name: nameOf(one.slice) })),
      second: items.map((one) => ({ ...finalDot(one), name: nameOf(one.slice) })),
      label: `${own.yield.firstPass} ●, ${own.yield.final} □`,
    }),
  );
}

/** First-pass yield of models, cells or whatever else it is split by. */
export function showYieldSideBySide({ items }: Answer<Line>, panel: Panel): void {
  panel.table(yieldTable(items, own.columns.slice, (slice) => slice));
  panel.draw(0, sideBySide({ dots: items.map(firstPassDot), label: own.yield.firstPass }));
}

function firstPassDot(line: Line): Dot {
  const { slice, firstPassYield: value, lower, upper, firstPasses, firstRuns, link } = line;
  const title = own.yield.point(slice, percent(value), firstPasses, firstRuns);
  return { name: slice, value, lower, upper, href: behind(link), title };
}

function finalDot({ slice, finalYield, finallyPassed, firstRuns, link }: Line): Dot {
  const title = `${own.yield.final}, ${own.yield.point(slice, percent(finalYield), finallyPassed, firstRuns)}`;
  return {
    name: slice,
    value: finalYield,
    lower: finalYield,
    upper: finalYield,
    href: behind(withOutcome(link, 'finally-passed')),
    title,
  };
}

/** The motors of a line with one outcome. */
function withOutcome(link: string, outcome: string): string {
  return `${link}${link.includes('?') ? '&' : '?'}outcome=${outcome}`;
}

function yieldTable(items: readonly Line[], heading: string, nameOf: (slice: string) => string) {
  const { columns } = own;
  const of = ({ link }: Line, outcome: string) => withOutcome(link, outcome);
  return tableOf<Line>(
    own.yield.overTime,
    [
      { title: heading, cell: (one) => linked(nameOf(one.slice), one.link) },
      { title: columns.firstRuns, isNumber: true, cell: (one) => linked(one.firstRuns, one.link) },
      {
        title: columns.firstPasses,
        isNumber: true,
        cell: (one) => linked(one.firstPasses, of(one, 'first-pass')),
      },
      { title: columns.firstPassYield, isNumber: true, cell: (one) => percent(one.firstPassYield) },
      { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
      {
        title: columns.finallyPassed,
        isNumber: true,
        cell: (one) => linked(one.finallyPassed, of(one, 'finally-passed')),
      },
      { title: columns.finalYield, isNumber: true, cell: (one) => percent(one.finalYield) },
      {
        title: columns.interval,
        isNumber: true,
        cell: (one) => interval(one.finalLower, one.finalUpper),
      },
      {
        title: columns.reworked,
        isNumber: true,
        cell: (one) => linked(one.reworked, of(one, 'reworked')),
      },
      {
        title: columns.completedRuns,
        isNumber: true,
        cell: (one) => linked(one.completedRuns, withOutcome(one.runsLink, 'completed')),
      },
      {
        title: columns.abortedRuns,
        isNumber: true,
        cell: (one) => linked(one.abortedRuns, withOutcome(one.runsLink, 'aborted')),
      },
    ],
    items,
  );
}

const DAY_MS = 24 * 60 * 60 * 1000;

/** Every day from the first to the last, so that days without runs leave a gap. */
function everyDay(items: readonly Line[]): string[] {
  const [from, until] = [Date.parse(items[0]?.slice ?? ''), Date.parse(items.at(-1)?.slice ?? '')];
  const count = Math.round((until - from) / DAY_MS) + 1;
  return Array.from({ length: count }, (_, i) =>
    new Date(from + i * DAY_MS).toISOString().slice(0, 10),
  );
}

interface WayLine {
  step: string;
  attempts: number;
  passes: number;
  stepYield: number;
  lower: number | null;
  upper: number | null;
  rolledThroughputYield: number;
  link: string;
}

/** The steps on the way to the test, and the chance to pass all of them. */
export function showWay({ items }: Answer<WayLine>, panel: Panel): void {
  const { columns } = own;
  const list: Column<WayLine>[] = [
    { title: columns.step, cell: (one) => linked(one.step, one.link) },
    {
      title: columns.passes,
      isNumber: true,
      cell: (one) => own.yield.count(one.passes, one.attempts),
    },
    { title: columns.firstPassYield, isNumber: true, cell: (one) => percent(one.stepYield) },
    { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
    {
      title: columns.rolledYield,
      isNumber: true,
      cell: (one) => percent(one.rolledThroughputYield),
    },
  ];
  panel.table(tableOf(own.yield.way, list, items));
}

interface RefusedLine {
  category: string;
  refusals: number;
  share: number;
  cumulativeShare: number;
  link: string;
}

export function showRefusedSets({ items }: Answer<RefusedLine>, panel: Panel): void {
  const { columns } = own;
  const list: Column<RefusedLine>[] = [
    { title: columns.category, cell: (one) => linked(one.category, one.link) },
    { title: columns.refusals, isNumber: true, cell: (one) => figure(one.refusals) },
    { title: columns.share, isNumber: true, cell: (one) => percent(one.share) },
    { title: columns.cumulativeShare, isNumber: true, cell: (one) => percent(one.cumulativeShare) },
  ];
  panel.table(tableOf(own.yield.refusedSets, list, items));
}
