import { type Content, html, type Markup } from '../../http/html.js';
import { iso } from '../../time.js';
import { icon } from '../icons.js';
import { factsOf, tableOf } from '../parts.js';
import {
  type Found,
  type History,
  linkTo,
  type Node,
  quantity,
  rangeOf,
  whenOf,
} from './common.js';

/** What the unit is, where it is, and its report for printing. */
export function identity(found: Found): Markup {
  const { history, viewing, asOfMs } = found;
  const words = viewing.words.history;
  const open = history.holds.filter(({ liftedAt }) => liftedAt === null);
  return html`<section class="panel" id="identity" aria-labelledby="identity-title"><h2 id="identity-title">${words.identity}</h2>
${open.length > 0 ? heldNotice(found, open) : null}
${factsOf(identityFacts(found))}
<div class="actions"><a class="action" id="report" href="${reportAddress(found)}">${asOfMs === undefined ? words.print : words.printThen}</a></div></section>`;
}

/** Every open hold that stops the unit: its own, and those of what it is in and what is in it. */
function heldNotice(found: Found, open: History['holds']): Markup {
  const { history, viewing } = found;
  const words = viewing.words.history;
  const whys = open.map(({ class: of, serial, cause, reason }) => {
    const isOwn = of === history.unit.class && serial === history.unit.serial;
    const why = words.onHoldWhy(cause, reason);
    return html`<li>${isOwn ? why : words.otherOnHold(found.classTitle(of), serial, why)}</li>`;
  });
  return html`<div class="held"><p><strong>${icon('refused')} ${words.onHold}</strong></p><ul>${whys}</ul></div>`;
}

function reportAddress({ history: { unit }, asOfMs }: Found): string {
  const query = new URLSearchParams({
    serial: unit.serial,
    class: unit.class,
    ...(asOfMs === undefined ? {} : { asOf: iso(asOfMs) }),
  });
  return `/v1/report?${query}`;
}

function identityFacts(found: Found): [string, Content][] {
  const { history, viewing, asOfMs, plant } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const { unit, tree, motor, release } = history;
  const own = tree.find((node) => node.asked);
  const name =
    unit.part === null ? undefined : plant.catalogue.part(unit.part, unit.partRevision ?? '')?.name;
  const model = tree[0]?.model ?? unit.model;
  const inMotor = motor === null ? words.inNone : linkTo(found, { class: 'motor', serial: motor });
  const facts: [string, Content | null][] = [
    [asOfMs === undefined ? words.state : words.stateNow, words.stateOf(unit.state)],
    [
      words.part,
      unit.part === null
        ? null
        : html`${words.partOf(unit.part, unit.partRevision ?? '')}${name === undefined ? null : html`<br><span class="soft">${name}</span>`}`,
    ],
    [
      words.model,
      model === null
        ? null
        : html`<a href="/catalogue/models/${encodeURIComponent(model)}">${model}</a>`,
    ],
    [words.inMotor, unit.class === 'motor' ? null : inMotor],
    [words.position, own?.position ?? null],
    [words.entered, whenOf(format, unit.enteredAt)],
    [words.released, release === null ? words.notReleased : whenOf(format, release.releasedAt)],
    ...Object.entries(unit.attributes).map(([name, value]): [string, string] => [
      words.capital(words.attribute(name)),
      value,
    ]),
  ];
  return facts.filter(([, value]) => value !== null);
}

/** The tree as lists in lists, each unit in what it is in. */
export function tree(found: Found): Markup {
  const words = found.viewing.words.history;
  const [root] = found.history.tree;
  return html`<section class="panel" id="tree" aria-labelledby="tree-title"><h2 id="tree-title">${words.tree}</h2><p class="soft">${words.treeLead}</p>
${root === undefined ? null : html`<ul class="tree">${branch(found, root)}</ul>`}</section>`;
}

function branch(found: Found, node: Node): Markup {
  const { viewing, plant } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const below = found.history.tree.filter(
    (one) => one.parent === node.serial && one.depth === node.depth + 1,
  );
  const name =
    node.part === null ? undefined : plant.catalogue.part(node.part, node.partRevision ?? '')?.name;
  const what =
    node.part === null
      ? node.model
      : `${words.partOf(node.part, node.partRevision ?? '')}${name === undefined ? '' : `, ${name}`}`;
  const place =
    node.position === null
      ? null
      : html`<span class="soft">${words.inPosition(node.position)}, ${words.since} ${whenOf(format, node.since)}</span>`;
  return html`<li${node.asked ? html` class="asked" aria-current="true"` : null}><div class="node"><strong>${found.classTitle(node.class)}</strong> ${linkTo(found, node)}${node.asked ? html` <span class="this">${words.thisOne}</span>` : null} <span>${what}</span> ${place}</div>${recordsOf(found, node)}${below.length === 0 ? null : html`<ul>${below.map((one) => branch(found, one))}</ul>`}</li>`;
}

