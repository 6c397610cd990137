import type { z } from 'zod';
import { type Page, pageById } from '../http/cursor.js';
import type { Plant } from '../plant.js';
import { presentUnit, type unitQuery, type unitShape } from './schema.js';

/** A page of units by when they were entered. */
export function unitsListed(
  plant: Plant,
  query: z.output<typeof unitQuery>,
): Page<z.input<typeof unitShape>> {
  const filter = {
    class: query.class ?? null,
    state: query.state ?? null,
    part: query.part ?? null,
    onHold: query.onHold === undefined ? null : Number(query.onHold),
  };
  return pageById(query, (after, limit) => plant.units.list(filter, after, limit), presentUnit);
}
