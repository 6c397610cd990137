import type { Role } from './access/schema.js';
import type { Content, EventKind } from './journal/kinds.js';
import type { Plant } from './plant.js';
import type { Settings } from './settings.js';

/** Whoever sent a command: an API key, which names a person or a station. */
export interface Actor {
  keyId: number;
  name: string;
  roles: readonly Role[];
}

/** What an event is about, beside its content. */
export interface About {
  /** Ids of the units in whose timeline it stands. */
  units?: readonly number[];
  station?: string | null;
  /** When it happened, where that differs from when it is recorded. */
  occurredAtMs?: number;
}

/**
 * One command under way inside its transaction. An action reads through `plant`,
 * decides, and changes state by `record` alone: the event is appended to the journal
 * and applied to the state tables by the same code that a rebuild uses.
 */
export interface Command {
  plant: Plant;
  actor: Actor;
  now: number;
  settings: Settings;
  /** Units that it has recorded something about so far. */
  touched: ReadonlySet<number>;
  record<K extends EventKind>(
    kind: K,
    content: Content<K>,
    about?: About,
    attachment?: Buffer,
  ): void;
}
