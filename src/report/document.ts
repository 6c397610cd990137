import { html, type Markup, Markup as Raw } from '../http/html.js';
import { iso } from '../time.js';
import { containments, holds, release, repairs, timeline } from './aftermath.js';
import { asBuilt, fastenings, identity, inspections, lots, setting } from './build.js';
import type { Facts } from './facts.js';
import { runs } from './runs.js';
import { type Paper, policyFor, styleOf } from './style.js';
import { timesIn, type Words, withCapital } from './words.js';

/** What a report is made with, beside its facts. */
export interface Making {
  now: number;
  /** IANA name; all times of the report are shown in it. */
  timeZone: string;
  /** Name of the key that asked for it. */
  madeFor: string;
  /** The instant that was asked about; undefined for now. */
  asOf: number | undefined;
  paper?: Paper | undefined;
}

export interface ReportDocument {
  /** One HTML document that needs nothing else. */
  text: string;
  /** The Content-Security-Policy to send with it. */
  policy: string;
}

/** The report of one serial as a document for reading and printing. */
export function reportDocument(facts: Facts, making: Making): ReportDocument {
  const { unit } = facts.history;
  const words: Words = {
    time: timesIn(making.timeZone),
    classTitle: (unitClass) => withCapital(facts.nameOfClass(unitClass)),
  };
  const name = `${words.classTitle(unit.class)} ${unit.serial}`;
  const style = styleOf(`${name}, report made ${iso(making.now)}`, making.paper);
  const policy = policyFor(style);
  const page = html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>${name}: report</title>
<style>${new Raw(style)}</style>
</head>
<body>
<header><h1>${name}: report</h1>
<p class="lead">${lead(facts, making, words)}</p></header>
<main>
${[identity, asBuilt, setting, lots, inspections, fastenings, runs, repairs, holds, containments, release, timeline].map((part) => part(facts, words))}</main>
${foot(facts, making, words)}</body>
</html>
`;
  return { text: page.text, policy: `${policy}; frame-ancestors 'none'` };
}

function lead({ history }: Facts, { asOf, timeZone }: Making, { time }: Words): Markup {
  const { unit, motor } = history;
  const place =
    unit.class === 'motor' || motor === null ? null : `In motor ${motor} at that time. `;
  return html`${place}${
    asOf === undefined
      ? 'Everything known when this was made'
      : html`Everything as it was known on ${time(iso(asOf))}, but for the unit’s own state`
  }. Times are in the time zone ${timeZone}, each with its offset from UTC.`;
}

const DUTIES =
  'Local law may ask a maker to keep records of first purchasers, to notify defects, and to show that engines keep within emission limits. This record can serve such duties; it does not settle them, and it holds neither purchasers nor certificates. What counts is decided by the certifying authority.';

function foot({ basis }: Facts, { now, madeFor }: Making, { time }: Words): Markup {
  return html`<footer>
<p>Made ${time(iso(now))} for key ${madeFor}.</p>
<p>It rests on a journal of ${basis.events} events, of which each carries the hash (SHA-256) of all before it. Hash of the last: <code>${basis.hash}</code>. A later check of the journal that meets this hash at event ${basis.events} shows that nothing on which this report rests was changed.</p>
<p class="note"><strong>What this record is not.</strong> ${DUTIES}</p>
</footer>
`;
}
