import type { About } from '../command.js';
import type { Plant } from '../plant.js';
import type { Applier } from './applier.js';
import { CHAIN_START, chainHash } from './chain.js';
import { appliers, type Content, type EventKind } from './kinds.js';

/** Appends an event to the journal and applies it to the state tables. */
export function recordEvent<K extends EventKind>(
  plant: Plant,
  by: { keyId: number; now: number },
  kind: K,
  content: Content<K>,
  about: About = {},
  attachment?: Buffer,
): void {
  const last = plant.journal.last();
  const unitIds = [...new Set(about.units ?? [])];
  const row = {
    seq: (last?.seq ?? 0) + 1,
    recordedAtMs: by.now,
    occurredAtMs: about.occurredAtMs ?? by.now,
    keyId: by.keyId,
    station: about.station ?? null,
    kind,
    units: JSON.stringify(unitIds),
    content: JSON.stringify(content),
  };
  const hash = chainHash(last?.hash ?? CHAIN_START, row);
  plant.journal.append({ hash, ...row }, unitIds);
  const apply = appliers[kind] as unknown as Applier<Content<K>>;
  apply(plant, content, row, attachment);
}
