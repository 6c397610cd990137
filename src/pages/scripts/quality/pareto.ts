import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { bars } from './drawings.js';
import type { Panel } from './panel.js';
import { behind, linked, percent, tableOf } from './table.js';

const own = words.quality;
/** Bars of one chart; the table has the rest. */
const BARS = 12;

interface Line {
  category: string;
  count: number;
  share: number;
  cumulativeShare: number;
  link: string;
}

/** Shares of categories, the largest first, with the share of each and all above. */
export function showPareto({ items }: { items: Line[] }, panel: Panel): void {
  const drawn = items.slice(0, BARS);
  if (drawn.length < items.length)
    panel.say(element('p', {}, own.drawnFirst(drawn.length, items.length)));
  panel.draw(0, bars(drawn.map(barOf), own.pareto.share, true));
  panel.table(
    tableOf<Line>(
      own.pareto.of[panel.asked.of as 'cause'],
      [
        { title: own.columns.category, cell: (one) => linked(one.category, one.link) },
        { title: own.columns.count, isNumber: true, cell: (one) => linked(one.count, one.link) },
        { title: own.columns.share, isNumber: true, cell: (one) => percent(one.share) },
        {
          title: own.columns.cumulativeShare,
          isNumber: true,
          cell: (one) => percent(one.cumulativeShare),
        },
      ],
      items,
    ),
  );
}

function barOf({ category, count, share, cumulativeShare, link }: Line) {
  const title = own.pareto.bar(category, count, percent(share), percent(cumulativeShare));
  return {
    name: `${format.number(count)} · ${category}`,
    value: share,
    cumulative: cumulativeShare,
    text: '',
    href: behind(link),
    title,
  };
}
