import { CHAIN_START, chainHash } from '../../../src/journal/chain.js';
import type { Content, EventKind } from '../../../src/journal/kinds.js';
import type { Tables } from './tables.js';

/** The one key that did everything. */
export const KEY = 1;

/** Appends events in a valid chain, without applying them. */
export class BulkJournal {
  constructor(
    private readonly tables: Tables,
    private seq: number,
    private hash: Buffer = CHAIN_START,
  ) {}

  add<K extends EventKind>(
    kind: K,
    content: Content<K>,
    about: { units: readonly number[]; atMs: number; station: string },
  ): void {
    const { units, atMs, station } = about;
    this.seq += 1;
    const row = {
      seq: this.seq,
      recordedAtMs: atMs,
      occurredAtMs: atMs,
      keyId: KEY,
      station,
      kind,
      units: JSON.stringify(units),
      content: JSON.stringify(content),
    };
    this.hash = chainHash(this.hash, row);
    const { events, event_units: ties } = this.tables;
    events.add(row.seq, atMs, atMs, KEY, station, kind, row.units, row.content, this.hash);
    for (const id of units) ties.add(id, row.seq);
  }
}
