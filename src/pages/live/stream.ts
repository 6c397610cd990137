import type { Response } from 'express';
import type { Plant } from '../../plant.js';
import type { Settings } from '../../settings.js';
import type { Clock } from '../../time.js';
import { formatIn } from '../format.js';
import { wordsOf } from '../words/words.js';
import { announcementOf, boardOf } from './board.js';
import { liveFigures } from './figures.js';

const POLL_EVERY_MS = 1_500;
/** Proxies and browsers take a connection that says nothing for a dead one. */
const HEARTBEAT_EVERY_MS = 15_000;
/** A browser that lost the stream comes again after it. */
const RETRY_AFTER_MS = 3_000;
export const LISTENERS_AT_MOST = 100;
/** A listener that takes so little off is let go, so that nothing piles up for it here. */
const UNSENT_AT_MOST = 256 * 1024;

interface Parts {
  store: { readonly reading: Plant };
  clock: Clock;
  settings: Settings;
}

interface Listener {
  res: Response;
  mayListen: () => boolean;
}

/** What was sent last, region by region, and when it was known to be so. */
interface Board {
  seq: number;
  day: string;
  regions: Readonly<Record<string, string>>;
  announcement: string;
}

/**
 * The live screen's figures as server-sent events. However many listen, one timer asks, and
 * only while somebody listens: whether the journal has grown, and if so for the figures.
 * What has changed is sent, as markup of the page's regions.
 */
export class LiveStream {
  readonly #parts: Parts;
  readonly #listeners = new Set<Listener>();
  #board: Board | undefined;
  #timers: NodeJS.Timeout[] = [];
  #isClosed = false;

  constructor(parts: Parts, closing?: AbortSignal) {
    this.#parts = parts;
    closing?.addEventListener('abort', () => this.#close());
  }

  /**
   * Sends the board, and what changes of it until the caller goes or may no longer listen.
   * @returns false where too many listen already, or the service is about to end
   */
  listen(res: Response, mayListen: () => boolean): boolean {
    if (this.#isClosed || this.#listeners.size >= LISTENERS_AT_MOST) return false;
    res.writeHead(200, {
      'Content-Type': 'text/event-stream; charset=utf-8',
      'Cache-Control': 'no-store',
      // Nothing follows a stream on its connection, so that the end of one is the end of both.
      Connection: 'close',
      'X-Accel-Buffering': 'no',
    });
    res.write(`retry: ${RETRY_AFTER_MS}\n\n`);
    const listener = { res, mayListen };
    this.#listeners.add(listener);
    res.on('close', () => this.#leave(listener));
    this.#start();
    this.#poll();
    if (this.#board) res.write(eventOf(this.#board.regions, this.#board.announcement));
    return true;
  }

  #start(): void {
    if (this.#timers.length > 0) return;
    this.#timers = [
      setInterval(() => this.#poll(), POLL_EVERY_MS).unref(),
      setInterval(() => this.#beat(), HEARTBEAT_EVERY_MS).unref(),
    ];
  }

  #leave(listener: Listener): void {
    this.#listeners.delete(listener);
    if (this.#listeners.size > 0) return;
    for (const timer of this.#timers) clearInterval(timer);
    this.#timers = [];
    this.#board = undefined;
  }

  #close(): void {
    this.#isClosed = true;
    for (const { res } of this.#listeners) res.end();
  }

  /** Every change is an event of the journal; only the plant day changes by itself. */
  #poll(): void {
    const { store, clock, settings } = this.#parts;
    try {
      const plant = store.reading;
      const seq = plant.journal.last()?.seq ?? 0;
      const { day } = plant.calendar.shiftAt(clock(), settings.timeZone);
      if (this.#board?.seq === seq && this.#board.day === day) return;
      this.#send({ seq, day, ...this.#figures(plant) });
    } catch {
      // A store in trouble says so elsewhere; browsers come again once it answers.
      for (const { res } of this.#listeners) res.end();
    }
  }

  #figures(plant: Plant): Pick<Board, 'regions' | 'announcement'> {
    const { clock, settings } = this.#parts;
    const words = wordsOf('en');
    const shown = { words, format: formatIn(words, settings.timeZone) };
    const figures = liveFigures(plant, clock(), settings);
    const regions = Object.entries(boardOf(figures, shown)).map(([id, { text }]) => [id, text]);
    return { regions: Object.fromEntries(regions), announcement: announcementOf(figures, shown) };
  }

  #send(board: Board): void {
    const before = this.#board?.regions;
    this.#board = board;
    if (before === undefined) return;
    const changed = Object.entries(board.regions).filter(([id, text]) => before[id] !== text);
    if (changed.length === 0) return;
    const event = eventOf(Object.fromEntries(changed), board.announcement);
    for (const { res } of this.#listeners) {
      if (res.writableLength > UNSENT_AT_MOST) res.destroy();
      else res.write(event);
    }
  }

  #beat(): void {
    for (const { res, mayListen } of this.#listeners) {
      if (mayListen()) res.write(': here\n\n');
      else res.end();
    }
  }
}

function eventOf(regions: Board['regions'], announcement: string): string {
  return `event: board\ndata: ${JSON.stringify({ regions, announcement })}\n\n`;
}
