import { hash } from 'node:crypto';

/** What an event row states; `units` and `content` are JSON text exactly as stored. */
export interface EventRow {
  seq: number;
  recordedAtMs: number;
  occurredAtMs: number;
  keyId: number;
  station: string | null;
  kind: string;
  units: string;
  content: string;
}

/** The hash before the first event. */
export const CHAIN_START = Buffer.alloc(32);

/**
 * The SHA-256 (FIPS 180-4) of the previous event's hash followed by this event as a
 * JSON array in UTF-8: 32 bytes.
 */
export function chainHash(previous: Buffer, row: EventRow): Buffer {
  const text = JSON.stringify([
    row.seq,
    row.recordedAtMs,
    row.occurredAtMs,
    row.keyId,
    row.station,
    row.kind,
    row.units,
    row.content,
  ]);
  return hash('sha256', Buffer.concat([previous, Buffer.from(text)]), 'buffer');
}
