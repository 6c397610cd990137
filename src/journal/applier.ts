import type { Plant } from '../plant.js';

/** What is known of an event beside its content. */
export interface EventMeta {
  seq: number;
  recordedAtMs: number;
  occurredAtMs: number;
  keyId: number;
  station: string | null;
}

/**
 * Writes what an event means into the state tables. It decides nothing and reads no
 * clock, so that applying the journal again from its start gives the same tables.
 * `attachment` carries bytes that the event only states the digest of.
 */
export type Applier<C> = (
  plant: Plant,
  content: C,
  event: EventMeta,
  attachment: Buffer | undefined,
) => void;
