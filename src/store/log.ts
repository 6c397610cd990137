import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { COUNT_OFFSET } from './commit-count.js';

/** What a write-ahead log holds, in the numbers of its commits (`commitCountOn`). */
export interface Log {
  /** `missing` where not even one page stands in it, `damaged` where its header is not sound. */
  state: 'missing' | 'damaged' | 'there';
  /** The first and the last numbered commit that is whole: those that SQLite brings back. */
  whole: { first: number; last: number } | undefined;
  /** Numbers among the pages of the same log that SQLite leaves out. */
  leftOut: LeftOut | undefined;
}

interface LeftOut {
  /** Of those that came whole; infinity where none did. */
  lowest: number;
  /** Of all. */
  highest: number;
}

const HEADER_BYTES = 32;
const FRAME_HEADER_BYTES = 24;
const SALTS = { from: 8, until: 16 };
/** What every first page of a database begins with (SQLite's file format, section 1.2.1). */
const FIRST_PAGE = Buffer.from('SQLite format 3\0');
/** The magic number of a log whose checksum reads words low byte first; one more, high byte first. */
const MAGIC = 0x377f0682;

/**
 * Reads a log without SQLite, which says nothing of what it leaves out: it ends the log at
 * the first frame whose checksum is wrong, whatever follows. Source of the layout and of
 * the checksum: SQLite's database file format, section 4 (the write-ahead log).
 */
export function readLog(path: string): Log {
  const log: Log = { state: 'missing', whole: undefined, leftOut: undefined };
  let file: number;
  try {
    file = openSync(path, 'r');
  } catch {
    return log;
  }
  try {
    const header = Buffer.alloc(HEADER_BYTES);
    if (fstatSync(file).size <= HEADER_BYTES) return log;
    readWhole(file, header, 0);
    const sum = checksumAfter(header);
    if (sum) readFrames(file, header, sum, log);
    else log.state = 'damaged';
    return log;
  } finally {
    closeSync(file);
  }
}

/** The checksum that the first frame goes on from; undefined where the header is not sound. */
function checksumAfter(header: Buffer): Checksum | undefined {
  const magic = header.readUInt32BE(0);
  const sum = new Checksum(magic % 2 === 1);
  sum.add(header.subarray(0, HEADER_BYTES - 8));
  return (magic === MAGIC || magic === MAGIC + 1) && sum.is(header, HEADER_BYTES - 8)
    ? sum
    : undefined;
}

function readFrames(file: number, header: Buffer, sum: Checksum, log: Log): void {
  const salts = header.subarray(16, 24);
  const frame = Buffer.alloc(FRAME_HEADER_BYTES + header.readUInt32BE(8));
  const page = frame.subarray(FRAME_HEADER_BYTES);
  let whole = true;
  let open: number | undefined;
  for (let at = HEADER_BYTES; readWhole(file, frame, at); at += frame.length) {
    log.state = 'there';
    // Beyond its end stand frames of an earlier log, under other salts.
    const own = frame.subarray(SALTS.from, SALTS.until).equals(salts);
    if (own) {
      sum.add(frame.subarray(0, 8));
      sum.add(page);
    }
    const sound = own && sum.is(frame, SALTS.until);
    whole &&= sound;
    if (own && isFirstPage(frame, page)) {
      const count = Math.abs(page.readInt32BE(COUNT_OFFSET));
      if (whole) open = count;
      else leaveOut(log, count, sound);
    }
    // Beyond a damaged frame each is checked against what the one before it states.
    if (!sound) sum.goOnFrom(frame, SALTS.until);
    // A frame that says how large the database is ends a transaction.
    if (!whole || frame.readUInt32BE(4) === 0 || open === undefined) continue;
    log.whole = { first: log.whole?.first ?? open, last: open };
    open = undefined;
  }
  if (open !== undefined) leaveOut(log, open, true);
}

/**
 * Whether a frame is the first page: its head says so, and so does the page. SQLite writes
 * one after the other, and a kill between them leaves a new head before an older log's page.
 */
function isFirstPage(frame: Buffer, page: Buffer): boolean {
  return frame.readUInt32BE(0) === 1 && page.subarray(0, FIRST_PAGE.length).equals(FIRST_PAGE);
}

/** An older log's first page may stand behind a new head: only a sound one tells how low it goes. */
function leaveOut(log: Log, count: number, sound: boolean): void {
  const { lowest, highest } = log.leftOut ?? { lowest: Number.POSITIVE_INFINITY, highest: count };
  log.leftOut = {
    lowest: sound ? Math.min(lowest, count) : lowest,
    highest: Math.max(highest, count),
  };
}

function readWhole(file: number, into: Buffer, at: number): boolean {
  return readSync(file, into, 0, into.length, at) === into.length;
}

/** The running checksum of a log: two words, each pair of 32-bit words added crosswise. */
class Checksum {
  #first = 0;
  #second = 0;

  constructor(private readonly bigEndian: boolean) {}

  /** Adds bytes, a multiple of eight of them. */
  add(bytes: Buffer): void {
    const words = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    for (let i = 0; i < bytes.length; i += 8) {
      this.#first = (this.#first + words.getUint32(i, !this.bigEndian) + this.#second) >>> 0;
      this.#second = (this.#second + words.getUint32(i + 4, !this.bigEndian) + this.#first) >>> 0;
    }
  }

  /** Takes the two words that a frame states for its own. */
  goOnFrom(bytes: Buffer, at: number): void {
    this.#first = bytes.readUInt32BE(at);
    this.#second = bytes.readUInt32BE(at + 4);
  }

  is(bytes: Buffer, at: number): boolean {
    return bytes.readUInt32BE(at) === this.#first && bytes.readUInt32BE(at + 4) === this.#second;
  }
}
