import { z } from 'zod';
import { code, day, page, pageQuery, reason, timeOf } from '../http/shapes.js';
import { iso, isoOrNull } from '../time.js';
import type { OrderRow } from './records.js';

export const orderDraft = z
  .strictObject({
    number: code.refine((number) => number !== 'next', 'next is an address of its own'),
    model: code,
    quantity: z.int().min(1).max(100_000),
    dueOn: day,
    priority: z.int().min(1).max(9).optional().meta({
      description: '1 is the most urgent; 5 where left out.',
    }),
  })
  .meta({ id: 'OrderDraft' });

export const orderShape = z
  .strictObject({
    number: z.string(),
    model: z.string(),
    quantity: z.int(),
    set: z
      .int()
      .meta({ description: 'Motors now set for it; torn down and scrapped ones do not count.' }),
    dueOn: z.iso.date(),
    priority: z.int(),
    state: z.enum(['open', 'closed']),
    openedAt: timeOf,
    closedAt: timeOf.nullable(),
    closeReason: z.string().nullable(),
  })
  .meta({ id: 'Order' });
export const orderPage = page(orderShape);

export const orderQuery = z.strictObject({
  ...pageQuery,
  model: code.optional(),
  state: z.enum(['open', 'closed']).optional(),
});
export const orderParams = z.strictObject({ order: code });
export const closeDraft = z.strictObject({ reason });

export function presentOrder(row: OrderRow): z.input<typeof orderShape> {
  return {
    number: row.number,
    model: row.model,
    quantity: row.quantity,
    set: row.setCount,
    dueOn: row.dueOn,
    priority: row.priority,
    state: row.state,
    openedAt: iso(row.openedAtMs),
    closedAt: isoOrNull(row.closedAtMs),
    closeReason: row.closeReason,
  };
}

const candidate = z.strictObject({
  serial: z.string(),
  part: z.string(),
  partRevision: z.string(),
});

export const nextShape = z
  .strictObject({
    order: orderShape.nullable().meta({ description: 'Null when nothing can be built now.' }),
    remaining: z.int(),
    configuration: z.string().nullable(),
    powerheads: z
      .array(candidate)
      .meta({ description: 'The oldest that are ready, five at most.' }),
    lowerUnits: z
      .array(candidate)
      .meta({ description: 'The oldest that are ready, five at most.' }),
    passedOver: z.array(z.strictObject({ order: z.string(), reason: z.string() })).meta({
      description: 'More urgent orders that cannot be built now, and why.',
    }),
  })
  .meta({ id: 'NextToBuild' });
