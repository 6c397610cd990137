import type { Applier, EventMeta } from '../journal/applier.js';
import type { Plant } from '../plant.js';
import type { FrozenBaseline } from './baseline-rules.js';
import type { ChartTerms, Chosen } from './records.js';
import { startState } from './rules.js';

/** A baseline as an event states it. */
interface Frozen extends FrozenBaseline {
  chosen: Chosen;
}

interface Opened extends ChartTerms {
  id: number;
  baseline: Frozen;
}

const opened: Applier<Opened> = (plant, { baseline, ...terms }, e) => {
  plant.charts.add({ ...terms, openedAtMs: e.recordedAtMs, openedById: e.keyId });
  freeze(plant, { id: terms.id, number: 1, baseline, reason: null }, e);
};

interface BaselineFrozen {
  id: number;
  number: number;
  baseline: Frozen;
  reason: string;
}

const baselineFrozen: Applier<BaselineFrozen> = freeze;

function freeze(
  plant: Plant,
  { id, number, baseline, reason }: Omit<BaselineFrozen, 'reason'> & { reason: string | null },
  e: EventMeta,
): void {
  const frozen = { ...baseline, chartId: id, number, reason };
  plant.charts.freeze({ ...frozen, frozenAtMs: e.recordedAtMs, frozenById: e.keyId }, startState);
}

const retired: Applier<{ id: number; reason: string }> = (plant, { id, reason }, e) =>
  plant.charts.retire({ id, reason, retiredAtMs: e.recordedAtMs, retiredById: e.keyId });

/** One signal with, if wished, those of its chart that were open before it. */
interface Acknowledged {
  chart: number;
  signals: number[];
  reason: string;
}

const acknowledged: Applier<Acknowledged> = (plant, { signals, reason }, e) =>
  plant.charts.acknowledge({ ids: signals, reason, atMs: e.recordedAtMs, keyId: e.keyId });

export const chartEvents = {
  'chart.opened': opened,
  'chart.baseline-frozen': baselineFrozen,
  'chart.retired': retired,
  'signal.acknowledged': acknowledged,
};
