import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';

/** What the event that opens an order states. */
export interface NewOrder {
  id: number;
  number: string;
  modelId: number;
  quantity: number;
  dueOn: string;
  priority: number;
}

export interface OrderRow extends NewOrder {
  model: string;
  /** Motors now set for it; a torn down or scrapped one no longer counts. */
  setCount: number;
  state: 'open' | 'closed';
  openedAtMs: number;
  closedAtMs: number | null;
  closeReason: string | null;
}

const columns = `
  o.id,
  o.number,
  o.model_id AS modelId,
  m.code AS model,
  o.quantity,
  o.set_count AS setCount,
  o.due_on AS dueOn,
  o.priority,
  o.state,
  o.opened_at_ms AS openedAtMs,
  o.closed_at_ms AS closedAtMs,
  o.close_reason AS closeReason
FROM orders o
JOIN models m ON m.id = o.model_id`;

export interface OrderFilter {
  model: string | null;
  state: string | null;
}

/** Build orders' SQL on one connection. */
export function orderRecords(db: Database) {
  const byNumber = db.prepare<[string], OrderRow>(`SELECT ${columns} WHERE o.number = ?`);
  const byId = db.prepare<[number], OrderRow>(`SELECT ${columns} WHERE o.id = ?`);
  const list = db.prepare<[OrderFilter & { afterId: number; limit: number }], OrderRow>(
    `SELECT ${columns}
    WHERE o.id > @afterId
      AND (@model IS NULL OR m.code = @model)
      AND (@state IS NULL OR o.state = @state)
    ORDER BY o.id
    LIMIT @limit`,
  );
  // Reads orders_to_build, which is in this order.
  const toBuild = db.prepare<[number], OrderRow>(
    `SELECT ${columns}
    WHERE o.state = 'open' AND o.set_count < o.quantity
    ORDER BY o.priority, o.due_on, o.id
    LIMIT ?`,
  );
  // Reads orders_to_build.
  const mostUrgentOf = db.prepare<[string], OrderRow>(
    `SELECT ${columns}
    WHERE o.state = 'open' AND o.set_count < o.quantity
      AND o.model_id IN (SELECT value FROM json_each(?))
    ORDER BY o.priority, o.due_on, o.id
    LIMIT 1`,
  );
  const add = db.prepare(`
    INSERT INTO orders (id, number, model_id, quantity, set_count, due_on, priority, state, opened_at_ms)
    VALUES (@id, @number, @modelId, @quantity, 0, @dueOn, @priority, 'open', @openedAtMs)`);
  const count = db.prepare('UPDATE orders SET set_count = set_count + ? WHERE id = ?');
  const close = db.prepare(`
    UPDATE orders SET state = 'closed', closed_at_ms = @atMs, close_reason = @reason WHERE id = @id`);
  return {
    byNumber: (number: string) => byNumber.get(number),
    byId: (id: number) => byId.get(id),
    list: (filter: OrderFilter, afterId: number, limit: number) =>
      list.all({ ...filter, afterId, limit }),
    /** Open orders that lack motors, the most urgent first. */
    toBuild: (limit: number) => toBuild.all(limit),
    /** The most urgent open order that lacks motors of any of these models. */
    mostUrgentOf: (modelIds: readonly number[]) => mostUrgentOf.get(JSON.stringify(modelIds)),
    nextId: nextIdOn(db, 'orders'),
    add: (row: NewOrder & { openedAtMs: number }) => void add.run(row),
    /** Counts one motor more (1) or fewer (-1); the table refuses to go past the quantity. */
    count: (id: number, change: 1 | -1) => void count.run(change, id),
    close: (row: { id: number; atMs: number; reason: string }) => void close.run(row),
  };
}
