import type { TreeNode } from '../../genealogy/records.js';
import { html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import type { Exchange, RepairRow } from '../../repair/records.js';
import { nameOfClass } from '../../units/rules.js';
import { fieldOf, serialLink, tableOf, timeOf } from '../parts.js';
import { scanForm } from '../parts-scan.js';
import type { Viewing } from '../screen.js';

/** A position of the motor under repair, and what is in it. */
interface Place {
  parent: TreeNode;
  position: string;
  occupant: TreeNode | undefined;
}

/** Where the script takes the scans of old and new parts, and what it sends. */
export function exchangePanel(plant: Plant, repair: RepairRow, viewing: Viewing): Markup {
  const words = viewing.words.repairBench;
  return html`<section class="panel" id="exchange" aria-labelledby="exchange-title"><h2 id="exchange-title">${words.exchange}</h2>
${scanForm({ id: 'part', label: words.partLabel, hint: words.partHint, button: words.take })}
<form id="exchange-form">
<div class="swap">${partCard('out', words.comesOut, viewing)}${partCard('in', words.goesIn, viewing)}</div>
<div class="fields">${placeChoice(plant, repair, viewing)}
<div id="other-place" hidden>${otherPlace(plant, repair, viewing)}</div>
<fieldset><legend>${words.removedAs}</legend>
<label class="choice"><input type="radio" name="removedAs" value="rejected" checked> ${words.asRejected}</label>
<label class="choice"><input type="radio" name="removedAs" value="accepted"> ${words.asAccepted}</label>
</fieldset></div>
<div class="actions"><button class="main">${words.exchangeDo}</button></div>
</form></section>`;
}

/** A place for a scanned part; the script says what is in it. */
function partCard(name: 'out' | 'in', title: string, { words }: Viewing): Markup {
  const empty = words.repairBench.nothingScanned;
  return html`<section class="half panel" id="${name}-card" aria-labelledby="${name}-title"><h3 id="${name}-title">${title}</h3><div class="content" data-empty="${empty}"><p class="soft">${empty}</p></div></section>`;
}

/** The positions of the motor, each with what an exchange in it says to the interface. */
function placeChoice(plant: Plant, repair: RepairRow, viewing: Viewing): Markup {
  const words = viewing.words.repairBench;
  const options = placesOf(plant, repair).map((one) => placeOption(one, viewing));
  const choice = html`<select id="place" name="place" aria-describedby="place-hint"><option value="">${words.ofScanned}</option>${options}<option value="other">${words.otherPosition}</option></select>`;
  const hint = { id: 'place-hint', text: words.positionHint };
  return html`<div id="place-choice">${fieldOf('place', words.position, choice, hint)}</div>`;
}

function placeOption({ parent, position, occupant }: Place, { words }: Viewing): Markup {
  const own = words.repairBench;
  const place = own.positionOf(position, titleOf(parent));
  const text = occupant ? own.holding(place, titleOf(occupant)) : own.empty(place);
  return html`<option value="${parent.class} ${parent.serial} ${position}" data-parent-class="${parent.class}" data-parent="${parent.serial}" data-position="${position}" data-occupant="${occupant?.serial}">${text}</option>`;
}

function titleOf({ class: unitClass, serial }: TreeNode): string {
  return `${nameOfClass(unitClass)} ${serial}`;
}

/** Every occupied position, and those that this repair emptied. */
function placesOf(plant: Plant, { id, motorId }: RepairRow): Place[] {
  const tree = plant.genealogy.tree(motorId);
  const byId = new Map(tree.map((one) => [one.unitId, one]));
  const occupied = tree.flatMap((occupant): Place[] => {
    const parent = occupant.parentId === null ? undefined : byId.get(occupant.parentId);
    return parent ? [{ parent, position: occupant.position ?? '', occupant }] : [];
  });
  const isKnown = (parent: string, position: string) =>
    occupied.some((one) => one.parent.serial === parent && one.position === position);
  const emptied = plant.repair.exchanges(id).flatMap(({ parentSerial, position }): Place[] => {
    const parent = tree.find((one) => one.serial === parentSerial);
    if (!parent || isKnown(parentSerial, position)) return [];
    return [{ parent, position, occupant: undefined }];
  });
  const byName = new Map(emptied.map((one) => [`${one.parent.serial} ${one.position}`, one]));
  return [...occupied, ...byName.values()];
}

/** For a position in which nothing was so far. */
function otherPlace(plant: Plant, { motorId }: RepairRow, { words }: Viewing): Markup {
  const own = words.repairBench;
  const parents = plant.genealogy
    .tree(motorId)
    .map(
      (one) =>
        html`<option data-class="${one.class}" value="${one.serial}">${titleOf(one)}</option>`,
    );
  return html`${fieldOf('other-parent', own.parent, html`<select id="other-parent" name="parent">${parents}</select>`)}${fieldOf('other-position', own.newPosition, html`<input id="other-position" name="position" maxlength="40" autocomplete="off" spellcheck="false">`)}`;
}

/** What was exchanged so far. */
export function exchangesPanel(plant: Plant, { id }: RepairRow, viewing: Viewing): Markup {
  const { format } = viewing;
  const words = viewing.words.repairBench;
  const part = (unitClass: string | null, serial: string | null) =>
    serial === null ? null : serialLink(serial, unitClass ?? undefined);
  const table = tableOf<Exchange>(
    words.exchanges,
    [
      { title: words.position, cell: ({ position }) => position },
      {
        title: words.inParent,
        cell: ({ parentSerial }) => html`<span class="serial">${parentSerial}</span>`,
      },
      { title: words.comesOut, cell: (one) => part(one.removedClass, one.removedSerial) },
      { title: words.goesIn, cell: (one) => part(one.fittedClass, one.fittedSerial) },
      { title: words.at, cell: ({ atMs }) => timeOf(format, atMs) },
    ],
    plant.repair.exchanges(id),
    words.noExchanges,
  );
  return html`<section class="panel" id="exchanges" aria-labelledby="exchanges-title"><h2 id="exchanges-title">${words.exchanges}</h2>${table}</section>`;
}
