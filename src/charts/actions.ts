import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { Settings } from '../settings.js';
import { dayEnd, dayStart, iso } from '../time.js';
import type { BaselineAsked, BaselineFound } from './baseline-questions.js';
import type { ChartOptions } from './baseline-rules.js';
import type { ChartRow, Chosen, SignalRow } from './records.js';
import {
  type acknowledgementDraft,
  BASELINE_DAYS_LIMIT,
  type baselineReplacement,
  type ChartDraft,
  rulesOf,
} from './schema.js';

type BaselineDraft = ChartDraft['baseline'];

const DAY_MS = 24 * 60 * 60 * 1000;

/** What a draft's baseline is to be computed from. */
export function baselineAsked(
  draft: ChartDraft,
  { now, settings }: { now: number; settings: Settings },
): BaselineAsked {
  return {
    model: draft.model,
    characteristic: characteristicOf(draft),
    unit: null,
    cell: draft.cell ?? null,
    runs: draft.runs,
    options: optionsOf(draft),
    ...periodOf(draft.baseline, now, settings),
  };
}

/** What another baseline of a chart is to be computed from. @throws Problem chart-unknown */
export function replacementAsked(
  plant: Plant,
  id: number,
  { baseline }: z.output<typeof baselineReplacement>,
  { now, settings }: { now: number; settings: Settings },
): BaselineAsked {
  return { ...existingChart(plant, id), ...periodOf(baseline, now, settings) };
}

function characteristicOf(draft: ChartDraft): string | null {
  return 'characteristic' in draft ? draft.characteristic : null;
}

function optionsOf(draft: ChartDraft): ChartOptions {
  switch (draft.kind) {
    case 'xbar-r':
    case 'xbar-s': {
      const { kind, subgroupSize } = draft;
      return { kind, subgroupSize, rules: rulesOf(draft.rules) };
    }
    case 'ewma': {
      const { kind, weight = 0.2, width = 3, variance = 'exact' } = draft;
      return { kind, weight, width, variance };
    }
    case 'cusum': {
      const { kind, target = null, allowance = 0.5, decisionInterval = 5 } = draft;
      return { kind, target, allowance, decisionInterval };
    }
    default:
      return { kind: draft.kind, rules: rulesOf(draft.rules) };
  }
}

function periodOf({ fromDay, untilDay, last }: BaselineDraft, now: number, settings: Settings) {
  const { timeZone } = settings;
  return {
    fromMs: fromDay ? dayStart(fromDay, timeZone) : now - BASELINE_DAYS_LIMIT * DAY_MS,
    untilMs: untilDay ? dayEnd(untilDay, timeZone) : Number.MAX_SAFE_INTEGER,
    last: last ?? null,
    timeZone,
  };
}

function chosenIn({ fromDay, untilDay, last }: BaselineDraft): Chosen {
  return { fromDay: fromDay ?? null, untilDay: untilDay ?? null, last: last ?? null };
}

/**
 * Opens a chart with the baseline that was computed for it, or refuses it as the computation
 * did: every run completed from now on is judged.
 */
export function openChart(
  command: Command,
  draft: ChartDraft,
  found: BaselineFound | Problem,
): ChartRow {
  if (found instanceof Problem) throw found;
  const { plant } = command;
  const id = plant.charts.nextId();
  command.record('chart.opened', {
    id,
    modelId: existingModel(plant, draft.model).id,
    kind: draft.kind,
    characteristic: characteristicOf(draft),
    unit: found.unit,
    cell: draft.cell ?? null,
    runs: draft.runs,
    options: optionsOf(draft),
    baseline: { ...found.baseline, chosen: chosenIn(draft.baseline) },
  });
  return existingChart(plant, id);
}

/** Freezes another baseline; the chart starts anew by it, and keeps the ones before. */
export function replaceBaseline(
  command: Command,
  id: number,
  { baseline, reason }: z.output<typeof baselineReplacement>,
  found: BaselineFound | Problem,
): ChartRow {
  const { plant } = command;
  const chart = existingChart(plant, id);
  assertActive(chart);
  if (found instanceof Problem) throw found;
  command.record('chart.baseline-frozen', {
    id,
    number: chart.baseline + 1,
    baseline: { ...found.baseline, chosen: chosenIn(baseline) },
    reason,
  });
  return existingChart(plant, id);
}

/** Ends a chart: nothing is judged by it any more, and all that it found stays. */
export function retireChart(command: Command, id: number, reason: string): ChartRow {
  assertActive(existingChart(command.plant, id));
  command.record('chart.retired', { id, reason });
  return existingChart(command.plant, id);
}

/** Acknowledges a signal, and with it, if wished, those of its chart that were open before. */
export function acknowledgeSignal(
  command: Command,
  id: number,
  { reason, withEarlier }: z.output<typeof acknowledgementDraft>,
): number[] {
  const { charts } = command.plant;
  const signal = existingSignal(command.plant, id);
  if (signal.acknowledgedAtMs !== null) {
    throw new Problem(
      'signal-acknowledged',
      `${signal.acknowledgedBy} acknowledged signal ${id} on ${iso(signal.acknowledgedAtMs)}: ${signal.reason}`,
    );
  }
  const signals = withEarlier ? charts.openUpTo(signal.chart, id) : [id];
  command.record('signal.acknowledged', { chart: signal.chart, signals, reason });
  return signals;
}

export function existingChart(plant: Plant, id: number): ChartRow {
  const row = plant.charts.chart(id);
  if (!row) throw new Problem('chart-unknown', `There is no chart ${id}.`);
  return row;
}

function existingSignal(plant: Plant, id: number): SignalRow {
  const row = plant.charts.signal(id);
  if (!row) throw new Problem('signal-unknown', `There is no signal ${id}.`);
  return row;
}

function assertActive(chart: ChartRow): void {
  if (chart.retiredAtMs === null) return;
  throw new Problem(
    'chart-retired',
    `${chart.retiredBy} retired chart ${chart.id} on ${iso(chart.retiredAtMs)}.`,
  );
}
