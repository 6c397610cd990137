import { type Child, element } from '../lib/dom.js';
import { words } from '../lib/page.js';
import type { Capability } from './capability.js';
import { figure, linked, percent, tableOf } from './table.js';

const own = words.quality.capability;

interface Index {
  estimate: number;
  lower: number;
  upper: number;
}
type Named = keyof typeof own.indexNames;
interface Shares {
  below: number | null;
  above: number | null;
  total: number | null;
}
interface Side {
  count: number;
  fraction: number;
  link: string;
}
type Indices = Partial<Record<Named, Index | null>> & {
  expectedOutside: Shares | null;
  reason: string | null;
};

/** The figures against one pair of limits, as the interface gives them. */
export interface Against {
  lower: number | null;
  upper: number | null;
  within: Indices;
  overall: Indices;
  percentile: Partial<Record<Named, number | null>> & { reason: string | null };
  observedOutside: { below: Side | null; above: Side | null; total: Side } | null;
}

const within: Named[] = ['cp', 'cpl', 'cpu', 'cpk'];
const overall: Named[] = ['pp', 'ppl', 'ppu', 'ppk'];
const kinds = ['specification', 'acceptance'] as const;

interface Row {
  name: string;
  isRead: boolean;
  of: (against: Against) => Index | number | null;
}

/** Indices and what lies beyond the limits, against specification and acceptance limits apart. */
export function indexTables(answer: Capability): HTMLElement[] {
  const { read } = answer.method;
  const rows: Row[] = [
    ...within.map(
      (name): Row => ({
        name: own.indexNames[name],
        isRead: read === 'normal',
        of: ({ within: all }) => all[name] ?? null,
      }),
    ),
    ...overall.map(
      (name): Row => ({
        name: own.indexNames[name],
        isRead: read === 'normal',
        of: ({ overall: all }) => all[name] ?? null,
      }),
    ),
    ...overall.map(
      (name): Row => ({
        name: own.byPercentiles(own.indexNames[name]),
        isRead: read === 'percentile',
        of: ({ percentile }) => percentile[name] ?? null,
      }),
    ),
  ].filter((row) => kinds.some((kind) => row.of(answer[kind]) !== null));
  const reasons = new Set(
    kinds.flatMap((kind) => [
      answer[kind].within.reason,
      answer[kind].overall.reason,
      answer[kind].percentile.reason,
    ]),
  );
  const why = [...reasons]
    .filter((one) => one !== null)
    .map((one) => element('p', { class: 'soft' }, one));
  return [
    element('h3', {}, own.indices),
    ...why,
    tableOf<Row>(
      own.indices,
      [
        {
          title: own.index,
          cell: ({ name, isRead }) =>
            isRead ? [element('strong', {}, name), ` (${own.isRead})`] : name,
        },
        ...kinds.map((kind) => ({
          title: own.against[kind],
          isNumber: true,
          cell: (row: Row) => indexOf(row.of(answer[kind])),
        })),
      ],
      rows,
    ),
    element('h3', {}, own.outside),
    ...outsideTables(answer),
  ];
}

function indexOf(index: Index | number | null): string {
  if (index === null) return '–';
  if (typeof index === 'number') return figure(index, 2);
  return `${figure(index.estimate, 2)} (${words.quality.interval(figure(index.lower, 2), figure(index.upper, 2))})`;
}

interface OutsideRow {
  name: string;
  cells: Record<'below' | 'above' | 'inAll', Child>;
}

function outsideTables(answer: Capability): HTMLElement[] {
  const band = own.guardBand(figure(answer.acceptance.guardBand), answer.characteristic.unit);
  return [
    ...kinds.map((kind) => {
      const against = answer[kind];
      const rows = [
        observedRow(against),
        expectedRow(own.expectedWithin, against.within.expectedOutside),
        expectedRow(own.expectedOverall, against.overall.expectedOutside),
      ].filter((row) => row !== null);
      const name = `${own.against[kind]}: ${words.quality.interval(limit(against.lower), limit(against.upper))}`;
      return tableOf<OutsideRow>(
        `${own.outside}. ${name}`,
        [
          { title: name, cell: (row) => row.name },
          { title: own.below, isNumber: true, cell: (row) => row.cells.below },
          { title: own.above, isNumber: true, cell: (row) => row.cells.above },
          { title: own.inAll, isNumber: true, cell: (row) => row.cells.inAll },
        ],
        rows,
      );
    }),
    element('p', { class: 'soft' }, band),
  ];
}

function limit(value: number | null): string {
  return value === null ? own.noLimit : figure(value);
}

function observedRow({ observedOutside: all }: Against): OutsideRow | null {
  if (all === null) return null;
  const side = (one: Side | null): Child =>
    one === null
      ? '–'
      : linked(`${one.count} (${percent(one.fraction, 2)})`, one.count > 0 ? one.link : null);
  return {
    name: own.observed,
    cells: { below: side(all.below), above: side(all.above), inAll: side(all.total) },
  };
}

function expectedRow(name: string, shares: Shares | null): OutsideRow | null {
  if (shares === null) return null;
  const { below, above, total } = shares;
  return {
    name,
    cells: { below: percent(below, 3), above: percent(above, 3), inAll: percent(total, 3) },
  };
}
