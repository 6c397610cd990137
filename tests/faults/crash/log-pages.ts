import { readFileSync } from 'node:fs';

/** One page as a write-ahead log holds it. */
interface LoggedPage {
  page: number;
  content: Buffer;
  /** Where it begins in the log. */
  from: number;
  /** True for the last page of a transaction. */
  commits: boolean;
}

/** Of a log's header and of each page's (SQLite's database file format, section 4). */
export const LOG_HEADER = 32;
export const PAGE_HEADER = 24;
/** SQLite's usual page size, which the service keeps. */
export const PAGE = 4096;
export const FRAME = PAGE_HEADER + PAGE;

/** The pages that a log holds since it was last begun anew, as they stand there. */
export function loggedPages(log: string): LoggedPage[] {
  const bytes = readFileSync(log);
  const salts = bytes.subarray(16, 24);
  const pages: LoggedPage[] = [];
  for (let from = LOG_HEADER; from + FRAME <= bytes.length; from += FRAME) {
    if (!bytes.subarray(from + 8, from + 16).equals(salts)) break;
    pages.push({
      page: bytes.readUInt32BE(from),
      content: bytes.subarray(from + PAGE_HEADER, from + FRAME),
      from,
      commits: bytes.readUInt32BE(from + 4) !== 0,
    });
  }
  return pages;
}

/** Where each transaction ends in a log: cut there, it is what it was at that commit. */
export function commitEnds(log: string): number[] {
  return loggedPages(log)
    .filter((one) => one.commits)
    .map((one) => one.from + FRAME);
}

/**
 * A database file as a checkpoint leaves it that was to move the log's first bytes and was
 * interrupted after some pages: it writes the newest of each page, in the order of pages.
 */
export function checkpointed(file: Buffer, log: string, until: number, pages: number): Buffer {
  const newest = new Map<number, Buffer>();
  for (const { page, content, from } of loggedPages(log)) {
    if (from < until) newest.set(page, content);
  }
  const order = [...newest].sort(([a], [b]) => a - b).slice(0, pages);
  const length = Math.max(file.length, ...order.map(([page]) => page * PAGE));
  const written = Buffer.alloc(length);
  file.copy(written);
  for (const [page, content] of order) content.copy(written, (page - 1) * PAGE);
  return written;
}
