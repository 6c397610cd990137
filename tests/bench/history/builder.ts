import type { JudgedRunRow, seriesRecords } from '../../../src/series/records.js';
import type { YieldCounts, YieldKey } from '../../../src/yield/records.js';
import type { Catalogue } from './catalogue.js';
import type { BulkJournal } from './journal.js';
import type { Tables } from './tables.js';

export const MINUTE = 60_000;

/** What is written to, and how far it has got. */
export interface Builder {
  tables: Tables;
  journal: BulkJournal;
  catalogue: Catalogue;
  counts: Map<string, YieldLine>;
  series: ReturnType<typeof seriesRecords>;
  /** Completed runs that are no block yet. */
  recent: JudgedRunRow[];
  runs: number;
  repairs: number;
}

/** Runs of one day, cell and set station. */
export interface YieldLine {
  key: YieldKey;
  counts: YieldCounts;
}

/** One motor while its life is written. */
export interface Motor {
  index: number;
  id: number;
  powerheadId: number;
  lowerUnitId: number;
  serial: string;
  station: string;
  cell: string;
  atMs: number;
}

/** A motor that has passed, and the run that says so. */
export interface Finished {
  motorId: number;
  runId: number;
}
