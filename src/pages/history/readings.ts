import type { z } from 'zod';
import type { ReadingsAsked } from '../../capability/reading-questions.js';
import {
  type readingLine,
  readingsParams,
  readingsQuery,
  selectionOf,
} from '../../capability/schema.js';
import { decodeCursor, encodeCursor, type Page } from '../../http/cursor.js';
import { html, type Markup } from '../../http/html.js';
import { newestCharacteristic } from '../../series/questions.js';
import { serialLink, tableOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { quantity, whenOf } from './common.js';
import { outcome } from './record.js';

const LINES = 200;

type Line = z.input<typeof readingLine>;

/** The motors behind a bar of a histogram. */
export const readings = screen({
  name: 'history',
  path: '/history/models/{model}/characteristics/{characteristic}/readings',
  roles: 'any',
  startFor: [],
  params: readingsParams,
  query: readingsQuery,
  show: async (plant, { params, query }, viewing) => {
    const { model, characteristic: code } = params;
    const characteristic = newestCharacteristic(plant, model, code);
    const { name, unit, decimals } = characteristic;
    const [endedAtMs, runId] = query.after ? decodeCursor(query.after, ['number', 'number']) : [];
    const { valueFrom, valueUntil, beyond, revision } = query;
    const asked: ReadingsAsked = {
      filter: { model, code, ...selectionOf(query, viewing.settings.timeZone) },
      beyond: beyond ?? null,
      valueFrom: valueFrom ?? Number.NEGATIVE_INFINITY,
      valueUntil: valueUntil ?? Number.POSITIVE_INFINITY,
      revision: revision ?? null,
      after: query.after ? { endedAtMs: Number(endedAtMs), runId: Number(runId) } : null,
      limit: query.limit ?? LINES,
    };
    const page = await viewing.inWorker<Page<Line>>('capability-readings', asked);
    const { words, format } = viewing;
    const range =
      valueFrom === undefined || valueUntil === undefined
        ? null
        : html`<p class="lead">${words.history.readingsLead(quantity(format, valueFrom, unit), quantity(format, valueUntil, unit))}</p>`;
    return {
      title: words.history.readingsTitle(name, model),
      main: html`${range}${linesTable(page.items, decimals, viewing)}${page.last === null ? null : html`<p><a class="action" href="${nextAddress(params, query, encodeCursor(page.last))}">${words.history.nextPage}</a></p>`}`,
    };
  },
});

function linesTable(
  lines: readonly Line[],
  decimals: number,
  { words: all, format }: Viewing,
): Markup {
  const words = all.history;
  return tableOf<Line>(
    words.readingsCaption,
    [
      { title: words.motor, cell: (one) => serialLink(one.motor, 'motor') },
      { title: words.runColumn, cell: (one) => one.run, isNumber: true },
      { title: words.cell, cell: (one) => one.cell },
      { title: words.ended, cell: (one) => whenOf(format, one.endedAt) },
      {
        title: words.value,
        cell: (one) => quantity(format, one.value, one.unit, decimals),
        isNumber: true,
      },
      {
        title: words.result,
        cell: ({ withinSpecification, withinAcceptance }) =>
          outcome(
            withinAcceptance
              ? words.withinBoth
              : withinSpecification
                ? words.withinOne
                : words.withinNone,
            withinAcceptance,
          ),
      },
    ],
    lines,
    words.noReadings,
  );
}

function nextAddress(
  { model, characteristic }: z.output<typeof readingsParams>,
  query: z.output<typeof readingsQuery>,
  after: string,
): string {
  const { from, until, ...rest } = query;
  const members: Record<string, unknown> = {
    ...rest,
    from: from === undefined ? undefined : new Date(from).toISOString(),
    until: until === undefined ? undefined : new Date(until).toISOString(),
    after,
  };
  const text = new URLSearchParams();
  for (const [name, value] of Object.entries(members)) {
    if (value !== undefined) text.set(name, String(value));
  }
  return `/history/models/${encodeURIComponent(model)}/characteristics/${encodeURIComponent(characteristic)}/readings?${text}`;
}
