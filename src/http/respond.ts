import type { Request, Response } from 'express';
import { Problem } from '../problems.js';
import { csvTable } from './csv.js';
import { encodeCursor, type Page } from './cursor.js';
import { sendJson } from './problem-response.js';
import type { Sheet, Written } from './route.js';

/** Whether a table is wanted as CSV. @throws Problem not-acceptable */
export function wantsCsv(req: Request, isTable: boolean): boolean {
  const accept = req.headers.accept;
  if (accept === undefined || accept === '*/*' || accept === 'application/json') return false;
  const offered = isTable ? ['application/json', 'text/csv'] : ['application/json'];
  const chosen = req.accepts(offered);
  if (chosen === false) {
    throw new Problem('not-acceptable', `This answer is to be had as ${offered.join(' or ')}.`);
  }
  return chosen === 'text/csv';
}

/** Which of a page's media types is wanted. @throws Problem not-acceptable */
export function mediaWanted(req: Request, offered: readonly string[]): string {
  const chosen = req.accepts([...offered]);
  if (chosen !== false) return chosen;
  throw new Problem('not-acceptable', `This answer is to be had as ${offered.join(' or ')}.`);
}

/** Sends a page; its own headers stand in place of those that every answer has. */
export function sendSheet(res: Response, { contentType, body, headers }: Sheet): void {
  for (const [name, value] of Object.entries(headers)) res.setHeader(name, value);
  res.statusCode = 200;
  res.setHeader('Content-Type', contentType);
  res.setHeader('Content-Length', Buffer.byteLength(body));
  res.end(body);
}

/** The address of the page after this one: the same question with another `after`. */
function nextAddress(req: Request, last: NonNullable<Page<unknown>['last']>): string {
  const [path = '', ...query] = req.originalUrl.split('?');
  const parameters = new URLSearchParams(query.join('?'));
  parameters.set('after', encodeCursor(last));
  return `${path}?${parameters}`;
}

const JSON_TYPE = 'application/json';
const CSV_TYPE = 'text/csv; charset=utf-8; header=present';

/** Sends an answer that is text already. */
export function sendWritten(res: Response, csv: boolean, { text }: Written): void {
  sendJson(res, 200, csv ? CSV_TYPE : JSON_TYPE, text);
}

/** Sends rows as CSV with a header line (RFC 4180). */
export function sendCsv(
  res: Response,
  rows: readonly Record<string, unknown>[],
  columns: readonly string[],
): void {
  sendJson(res, 200, CSV_TYPE, csvTable(columns, rows));
}

/** Sends a page of a table as JSON or CSV, with a Link to the next (RFC 8288). */
export function sendPage(
  req: Request,
  res: Response,
  page: Page<Record<string, unknown>>,
  columns: readonly string[],
): void {
  const csv = wantsCsv(req, true);
  const next = page.last === null ? null : nextAddress(req, page.last);
  if (next !== null) res.setHeader('Link', `<${next}>; rel="next"`);
  res.setHeader('Vary', 'Accept');
  if (csv) {
    sendCsv(res, page.items, columns);
    return;
  }
  sendJson(res, 200, JSON_TYPE, JSON.stringify({ items: page.items, next }));
}
