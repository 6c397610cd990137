import { html, type Markup } from '../../http/html.js';
import type { Plant } from '../../plant.js';
import type { RepairRow } from '../../repair/records.js';
import { symbolOf } from '../../report/words.js';
import type { RunRow } from '../../testing/records.js';
import { chartPlace, tableOf, timeOf } from '../parts.js';
import {
  limitsShown,
  type ReadingShown,
  readingList,
  readingsOfRun,
  stateOf,
  valueShown,
} from '../parts-reading.js';
import type { Viewing } from '../screen.js';
import { type Attempt, attemptsOf } from './attempts.js';

/** A chart that the script draws (scripts/repair-bench/attempts.ts): one characteristic. */
export interface AttemptChart {
  id: string;
  /** Name and unit, for the axis. */
  axis: string;
  points: {
    attempt: number;
    value: number;
    lower: number | null;
    upper: number | null;
    acceptLower: number | null;
    acceptUpper: number | null;
    isAccepted: boolean;
    /** The same in words. */
    label: string;
  }[];
}

export interface WhatFailed {
  panel: Markup;
  charts: AttemptChart[];
}

/**
 * What a repair is about: what its run failed, each with the attempts of the motor so far,
 * or the complaint that opened it without a run.
 */
export function whatFailed(plant: Plant, repair: RepairRow, viewing: Viewing): WhatFailed {
  const words = viewing.words.repairBench;
  const run = repair.runId === null ? undefined : plant.testing.run(repair.runId);
  const failed = run ? readingsOfRun(plant, run).filter((one) => one.conforms === false) : [];
  const courses = run ? coursesOf(plant, run, failed) : [];
  const hint = courses.length === 0 ? words.firstAttempt : words.chartKey;
  const content = run
    ? html`${readingList(failed, viewing)}<p class="hint">${hint}</p>${courses.map((one) => courseFigure(one, viewing))}`
    : html`<p>${repair.complaint}</p>`;
  const panel = html`<section class="panel" aria-labelledby="failed-title"><h2 id="failed-title">${words.whatFailed}</h2>${content}</section>`;
  return { panel, charts: courses.flatMap((one) => chartOf(one, viewing) ?? []) };
}

/** A characteristic that failed, over the attempts of its motor. */
interface Course {
  shown: ReadingShown;
  attempts: Attempt[];
}

function coursesOf(plant: Plant, { motorId }: RunRow, failed: readonly ReadingShown[]): Course[] {
  return failed
    .map((shown) => ({ shown, attempts: attemptsOf(plant, motorId, shown) }))
    .filter(({ attempts }) => attempts.length > 1);
}

const idOf = ({ shown }: Course) => `attempts-${shown.code}`;

/** A chart with its table; the table alone for what has no number. */
function courseFigure(course: Course, viewing: Viewing): Markup {
  const { words } = viewing;
  const title = words.repairBench.chartTitle(course.shown.name);
  const table = courseTable(course, title, viewing);
  if (course.shown.expected !== null) return html`<h3>${title}</h3>${table}`;
  return chartPlace(idOf(course), title, words.chart.asTable, table);
}

function courseTable({ attempts }: Course, title: string, viewing: Viewing): Markup {
  const { words, format } = viewing;
  const own = words.repairBench;
  return tableOf<Attempt>(
    title,
    [
      { title: own.attempt, cell: ({ attempt }) => attempt },
      {
        title: own.value,
        isNumber: true,
        cell: ({ reading }) => valueShown(reading, words, format),
      },
      { title: own.judged, cell: ({ reading }) => words.reading.state[stateOf(reading)] },
      { title: own.limits, cell: ({ reading }) => limitsShown(reading, words, format) },
      { title: own.cell, cell: ({ cell }) => html`<span class="whole">${cell}</span>` },
      { title: own.run, isNumber: true, cell: ({ run }) => run },
      { title: own.when, cell: ({ endedAtMs }) => timeOf(format, endedAtMs) },
    ],
    attempts,
    '',
  );
}

function chartOf(course: Course, { words, format }: Viewing): AttemptChart | null {
  const { shown, attempts } = course;
  if (shown.expected !== null) return null;
  const symbol = symbolOf(shown.unit);
  const points = attempts.map(({ attempt, reading }) => {
    const { lower, upper, acceptLower, acceptUpper, conforms } = reading;
    const value = valueShown(reading, words, format);
    const state = words.reading.state[stateOf(reading)];
    return {
      ...{ attempt, lower, upper, acceptLower, acceptUpper },
      value: Number(reading.value),
      isAccepted: conforms !== false,
      label: words.repairBench.pointLabel(attempt, value, state),
    };
  });
  return {
    id: idOf(course),
    axis: symbol === '' ? shown.name : `${shown.name}, ${symbol}`,
    points,
  };
}
