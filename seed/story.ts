import type { Caller } from './caller.js';
import type { Figures } from './figures.js';
import { heading, table, timeOf, wrapped } from './layout.js';

interface Judgement {
  code: string;
  name: string;
  value: number | boolean | null;
  unit: string | null;
  conforms: boolean | null;
  margin: number | null;
  lower: number | null;
  upper: number | null;
  acceptLower: number | null;
  acceptUpper: number | null;
}

interface History {
  unit: { serial: string; model: string | null; state: string };
  tree: {
    class: string;
    serial: string;
    part: string | null;
    partRevision: string | null;
    model: string | null;
    position: string | null;
    parent: string | null;
    since: string | null;
  }[];
  sets: { order: string; configuration: string; configurationRevision: number }[];
  runs: {
    id: number;
    cell: string;
    attempt: number | null;
    verdict: string | null;
    specificationRevision: number;
    judgements: Judgement[];
  }[];
  repairs: { exchanges: { at: string; removed: string | null; fitted: string | null }[] }[];
  timeline: {
    at: string;
    kind: string;
    text: string;
    actor: string;
    station: string | null;
    units: string[];
  }[];
}

/**
 * The motor whose history tells most: among the released ones that were repaired, one
 * with the most repairs, and of those the first.
 */
export function motorToTellOf({ repairs, releasedMotors }: Figures): string {
  const released = new Set(releasedMotors);
  const repaired = repairs.filter(
    (repair) => repair.outcome === 'repaired' && released.has(repair.motor),
  );
  const count = (motor: string) => repaired.filter((repair) => repair.motor === motor).length;
  const most = Math.max(...repaired.map((repair) => count(repair.motor)));
  const chosen = repaired.find((repair) => count(repair.motor) === most);
  if (!chosen) throw new Error('no motor was repaired and released in this shift');
  return chosen.motor;
}

/** One motor's history as text: what it is built from, what happened, and what failed. */
export async function storyOf(reader: Caller, motor: string): Promise<string> {
  const history = await reader.ask<History>(`/v1/history?serial=${motor}`);
  const { unit, sets } = history;
  const [set] = sets;
  const about = set
    ? `  ${unit.model}, ${unit.state}; order ${set.order}, configuration ${set.configuration} revision ${set.configurationRevision}`
    : `  ${unit.model}, ${unit.state}`;
  return [
    heading(`One motor’s history: ${unit.serial}`),
    about,
    '\n  Built from',
    ...branches(history, null, 4),
    '\n  What happened',
    ...history.timeline
      .filter((event) => event.kind !== 'run.readings')
      .map((event) => line(history, event)),
    '\n  What failed, against the limits in force',
    failures(history),
  ].join('\n');
}

/** The tree below a parent, a line each unit. */
function branches({ tree }: History, parent: string | null, indent: number): string[] {
  return tree
    .filter((node) => node.parent === parent)
    .flatMap((node) => {
      const part = node.model ?? `${node.part} revision ${node.partRevision}`;
      const name = node.position ?? node.class;
      const since = node.since ? `, since ${timeOf(node.since)}` : '';
      const text = `${' '.repeat(indent)}${name} ${node.serial} (${part})${since}`;
      return [text, ...branches({ tree } as History, node.serial, indent + 2)];
    });
}

/** An event in a line; its subject is named where it is a part, and what an exchange exchanged. */
function line(history: History, event: History['timeline'][number]): string {
  const place = (event.station ?? '').padEnd(14);
  const who = event.actor === event.station ? '' : ` (${event.actor})`;
  const [subject = ''] = event.units;
  const named = event.kind.startsWith('unit.') ? `${subject}: ` : '';
  const text = `${named}${event.text}${exchanged(history, event)}${who}`;
  return `    ${timeOf(event.at)}  ${place}  ${wrapped(text, 30)}`;
}

function exchanged({ repairs }: History, { kind, at }: History['timeline'][number]): string {
  if (kind !== 'repair.exchanged') return '';
  const done = repairs.flatMap((repair) => repair.exchanges).find((one) => one.at === at);
  return done ? `: ${done.removed ?? 'nothing'} out, ${done.fitted ?? 'nothing'} in` : '';
}

function failures({ runs }: History): string {
  const rows = runs.flatMap((run) =>
    run.judgements
      .filter((one) => one.conforms === false)
      .map((one) => [String(run.id), run.cell, one.name, ...failure(one)]),
  );
  const titles = ['run', 'cell', 'characteristic', 'reading', 'accepted', 'specified', 'margin'];
  const lines = table(
    titles.map((title) => ({ title })),
    rows,
  );
  return lines.replaceAll(/^/gm, '  ');
}

/** The reading, the limits it was held against, those of the specification, and the margin. */
function failure(one: Judgement): string[] {
  if (one.unit === null) return [one.value ? 'yes' : 'no', one.value ? 'no' : 'yes', '', ''];
  return [
    `${short(Number(one.value))} ${one.unit}`,
    range(one.acceptLower, one.acceptUpper),
    range(one.lower, one.upper),
    one.margin === null ? '' : one.margin.toFixed(2),
  ];
}

function range(lower: number | null, upper: number | null): string {
  if (lower === null) return upper === null ? '' : `up to ${short(upper)}`;
  return upper === null ? `from ${short(lower)}` : `${short(lower)} to ${short(upper)}`;
}

/** At most six significant digits. */
function short(value: number): string {
  return String(Number(value.toPrecision(6)));
}
