import { existingModel } from '../catalogue/actions.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { Outcome } from '../series/block.js';
import { type RunBlock, readSeries, runBlocks } from '../series/questions.js';
import { dayEnd, dayStart, plantDay } from '../time.js';
import { type ChartOptions, type FrozenBaseline, freezeBaseline } from './baseline-rules.js';
import { type Entry, inUnit, isByDay } from './rules.js';

/** Which runs a baseline is computed from. */
export interface BaselineAsked {
  model: string;
  characteristic: string | null;
  /** The chart's unit; null for that of the newest specification. */
  unit: string | null;
  cell: string | null;
  runs: 'first' | 'all';
  options: ChartOptions;
  fromMs: number;
  untilMs: number;
  /** Only the last so many values, on p and u charts days. */
  last: number | null;
  timeZone: string;
}

export interface BaselineFound {
  unit: string | null;
  baseline: FrozenBaseline;
}

/**
 * Computes a baseline from the completed runs of a period.
 * @throws Problem model-unknown, characteristic-unknown, baseline-not-possible
 */
export function findBaseline(plant: Plant, asked: BaselineAsked): BaselineFound {
  return plant.atomically(() => {
    existingModel(plant, asked.model);
    const { unit, entries } = isByDay(asked.options.kind)
      ? { unit: null, entries: countedEntries(plant, asked) }
      : measuredEntries(plant, asked);
    const answer = freezeBaseline(asked.options, entries, asked.last);
    if (answer.possible) return { unit, baseline: answer.baseline };
    throw new Problem('baseline-not-possible', `No baseline was frozen: ${answer.why}.`);
  });
}

function measuredEntries(plant: Plant, asked: BaselineAsked): { unit: string; entries: Entry[] } {
  const series = readSeries(plant, { ...asked, code: asked.characteristic ?? '' });
  const own = series.characteristic.unit;
  const unit = asked.unit ?? own;
  const entries: Entry[] = [];
  for (const [i, measured] of series.values.entries()) {
    const value = inUnit(measured, own, unit);
    const [runId, atMs] = [series.runIds[i] ?? 0, series.endedAtMs[i] ?? 0];
    if (value !== undefined) entries.push({ runId, atMs, day: null, value });
  }
  return { unit, entries };
}

/** What failed, run by run, in the order in which they ended. */
function countedEntries(plant: Plant, asked: BaselineAsked): Entry[] {
  const dayOf = daysIn(asked.timeZone);
  return [...runBlocks(plant, asked.model, asked)]
    .flatMap((block) => countedIn(plant, block, asked))
    .sort((a, b) => a.atMs - b.atMs || a.runId - b.runId)
    .map((entry) => ({ ...entry, day: dayOf(entry.atMs) }));
}

function countedIn(plant: Plant, block: RunBlock, asked: BaselineAsked): Entry[] {
  const wanted = asked.runs === 'first' ? Outcome.firstRun : 0;
  const entries: Entry[] = [];
  for (const [i, runId] of block.runIds.entries()) {
    const [atMs, outcome] = [block.endedAtMs[i] ?? 0, block.outcomes[i] ?? 0];
    const cell = block.cells[block.cellOf[i] ?? 0];
    if (atMs < asked.fromMs || atMs >= asked.untilMs || (outcome & wanted) !== wanted) continue;
    if (asked.cell !== null && asked.cell !== cell) continue;
    const failed = (outcome & Outcome.passed) === 0;
    const failures = asked.options.kind === 'u' ? plant.charts.failures(runId) : 1;
    entries.push({ runId, atMs, day: null, value: failed ? failures : 0 });
  }
  return entries;
}

/** Plant days of instants; quick where neighbours fall on the same day. */
function daysIn(timeZone: string): (ms: number) => string {
  let [fromMs, untilMs, day] = [0, 0, ''];
  return (ms) => {
    if (ms < fromMs || ms >= untilMs) {
      day = plantDay(ms, timeZone);
      [fromMs, untilMs] = [dayStart(day, timeZone), dayEnd(day, timeZone)];
    }
    return day;
  };
}
