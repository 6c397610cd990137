import { page, type Sheet } from '../http/route.js';
import { Problem } from '../problems.js';
import { reportDocument } from './document.js';
import { factsOf } from './facts.js';
import { findBrowser, Printer } from './printer.js';
import { reportQuery } from './schema.js';

const HTML = 'text/html';
const PDF = 'application/pdf';

/** One for the process, as there is one machine to print on. */
const printer = new Printer();

import { anyScanProblems } from '../units/resolve.js';

export const reportRoutes = [
  page({
    path: '/v1/report',
    tag: 'Genealogy',
    summary: 'The report of a serial, for reading and printing',
    description:
      'One self-contained document: identity, as-built tree, lots, inspections, fastenings, set, runs with readings against the limits then in force, repairs, holds, containments, release and timeline. As PDF where the service finds a browser to print with.',
    query: reportQuery,
    media: [HTML, PDF],
    problems: [...anyScanProblems, 'question-too-long'],
    ask: async (plant, { query, media }, { actor, now, settings }) => {
      const facts = factsOf(plant, query, now);
      const { text, policy } = reportDocument(facts, {
        now,
        timeZone: settings.timeZone,
        madeFor: actor.name,
        asOf: query.asOf,
        paper: query.paper ?? (media === PDF ? 'a4' : undefined),
      });
      const { class: unitClass, serial } = facts.history.unit;
      const name = `report-${unitClass}-${serial}`.replaceAll(/[^\w.-]/g, '_');
      if (media === PDF) return pdfSheet(text, name);
      return sheet('text/html; charset=utf-8', text, {
        'Content-Disposition': `inline; filename="${name}.html"`,
        'Content-Security-Policy': policy,
      });
    },
  }),
];

async function pdfSheet(text: string, name: string): Promise<Sheet> {
  const browser = await findBrowser(process.env);
  if (browser === undefined) {
    throw new Problem(
      'not-acceptable',
      'No browser is at hand here to print a PDF with: ask for text/html and print that, or name a browser in SKEG_BROWSER.',
    );
  }
  return sheet(PDF, await printer.print(browser, text), {
    'Content-Disposition': `inline; filename="${name}.pdf"`,
  });
}

function sheet(
  contentType: string,
  body: string | Buffer,
  headers: Readonly<Record<string, string>>,
): Sheet {
  return { contentType, body, headers };
}
