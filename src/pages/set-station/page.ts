import { z } from 'zod';
import { type Content, html, type Markup } from '../../http/html.js';
import { stationName } from '../../http/shapes.js';
import { type NextToBuild, nextToBuild } from '../../orders/actions.js';
import type { OrderRow } from '../../orders/records.js';
import type { SetRow } from '../../pairing/records.js';
import type { Plant } from '../../plant.js';
import type { UnitRow } from '../../units/records.js';
import { answerPlace, fieldOf, optionsOf, serialLink, tableOf, timeOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';

const RECENT = 10;
/** Open orders to choose from; whatever is not among them can still be scanned. */
const ORDERS_OFFERED = 200;

export const setStation = screen({
  name: 'set-station',
  path: '/set-station',
  roles: ['set'],
  startFor: ['set'],
  query: z.strictObject({ station: stationName.optional() }),
  show: (plant, { query: { station } }, viewing) => {
    const words = viewing.words.setStation;
    return {
      title: words.title,
      wide: true,
      main: html`${answerPlace(words.answers)}
${scanForm(viewing)}
<div class="pair">${halfCard('powerhead', words.powerhead, words.notScanned)}${halfCard('lower-unit', words.lowerUnit, words.notScanned)}${halfCard('order', words.order, words.mostUrgent)}</div>
<div class="below">${nextPanel(plant, viewing)}${recentPanel(plant, viewing, station)}</div>
${placePanel(plant, viewing)}`,
    };
  },
});

function scanForm({ words: { setStation: words } }: Viewing): Markup {
  return html`<form id="scan-form" class="scan panel">
<label for="scan">${words.scanLabel}</label>
<div class="scan-line"><input id="scan" name="scan" autocomplete="off" autocapitalize="none" spellcheck="false" enterkeyhint="go" maxlength="500" aria-describedby="scan-hint"><button class="main">${words.take}</button></div>
<p class="hint" id="scan-hint">${words.scanHint}</p>
</form>`;
}

/** A place for one of the three that make a set; the script says what is in it. */
function halfCard(name: string, title: string, empty: string): Markup {
  return html`<section class="half panel" id="${name}-card" aria-labelledby="${name}-title"><h2 id="${name}-title">${title}</h2><div class="content" data-empty="${empty}"><p class="soft">${empty}</p></div></section>`;
}

function nextPanel(plant: Plant, viewing: Viewing): Markup {
  const words = viewing.words.setStation;
  const next = nextToBuild(plant, viewing.now);
  return html`<section class="panel" id="next-panel" aria-labelledby="next-title"><h2 id="next-title">${words.next}</h2>
${next.order ? nextOrder(plant, next.order, next, viewing) : nothingToBuild(next, viewing)}
${passedOver(next, viewing)}</section>`;
}

function nextOrder(
  plant: Plant,
  order: OrderRow,
  { powerheads, lowerUnits }: NextToBuild,
  { words: { setStation: words }, format }: Viewing,
): Markup {
  const model = plant.catalogue.modelById(order.modelId);
  const due = words.due(format.calendarDay(order.dueOn));
  return html`<p class="next-order"><strong>${words.order} ${order.number}</strong> <span>${order.model}</span> <span class="soft">${model?.name}</span></p>
<p>${words.remaining(order.quantity - order.setCount)}, ${due}</p>
<p class="soft">${words.takeOneOfEach}</p>
<div class="columns racks">${rack(words.powerhead, powerheads, words.revision)}${rack(words.lowerUnit, lowerUnits, words.revision)}</div>`;
}

function rack(
  title: string,
  units: readonly UnitRow[],
  nameOf: (part: string, revision: string) => string,
): Markup {
  const lines = units.map(
    ({ serial, part, partRevision }) =>
      html`<li><span class="serial">${serial}</span> <span class="soft">${nameOf(part ?? '', partRevision ?? '')}</span></li>`,
  );
  return html`<div><h3>${title}</h3><ul class="rack">${lines}</ul></div>`;
}

function nothingToBuild(next: NextToBuild, { words: { setStation: words } }: Viewing): Markup {
  const why = next.passedOver.length > 0 ? words.nothingToBuildWhy : words.noOrders;
  return html`<p><strong>${words.nothingToBuild}</strong> ${why}</p>`;
}

/** The orders before the next one, each with the reason why it has to wait. */
function passedOver(next: NextToBuild, { words: { setStation: words } }: Viewing): Content {
  if (next.passedOver.length === 0) return null;
  const lines = next.passedOver.map(
    ({ order, reason }) => html`<li><strong>${order}</strong>: ${reason}</li>`,
  );
  const title = next.order ? words.passedOverWhy(lines.length) : words.passedOver;
  return html`<h3>${title}</h3><ul class="passed-over">${lines}</ul>`;
}

function recentPanel(plant: Plant, viewing: Viewing, station: string | undefined): Markup {
  const { words, format } = viewing;
  const { setStation: own } = words;
  const title = station === undefined ? own.recent : own.recentHere(station);
  const serialOf = (id: number) => plant.units.byId(id)?.serial;
  const table = tableOf<SetRow>(
    title,
    [
      {
        title: own.motor,
        cell: (set) =>
          html`${serialLink(set.motor, 'motor')}${set.tornDownAtMs === null ? null : html` <span class="soft">${own.takenApart}</span>`}`,
      },
      { title: own.model, cell: (set) => set.model },
      {
        title: own.powerhead,
        cell: (set) => html`<span class="serial">${serialOf(set.powerheadId)}</span>`,
      },
      {
        title: own.lowerUnit,
        cell: (set) => html`<span class="serial">${serialOf(set.lowerUnitId)}</span>`,
      },
      { title: own.order, cell: (set) => set.order },
      { title: own.when, cell: (set) => timeOf(format, set.atMs) },
    ],
    plant.pairing.latest(station, RECENT),
    own.noneSet,
  );
  return html`<section class="panel" id="recent-panel" aria-labelledby="recent-title"><h2 id="recent-title">${title}</h2>${table}</section>`;
}

/** Which station this browser stands at, and what it builds for: chosen once, kept by the script. */
function placePanel(plant: Plant, viewing: Viewing): Markup {
  const words = viewing.words.setStation;
  const hint = (id: string, text: string) => ({ id, text });
  return html`<details class="panel" id="place"><summary>${words.place}</summary>
<form id="place-form" class="fields">
${fieldOf('station', words.station, html`<input id="station" name="station" required maxlength="40" pattern="[A-Za-z0-9]([A-Za-z0-9._\\/\\-]*[A-Za-z0-9])?" autocomplete="off" autocapitalize="characters" spellcheck="false" aria-describedby="station-hint">`, hint('station-hint', words.stationHint))}
${fieldOf('order', words.orderChoice, orderChoice(plant, viewing), hint('order-hint', words.orderHint))}
<label class="choice"><input type="checkbox" id="sound" name="sound"> ${words.sound}</label>
<button class="main">${words.keep}</button>
</form></details>`;
}

function orderChoice(plant: Plant, { words: { setStation: words }, format }: Viewing): Markup {
  const options = plant.orders
    .toBuild(ORDERS_OFFERED)
    .map((order): [string, string] => [
      order.number,
      `${order.number}: ${order.model}, ${words.due(format.calendarDay(order.dueOn))}`,
    ]);
  return html`<select id="order" name="order" aria-describedby="order-hint">${optionsOf([['', words.mostUrgent], ...options])}</select>`;
}
