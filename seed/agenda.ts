/** What one person or machine does over the shift: it yields how long it is busy, in milliseconds. */
export type Process = AsyncGenerator<number, void, void>;

export const seconds = (count: number): number => Math.round(count * 1000);
export const minutes = (count: number): number => seconds(count * 60);
export const hours = (count: number): number => minutes(count * 60);

/** The time the service under the demo goes by: simulated first, the real one once it is released. */
export class ShiftClock {
  #simulatedMs: number | null;

  constructor(startMs: number) {
    this.#simulatedMs = startMs;
  }

  readonly read = (): number => this.#simulatedMs ?? Date.now();

  advanceTo(ms: number): void {
    this.#simulatedMs = Math.max(ms, this.read());
  }

  advance(ms: number): void {
    this.advanceTo(this.read() + ms);
  }

  becomeReal(): void {
    this.#simulatedMs = null;
  }
}

interface Entry {
  atMs: number;
  process: Process;
}

/**
 * A discrete-event simulation: the process that is due first goes on until it is busy
 * again, and the clock jumps to the next one. One goes on at a time, in an order that
 * is always the same.
 */
export class Agenda {
  #entries: Entry[] = [];

  constructor(private readonly clock: ShiftClock) {}

  get now(): number {
    return this.clock.read();
  }

  start(process: Process, afterMs = 0): void {
    this.#enter({ atMs: this.now + afterMs, process });
  }

  /**
   * Runs until a time; what would happen later does not.
   * @param looked is called between two steps, for showing progress
   */
  async runUntil(endMs: number, looked: () => void): Promise<void> {
    for (;;) {
      const entry = this.#entries.shift();
      if (!entry || entry.atMs > endMs) break;
      this.clock.advanceTo(entry.atMs);
      const step = await entry.process.next();
      if (!step.done) this.#enter({ atMs: this.now + step.value, process: entry.process });
      looked();
    }
    this.clock.advanceTo(endMs);
    this.#entries = [];
  }

  /** Keeps the entries in order of time; of two at the same time the first to come goes first. */
  #enter(entry: Entry): void {
    const place = this.#entries.findIndex((other) => other.atMs > entry.atMs);
    this.#entries.splice(place === -1 ? this.#entries.length : place, 0, entry);
  }
}
