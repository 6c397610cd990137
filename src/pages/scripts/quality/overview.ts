import { element } from '../lib/dom.js';
import { words } from '../lib/page.js';
import { short } from './capability.js';
import type { Panel } from './panel.js';
import { figure, percent, tableOf } from './table.js';

const own = words.quality.capability;
const { columns } = words.quality;

interface OverviewLine {
  characteristic: string;
  name: string;
  unit: string;
  count: number;
  mean: number | null;
  standardDeviation: number | null;
  lower: number | null;
  upper: number | null;
  cpk: number | null;
  ppk: number | null;
  ppkPercentile: number | null;
  outsideSpecification: number | null;
  outsideAcceptance: number | null;
  method: keyof typeof own.read;
  why: string;
}

/** Every characteristic of a model in a line, each leading to all its figures. */
export function showOverview({ items }: { items: OverviewLine[] }, panel: Panel): void {
  const hrefOf = ({ characteristic }: OverviewLine) => {
    const query = new URLSearchParams(location.search);
    query.set('model', new URLSearchParams(panel.asked.address.split('?')[1]).get('model') ?? '');
    query.set('characteristic', characteristic);
    return `${location.pathname}?${query}`;
  };
  panel.table(
    tableOf<OverviewLine>(
      columns.characteristic,
      [
        {
          title: columns.characteristic,
          cell: (one) => element('a', { href: hrefOf(one) }, one.name),
        },
        { title: own.count, isNumber: true, cell: (one) => figure(one.count) },
        { title: columns.unit, cell: (one) => one.unit },
        { title: columns.mean, isNumber: true, cell: (one) => short(one.mean) },
        {
          title: columns.standardDeviation,
          isNumber: true,
          cell: (one) => short(one.standardDeviation),
        },
        { title: columns.lower, isNumber: true, cell: (one) => figure(one.lower) },
        { title: columns.upper, isNumber: true, cell: (one) => figure(one.upper) },
        { title: columns.cpk, isNumber: true, cell: (one) => figure(one.cpk, 2) },
        { title: columns.ppk, isNumber: true, cell: (one) => figure(one.ppk, 2) },
        {
          title: columns.ppkPercentile,
          isNumber: true,
          cell: (one) => figure(one.ppkPercentile, 2),
        },
        {
          title: columns.outsideSpecification,
          isNumber: true,
          cell: (one) => percent(one.outsideSpecification, 2),
        },
        {
          title: columns.outsideAcceptance,
          isNumber: true,
          cell: (one) => percent(one.outsideAcceptance, 2),
        },
        { title: columns.method, cell: (one) => [own.read[one.method], ' ', one.why] },
      ],
      items,
    ),
  );
}
