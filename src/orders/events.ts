import type { Applier } from '../journal/applier.js';

interface Opened {
  id: number;
  number: string;
  modelId: number;
  quantity: number;
  dueOn: string;
  priority: number;
}

const opened: Applier<Opened> = ({ orders }, row, e) =>
  orders.add({ ...row, openedAtMs: e.recordedAtMs });

const closed: Applier<{ id: number; reason: string }> = ({ orders }, { id, reason }, e) =>
  orders.close({ id, reason, atMs: e.recordedAtMs });

export const orderEvents = { 'order.opened': opened, 'order.closed': closed };
