import type { Applier } from '../journal/applier.js';
import type { NewOrder } from './records.js';

const opened: Applier<NewOrder> = ({ orders }, row, e) =>
  orders.add({ ...row, openedAtMs: e.recordedAtMs });

const closed: Applier<{ id: number; reason: string }> = ({ orders }, { id, reason }, e) =>
  orders.close({ id, reason, atMs: e.recordedAtMs });

export const orderEvents = { 'order.opened': opened, 'order.closed': closed };
