import type { z } from 'zod';
import { cutPage, decodeCursor, type Page } from '../http/cursor.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import type { Plant } from '../plant.js';
import { type attemptQuery, type attemptShape, presentAttempt } from './schema.js';

/** A page of sets and refused sets in the order of time. */
export function attemptsListed(
  plant: Plant,
  query: z.output<typeof attemptQuery>,
): Page<z.input<typeof attemptShape>> {
  const { limit = PAGE_DEFAULT } = query;
  const filter = {
    station: query.station ?? null,
    outcome: query.outcome ?? null,
    fromMs: query.from ?? 0,
    untilMs: query.until ?? Number.MAX_SAFE_INTEGER,
  };
  const [atMs, id] = query.after ? decodeCursor(query.after, ['number', 'number']) : [];
  const after = query.after ? { atMs: Number(atMs), id: Number(id) } : null;
  const rows = plant.pairing.attempts(filter, after, limit + 1);
  const { items, last } = cutPage(rows, limit, (row) => [row.atMs, row.id]);
  return { items: items.map(presentAttempt), last };
}
