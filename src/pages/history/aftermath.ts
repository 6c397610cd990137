import { type Content, html, type Markup } from '../../http/html.js';
import { factsOf, serialLink, tableOf } from '../parts.js';
import { type Found, type History, historyAddress, linkTo, whenOf } from './common.js';
import { outcome } from './record.js';

/** Serials of one event that are named; of more, only how many there are. */
const NAMED = 4;

export function holds(found: Found): Markup {
  const { viewing, history } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const table = tableOf(
    words.holds,
    [
      {
        title: words.unit,
        cell: (hold) => html`${found.classTitle(hold.class)} ${linkTo(found, hold)}`,
      },
      { title: words.cause, cell: (hold) => hold.cause },
      { title: words.reason, cell: (hold) => hold.reason },
      {
        title: words.placed,
        cell: (hold) =>
          html`${whenOf(format, hold.placedAt)} <span class="soft">${words.by(hold.placedBy)}</span>`,
      },
      {
        title: words.lifted,
        cell: (hold) =>
          hold.liftedAt === null
            ? outcome(words.stillHeld, false)
            : html`${whenOf(format, hold.liftedAt)} <span class="soft">${words.by(hold.liftedBy ?? '')}</span>: ${hold.liftReason}`,
      },
    ],
    history.holds,
    words.noHolds,
  );
  return html`<section class="panel" id="holds" aria-labelledby="holds-title"><h2 id="holds-title">${words.holds}</h2>${table}</section>`;
}

type Repair = History['repairs'][number];

export function repairs(found: Found): Markup {
  const { viewing, history } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const table = tableOf<Repair>(
    words.repairs,
    [
      { title: words.repair, cell: (one) => one.id },
      {
        title: words.opened,
        cell: (one) =>
          html`${whenOf(format, one.openedAt)}${one.run === null ? null : html` <a href="#run-${one.run}">${words.afterRun(one.run)}</a>`}: ${one.complaint}`,
      },
      { title: words.found, cell: foundAndDone },
      { title: words.exchanged, cell: (one) => exchangesOf(found, one) },
      {
        title: words.closed,
        cell: (one) =>
          one.closedAt === null
            ? outcome(words.stillUnderRepair, false)
            : html`${whenOf(format, one.closedAt)} <span class="soft">${words.by(one.closedBy ?? '')}</span>${one.outcome === null ? null : html`: ${one.outcome.replaceAll('-', ' ')}`}`,
      },
    ],
    history.repairs,
    words.noRepairs,
  );
  return html`<section class="panel" id="repairs" aria-labelledby="repairs-title"><h2 id="repairs-title">${words.repairs}</h2>${table}</section>`;
}

function foundAndDone({ symptom, cause, action, note }: Repair): string {
  const done = [symptom, cause, action].filter((one) => one !== null).join(', ');
  return note === null ? done : `${done}: ${note}`;
}

function exchangesOf(found: Found, { exchanges }: Repair): Content {
  const words = found.viewing.words.history;
  const named = (unitClass: string | null, serial: string | null) =>
    unitClass === null || serial === null
      ? words.nothing
      : `${found.classTitle(unitClass)} ${serial}`;
  if (exchanges.length === 0) return null;
  const lines = exchanges.map(
    (one) =>
      html`<li>${words.exchange(one.position, named(one.removedClass, one.removed), named(one.fittedClass, one.fitted))}</li>`,
  );
  return html`<ul class="plain">${lines}</ul>`;
}

export function release(found: Found): Markup {
  const { viewing, history } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const one = history.release;
  const body =
    one === null
      ? html`<p class="soft">${words.notReleasedYet}</p>`
      : factsOf([
          [words.released, html`${whenOf(format, one.releasedAt)} ${words.by(one.releasedBy)}`],
          [words.motor, linkTo(found, { class: 'motor', serial: one.motor })],
          [words.model, one.model],
          [words.order, one.order],
          [words.onRun, html`<a href="#run-${one.run}">${words.runOf(one.run)}</a>`],
        ]);
  return html`<section class="panel" id="release" aria-labelledby="release-title"><h2 id="release-title">${words.release}</h2>${body}</section>`;
}

type Event = History['timeline'][number];

/** Every event, each leading to everything as of its moment. */
export function timeline(found: Found): Markup {
  const { viewing, history } = found;
  const { words: all, format } = viewing;
  const words = all.history;
  const thenLink = ({ at, recordedAt }: Event) => {
    const when = format.dateTime(Date.parse(at));
    const later =
      at === recordedAt
        ? null
        : html` <span class="soft">${words.recordedLater(format.dateTime(Date.parse(recordedAt)))}</span>`;
    return html`<a class="then" href="${historyAddress(history.unit, at)}" title="${words.seeThen(when)}">${whenOf(format, at)}</a>${later}`;
  };
  const table = tableOf<Event>(
    words.timelineCaption,
    [
      { title: words.when, cell: thenLink },
      { title: words.what, cell: (event) => event.text },
      { title: words.units, cell: (event) => unitsOf(found, event.units) },
      { title: words.who, cell: (event) => event.actor },
      { title: words.station, cell: (event) => event.station },
    ],
    history.timeline,
    words.noEvents,
  );
  return html`<section class="panel timeline" id="timeline" aria-labelledby="timeline-title"><h2 id="timeline-title">${words.timeline}</h2>${history.timelineCut ? html`<p class="soft">${words.timelineCut}</p>` : null}${table}</section>`;
}

/** A batch is released, and a lot contained, with many others: only a few are named. */
function unitsOf({ history, viewing }: Found, serials: readonly string[]): Content {
  const own = serials.filter((one) => one === history.unit.serial);
  const inOrder = [...own, ...serials.filter((one) => one !== history.unit.serial)];
  const named = inOrder
    .slice(0, NAMED)
    .map((one, i) => html`${i === 0 ? null : ', '}${serialLink(one)}`);
  const others = inOrder.length - NAMED;
  return others > 0 ? html`${named} ${viewing.words.history.others(others)}` : named;
}
