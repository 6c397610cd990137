import { html, type Markup } from '../http/html.js';
import { isoOrNull } from '../time.js';
import type { ContainmentFact, Facts, History } from './facts.js';
import { pairsOf, tableOf } from './table.js';
import type { Words } from './words.js';

type Repair = History['repairs'][number];
type Exchange = Repair['exchanges'][number] & { repair: number };

export function repairs({ history }: Facts, words: Words): Markup {
  const { time } = words;
  const exchanges = history.repairs.flatMap((repair) =>
    repair.exchanges.map((one) => ({ ...one, repair: repair.id })),
  );
  return html`<section aria-labelledby="repairs"><h2 id="repairs">Repairs and exchanges</h2>
${tableOf<Repair>({
  caption: 'Repairs of the motor',
  none: 'No repair is recorded.',
  rows: history.repairs,
  columns: [
    { label: 'Repair', cell: (one) => one.id },
    { label: 'Motor', cell: (one) => one.motor },
    {
      label: 'Opened',
      cell: (one) =>
        html`${time(one.openedAt)}${one.run === null ? null : ` after run ${one.run}`}: ${one.complaint}`,
    },
    { label: 'Symptom', cell: (one) => one.symptom },
    { label: 'Cause', cell: (one) => one.cause },
    { label: 'Action', cell: (one) => one.action },
    { label: 'Note', cell: (one) => one.note },
    {
      label: 'Closed',
      cell: (one) =>
        one.closedAt === null
          ? html`<strong>open</strong>`
          : html`${time(one.closedAt)} by ${one.closedBy}: ${one.outcome?.replaceAll('-', ' ')}`,
    },
  ],
})}${exchangeTable(exchanges, words)}</section>
`;
}

function exchangeTable(exchanges: readonly Exchange[], { time, classTitle }: Words): Markup {
  const named = (unitClass: string | null, serial: string | null) =>
    unitClass === null || serial === null ? 'nothing' : `${classTitle(unitClass)} ${serial}`;
  return tableOf<Exchange>({
    caption: 'Parts exchanged in these repairs',
    none: 'No part was exchanged in a repair.',
    rows: exchanges,
    columns: [
      { label: 'Position', cell: (one) => one.position },
      { label: 'Of', cell: (one) => one.parent },
      { label: 'Taken out', cell: (one) => named(one.removedClass, one.removed) },
      { label: 'Fitted', cell: (one) => named(one.fittedClass, one.fitted) },
      { label: 'Repair', cell: (one) => one.repair },
      { label: 'When', cell: (one) => time(one.at) },
    ],
  });
}

export function holds({ history }: Facts, { time, classTitle }: Words): Markup {
  return html`<section aria-labelledby="holds"><h2 id="holds">Holds</h2>
${tableOf({
  caption: 'Holds on the unit and on the units above',
  none: 'No hold is recorded.',
  rows: history.holds,
  columns: [
    { label: 'Unit', cell: (hold) => `${classTitle(hold.class)} ${hold.serial}` },
    { label: 'Cause', cell: (hold) => hold.cause },
    { label: 'Reason', cell: (hold) => hold.reason },
    { label: 'Placed', cell: (hold) => html`${time(hold.placedAt)} by ${hold.placedBy}` },
    {
      label: 'Lifted',
      cell: (hold) =>
        hold.liftedAt === null
          ? html`<span class="bad">STILL ON HOLD</span>`
          : html`${time(hold.liftedAt)} by ${hold.liftedBy}: ${hold.liftReason}`,
    },
  ],
})}</section>
`;
}

export function containments({ containments: all }: Facts, { time, classTitle }: Words): Markup {
  return html`<section aria-labelledby="containments"><h2 id="containments">Containments</h2>
${tableOf<ContainmentFact>({
  caption: 'Containments that picked the unit or one of the units above',
  none: 'No containment picked it.',
  rows: all,
  columns: [
    { label: 'Containment', cell: (one) => `${one.id}: ${one.title}` },
    { label: 'Unit', cell: ({ unit }) => `${classTitle(unit.class)} ${unit.serial}` },
    { label: 'Opened', cell: (one) => html`${time(one.openedAt)} by ${one.openedBy}` },
    { label: 'Picked because', cell: ({ unit }) => unit.reasons.join('; ') },
    {
      label: 'Was then',
      cell: ({ unit }) => `${unit.stateThen}${unit.holdId === null ? '' : ', held'}`,
    },
    {
      label: 'Disposition',
      cell: ({ unit }) =>
        unit.disposition === null
          ? html`<span class="bad">NONE YET</span>`
          : html`${unit.disposition}, ${time(isoOrNull(unit.disposedAtMs))} by ${unit.disposedBy}: ${unit.evidence}`,
    },
  ],
})}</section>
`;
}

export function release({ history }: Facts, { time }: Words): Markup {
  const { release: found } = history;
  return html`<section aria-labelledby="release"><h2 id="release">Release</h2>
${
  found === null
    ? html`<p class="none">It was not released.</p>`
    : pairsOf([
        ['Motor', found.motor],
        ['Model', found.model],
        ['Order', found.order],
        ['Released', html`${time(found.releasedAt)} by ${found.releasedBy}`],
        ['On the strength of', `run ${found.run}`],
      ])
}</section>
`;
}

export function timeline({ history, related }: Facts, { time }: Words): Markup {
  return html`<section aria-labelledby="timeline"><h2 id="timeline">Timeline</h2>
${history.timelineCut ? html`<p class="note"><strong>Shortened.</strong> There are more events than are shown; the journal has them all.</p>` : null}${tableOf<
  History['timeline'][number]
>({
  caption: 'What happened to the unit, in it and around it, in the order it was recorded',
  none: 'Nothing had happened by then.',
  rows: history.timeline,
  columns: [
    { label: 'Event', cell: (event) => event.seq, look: 'number' },
    {
      label: 'When',
      cell: (event) =>
        event.at === event.recordedAt
          ? time(event.at)
          : html`${time(event.at)} <span class="code">(recorded ${time(event.recordedAt)})</span>`,
    },
    { label: 'What', cell: (event) => event.text, look: 'wide' },
    { label: 'Units', cell: (event) => unitsText(event.units, related) },
    { label: 'By', cell: (event) => event.actor },
    { label: 'Station', cell: (event) => event.station },
  ],
})}</section>
`;
}

/** Serials of the unit and what belongs to it; of other units, how many the event is about too. */
function unitsText(serials: readonly string[], related: ReadonlySet<string>): string {
  const own = serials.filter((serial) => related.has(serial));
  const others = serials.length - own.length;
  if (others === 0) return own.join(', ');
  const counted = `${others} other${others === 1 ? '' : 's'}`;
  return own.length === 0 ? counted : `${own.join(', ')} and ${counted}`;
}
