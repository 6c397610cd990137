import { Problem } from '../problems.js';
import { PAGE_DEFAULT } from './shapes.js';

export type CursorKey = string | number;

/** Packs the sort key of a page's last row into the opaque text of a next link. */
export function encodeCursor(key: readonly CursorKey[]): string {
  return Buffer.from(JSON.stringify(key), 'utf8').toString('base64url');
}

/**
 * Unpacks what `encodeCursor` packed.
 * @param form the types that the key must have, in order
 * @throws Problem request-invalid when the text was not ours
 */
export function decodeCursor(text: string, form: readonly ('string' | 'number')[]): CursorKey[] {
  try {
    const key: unknown = JSON.parse(Buffer.from(text, 'base64url').toString('utf8'));
    if (Array.isArray(key) && key.length === form.length) {
      const fits = (value: unknown, i: number) =>
        typeof value === form[i] && (typeof value === 'string' || Number.isFinite(value));
      if (key.every(fits)) return key as CursorKey[];
    }
  } catch {
    // Falls through to the same answer: whatever it was, it is no cursor.
  }
  throw new Problem('request-invalid', 'The page address is not one that this service gave.', {
    errors: [{ parameter: 'after', detail: 'is not a page address of this table' }],
  });
}

export interface Page<T> {
  items: T[];
  /** Sort key of the last row when more rows follow. */
  last: CursorKey[] | null;
}

/** Cuts rows read one beyond the limit to a page. */
export function cutPage<T>(rows: T[], limit: number, keyOf: (row: T) => CursorKey[]): Page<T> {
  const items = rows.slice(0, limit);
  const end = items.at(-1);
  return { items, last: rows.length > limit && end !== undefined ? keyOf(end) : null };
}

interface PageQuery {
  limit?: number | undefined;
  after?: string | undefined;
}

/**
 * Whether a table is asked for more than its rows in order. What fits a filter may stand far
 * apart in a large table, so such a question goes to a worker thread.
 */
export function isFiltered({ limit: _limit, after: _after, ...filter }: PageQuery): boolean {
  return Object.values(filter).some((value) => value !== undefined);
}

/**
 * The page of a table that is ordered by id.
 * @param read rows with an id above the first argument, as many as the second says at most
 */
export function pageById<R extends { id: number }, T>(
  query: PageQuery,
  read: (afterId: number, limit: number) => R[],
  present: (row: R) => T,
): Page<T> {
  const limit = query.limit ?? PAGE_DEFAULT;
  const [after] = query.after ? decodeCursor(query.after, ['number']) : [0];
  const { items, last } = cutPage(read(Number(after), limit + 1), limit, (row) => [row.id]);
  return { items: items.map(present), last };
}
