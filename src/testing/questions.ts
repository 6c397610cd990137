import type { z } from 'zod';
import { type Page, pageById } from '../http/cursor.js';
import type { Plant } from '../plant.js';
import { presentRun, type runQuery, type runShape } from './schema.js';

/** A page of runs by when they were started. */
export function runsListed(
  plant: Plant,
  query: z.output<typeof runQuery>,
): Page<z.input<typeof runShape>> {
  const filter = {
    cell: query.cell ?? null,
    state: query.state ?? null,
    verdict: query.verdict ?? null,
    fromMs: query.from ?? 0,
    untilMs: query.until ?? Number.MAX_SAFE_INTEGER,
  };
  return pageById(query, (after, limit) => plant.testing.runs(filter, after, limit), presentRun);
}
