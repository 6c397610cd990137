import { html, type Markup } from '../http/html.js';
import type { Facts, History, SetFact } from './facts.js';
import { pairsOf, tableOf } from './table.js';
import { attributeTitle, quantityText, rangeText, type Words } from './words.js';

type Node = History['tree'][number];

/** What the unit is. */
export function identity(
  { history, model, nameOfPart }: Facts,
  { time, classTitle }: Words,
): Markup {
  const { unit, motor, release } = history;
  const own = history.tree.find((node) => node.asked);
  const isMotor = unit.class === 'motor';
  const part = unit.part === null ? null : `${unit.part} revision ${unit.partRevision}`;
  return html`<section aria-labelledby="identity"><h2 id="identity">Identity</h2>
${pairsOf([
  ['Class', classTitle(unit.class)],
  ['Serial', unit.serial],
  ['Part', part],
  ['Part name', nameOfPart(unit.part, unit.partRevision)],
  ['Motor that it is in', isMotor ? null : (motor ?? 'none')],
  ['Position', own?.position],
  ['Model', model && `${model.code}: ${model.name}`],
  ['Rated power', model && `${model.ratedPowerKw} kW`],
  ...Object.entries(unit.attributes).map(([name, value]): [string, string] => [
    attributeTitle(name),
    value,
  ]),
  [isMotor ? 'Set' : 'Entered', time(unit.enteredAt)],
  ['State when this was made', `${unit.state}${unit.onHold ? ', on hold' : ''}`],
  [
    'Released',
    release === null
      ? 'not released'
      : html`${time(release.releasedAt)}${isMotor ? null : `, motor ${release.motor}`}`,
  ],
])}</section>
`;
}

/** Every unit of the tree, parents before what is in them. */
export function asBuilt({ history, nameOfPart }: Facts, { time, classTitle }: Words): Markup {
  const rows = inOrder(history.tree);
  return html`<section aria-labelledby="as-built"><h2 id="as-built">As built</h2>
${tableOf<Node>({
  caption: 'The outermost unit and everything in it, each below what it is in',
  none: 'Nothing is known of what it was in.',
  rows,
  columns: [
    {
      label: 'Unit',
      cell: (node) =>
        html`<div class="d${node.depth}${node.asked ? ' this' : ''}">${classTitle(node.class)}${node.asked ? ' (this report)' : ''}</div>`,
    },
    { label: 'Serial', cell: (node) => node.serial },
    {
      label: 'Part or model',
      cell: (node) =>
        node.part === null ? node.model : `${node.part} revision ${node.partRevision}`,
    },
    { label: 'Name', cell: (node) => nameOfPart(node.part, node.partRevision) },
    { label: 'Position', cell: (node) => node.position },
    { label: 'In', cell: (node) => node.parent },
    { label: 'Since', cell: (node) => time(node.since) },
  ],
})}</section>
`;
}

/** The tree depth first, so that a unit stands right below what it is in. */
function inOrder(tree: readonly Node[]): Node[] {
  const below = (parent: Node): Node[] => [
    parent,
    ...tree
      .filter((node) => node.parent === parent.serial && node.depth === parent.depth + 1)
      .flatMap(below),
  ];
  const [root] = tree;
  return root ? below(root) : [];
}

/** Order, configuration and halves of each set that the unit was in. */
export function setting({ sets }: Facts, { time }: Words): Markup {
  return html`<section aria-labelledby="set"><h2 id="set">Set</h2>
${tableOf<SetFact>({
  caption: 'The joining of a powerhead and a lower unit under a build order',
  none: 'It had not been set into a motor.',
  rows: sets,
  columns: [
    { label: 'Motor', cell: (set) => set.motor },
    { label: 'Order', cell: (set) => set.order },
    {
      label: 'Configuration',
      cell: (set) => `${set.configuration} revision ${set.configurationRevision}`,
    },
    { label: 'Powerhead then', cell: (set) => set.powerhead },
    { label: 'Lower unit then', cell: (set) => set.lowerUnit },
    { label: 'Set', cell: (set) => html`${time(set.at)} at ${set.station} by ${set.setBy}` },
    {
      label: 'Torn down',
      cell: (set) =>
        set.tornDownAt === null ? 'no' : html`${time(set.tornDownAt)}: ${set.teardownReason}`,
    },
  ],
})}</section>
`;
}

/** Rows that stand at nodes of the tree, each with its node. */
function ofNodes<T>(tree: readonly Node[], rowsOf: (node: Node) => readonly T[]) {
  return inOrder(tree).flatMap((node) => rowsOf(node).map((row) => ({ ...row, node })));
}

const unitColumn = ({ classTitle }: Words) => ({
  label: 'Unit',
  cell: ({ node }: { node: Node }) => `${classTitle(node.class)} ${node.serial}`,
});

export function lots({ history, nameOfPart }: Facts, words: Words): Markup {
  return html`<section aria-labelledby="lots"><h2 id="lots">Lots</h2>
${tableOf({
  caption: 'Lots of material and parts used on the units above',
  none: 'No lots are recorded.',
  rows: ofNodes(history.tree, (node) => node.lots),
  columns: [
    unitColumn(words),
    { label: 'Lot', cell: (use) => use.lot },
    { label: 'Part', cell: (use) => `${use.part} revision ${use.partRevision}` },
    { label: 'Name', cell: (use) => nameOfPart(use.part, use.partRevision) },
    { label: 'Used', cell: (use) => words.time(use.at) },
  ],
})}</section>
`;
}

export function inspections({ history }: Facts, words: Words): Markup {
  return html`<section aria-labelledby="inspections"><h2 id="inspections">Inspections</h2>
${tableOf({
  caption: 'Inspections of the units above',
  none: 'No inspections are recorded.',
  rows: ofNodes(history.tree, (node) => node.inspections),
  columns: [
    unitColumn(words),
    { label: 'Inspection', cell: (one) => one.kind },
    {
      label: 'Result',
      cell: (one) =>
        html`<span class="${one.result === 'rejected' ? 'bad' : ''}">${one.result}</span>`,
    },
    { label: 'Note', cell: (one) => one.note },
    { label: 'When', cell: (one) => words.time(one.at) },
  ],
})}</section>
`;
}

export function fastenings({ history }: Facts, words: Words): Markup {
  return html`<section aria-labelledby="fastenings"><h2 id="fastenings">Fastenings</h2>
${tableOf({
  caption: 'Torque and angle of each recorded fastening, with its window',
  none: 'No fastenings are recorded.',
  rows: ofNodes(history.tree, (node) => node.fastenings),
  columns: [
    unitColumn(words),
    { label: 'Joint', cell: (one) => one.joint },
    { label: 'Tool', cell: (one) => one.tool },
    {
      label: 'Torque',
      cell: (one) =>
        `${quantityText(one.torque, one.torqueUnit)} (${rangeText({ lower: one.torqueLower, upper: one.torqueUpper }, one.torqueUnit)})`,
    },
    { label: 'Angle', cell: angleText },
    {
      label: 'Window',
      cell: (one) => (one.conforms ? 'inside' : html`<span class="bad">OUTSIDE</span>`),
    },
    { label: 'When', cell: (one) => words.time(one.at) },
  ],
})}</section>
`;
}

function angleText(one: Node['fastenings'][number]): string | null {
  if (one.angle === null) return null;
  const window = { lower: one.angleLower, upper: one.angleUpper };
  return `${quantityText(one.angle, one.angleUnit)} (${rangeText(window, one.angleUnit)})`;
}