function recordsOf(found: Found, node: Node): Markup | null {
  const words = found.viewing.words.history;
  const { inspections, fastenings, lots } = node;
  const counted = [
    inspections.length > 0 ? words.inspections(inspections.length) : null,
    fastenings.length > 0 ? words.fastenings(fastenings.length) : null,
    lots.length > 0 ? words.lots(lots.length) : null,
  ].filter((one) => one !== null);
  if (counted.length === 0) return null;
  return html`<details><summary>${words.records(counted.join(', '))}</summary>${inspectionTable(found, node)}${fasteningTable(found, node)}${lotTable(found, node)}</details>`;
}

function inspectionTable({ viewing }: Found, { inspections }: Node): Markup | null {
  const { words: all, format } = viewing;
  const words = all.history;
  if (inspections.length === 0) return null;
  return tableOf(
    words.inspections(inspections.length),
    [
      { title: words.inspection, cell: (one) => one.kind },
      { title: words.result, cell: (one) => outcome(one.result, one.result === 'accepted') },
      { title: words.note, cell: (one) => one.note },
      { title: words.when, cell: (one) => whenOf(format, one.at) },
    ],
    inspections,
    all.none,
  );
}

function fasteningTable({ viewing }: Found, { fastenings }: Node): Markup | null {
  const { words: all, format } = viewing;
  const words = all.history;
  if (fastenings.length === 0) return null;
  return tableOf(
    words.fastenings(fastenings.length),
    [
      { title: words.joint, cell: (one) => one.joint },
      { title: words.tool, cell: (one) => one.tool },
      {
        title: words.torque,
        cell: (one) =>
          html`${quantity(format, one.torque, one.torqueUnit)} <span class="soft">(${rangeOf(viewing, one.torqueLower, one.torqueUpper, one.torqueUnit)})</span>`,
      },
      {
        title: words.angle,
        cell: (one) =>
          one.angle === null
            ? null
            : html`${quantity(format, one.angle, one.angleUnit)} <span class="soft">(${rangeOf(viewing, one.angleLower, one.angleUpper, one.angleUnit)})</span>`,
      },
      {
        title: words.window,
        cell: (one) => outcome(one.conforms ? words.inside : words.outside, one.conforms),
      },
      { title: words.when, cell: (one) => whenOf(format, one.at) },
    ],
    fastenings,
    all.none,
  );
}

function lotTable({ viewing }: Found, { lots }: Node): Markup | null {
  const { words: all, format } = viewing;
  const words = all.history;
  if (lots.length === 0) return null;
  return tableOf(
    words.lots(lots.length),
    [
      { title: words.lot, cell: (one) => html`<span class="serial">${one.lot}</span>` },
      { title: words.part, cell: (one) => words.partOf(one.part, one.partRevision) },
      { title: words.when, cell: (one) => whenOf(format, one.at) },
    ],
    lots,
    all.none,
  );
}

/** Good or not, by shape and word. */
export function outcome(text: string, good: boolean): Markup {
  return html`<span class="outcome ${good ? 'good' : 'bad'}">${icon(good ? 'accepted' : 'refused')} ${text}</span>`;
}

/** Under which order and configuration it was set, and whether it was taken apart. */
export function sets(found: Found): Markup {
  const { viewing, history } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const table = tableOf(
    words.sets,
    [
      { title: words.motor, cell: (set) => linkTo(found, { class: 'motor', serial: set.motor }) },
      { title: words.order, cell: (set) => set.order },
      {
        title: words.configuration,
        cell: (set) => words.configurationOf(set.configuration, set.configurationRevision),
      },
      {
        title: words.setAt,
        cell: (set) =>
          html`${whenOf(format, set.at)} <span class="soft">${words.by(set.setBy)}</span>`,
      },
      { title: words.station, cell: (set) => set.station },
      {
        title: words.tornDown,
        cell: (set) =>
          set.tornDownAt === null
            ? words.no
            : html`${whenOf(format, set.tornDownAt)}: ${set.teardownReason}`,
      },
    ],
    history.sets,
    words.noSets,
  );
  return html`<section class="panel" id="sets" aria-labelledby="sets-title"><h2 id="sets-title">${words.sets}</h2>${table}</section>`;
}
