import { z } from 'zod';
import { code, day, instant, page, pageQuery, timeOf } from '../http/shapes.js';
import type { SeriesFilter } from '../series/questions.js';
import { dayEnd, dayStart, iso } from '../time.js';

/** Runs of one subgroup at most. */
export const SUBGROUP_LIMIT = 1000;

const windowQuery = {
  from: instant.optional().meta({ description: 'The run ended then or later.' }),
  until: instant.optional().meta({ description: 'The run ended before.' }),
  fromDay: day.optional().meta({ description: 'In place of `from`: the first plant day.' }),
  untilDay: day
    .optional()
    .meta({ description: 'In place of `until`: the last plant day, counted too.' }),
  runs: z.enum(['first', 'all']).optional().meta({
    description:
      '`first`, unless said: the first completed run of each motor. `all`: repeated runs too, so that a motor that was tested again counts again.',
  }),
};
const cellQuery = {
  cell: code.optional().meta({ description: 'Runs in this test cell only.' }),
};
const characteristicQuery = {
  model: code,
  characteristic: code.meta({
    description: 'Code of a measured or derived characteristic of the model.',
  }),
};
const subgroupQuery = {
  subgroup: z
    .string()
    .regex(/^\d{1,4}$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.int().min(2).max(SUBGROUP_LIMIT))
    .optional()
    .meta({
      description: `Runs of a subgroup, 2 to ${SUBGROUP_LIMIT}, consecutive in time: the spread within is then pooled over subgroups. Left out: from the moving range of two neighbours.`,
    }),
};

/** Refuses a window whose end or beginning is stated twice. */
function statedOnce<S extends z.ZodObject>(query: S): S {
  return query
    .refine((one) => !isTwice((one as Window).from, (one as Window).fromDay), {
      path: ['fromDay'],
      message: 'cannot stand beside `from`',
    })
    .refine((one) => !isTwice((one as Window).until, (one as Window).untilDay), {
      path: ['untilDay'],
      message: 'cannot stand beside `until`',
    });
}

function isTwice(instantMs: number | undefined, day: string | undefined): boolean {
  return instantMs !== undefined && day !== undefined;
}

interface Window {
  from?: number | undefined;
  until?: number | undefined;
  fromDay?: string | undefined;
  untilDay?: string | undefined;
  runs?: 'first' | 'all' | undefined;
  cell?: string | undefined;
}

export const capabilityQuery = statedOnce(
  z.strictObject({ ...characteristicQuery, ...windowQuery, ...cellQuery, ...subgroupQuery }),
);
export const overviewQuery = statedOnce(
  z.strictObject({ model: code, ...windowQuery, ...cellQuery, ...subgroupQuery }),
);
export const comparisonQuery = statedOnce(
  z.strictObject({ ...characteristicQuery, ...windowQuery }),
);
export const weeksQuery = statedOnce(
  z.strictObject({ ...pageQuery, ...characteristicQuery, ...windowQuery }),
);

const numberText = z
  .string()
  .max(40)
  .regex(/^-?\d+(\.\d+)?([eE][+-]?\d+)?$/, 'must be a number')
  .transform(Number)
  .pipe(z.number());

export const beyondNames = [
  'specification',
  'lower-specification',
  'upper-specification',
  'acceptance',
  'lower-acceptance',
  'upper-acceptance',
] as const;
export type Beyond = (typeof beyondNames)[number];

export const readingsParams = z.strictObject({ model: code, characteristic: code });
export const readingsQuery = statedOnce(
  z.strictObject({
    ...pageQuery,
    ...windowQuery,
    ...cellQuery,
    beyond: z.enum(beyondNames).optional().meta({
      description:
        'Only values beyond that limit of the newest revision, or beyond either one where no side is named.',
    }),
    valueFrom: numberText.optional().meta({ description: 'Only values of this or more.' }),
    valueUntil: numberText.optional().meta({ description: 'Only values below this.' }),
    revision: z
      .string()
      .regex(/^\d{1,9}$/, 'must be a whole number')
      .transform(Number)
      .optional()
      .meta({ description: 'Only runs that this revision of the specification judged.' }),
  }),
);

/** What a question over a window is put to: all that a query says of it. */
export type Selection = Omit<SeriesFilter, 'model' | 'code'>;

/** The window, cell and runs of a query, in the plant's time zone. */
export function selectionOf(query: Window, timeZone: string): Selection {
  const { from, until, fromDay, untilDay } = query;
  return {
    fromMs: from ?? (fromDay === undefined ? 0 : dayStart(fromDay, timeZone)),
    untilMs: until ?? (untilDay === undefined ? OPEN_END : dayEnd(untilDay, timeZone)),
    cell: query.cell ?? null,
    runs: query.runs ?? 'first',
  };
}

/** In place of the end of a window that has none. */
const OPEN_END = Number.MAX_SAFE_INTEGER;

/** A window's ends for people; null where it is open. */
export function presentWindow({ fromMs, untilMs }: Selection): z.input<typeof windowShape> {
  return {
    from: fromMs === 0 ? null : iso(fromMs),
    until: untilMs === OPEN_END ? null : iso(untilMs),
  };
}

/** Where the readings behind a figure are listed. */
export function readingsLink(
  filter: SeriesFilter,
  more: { beyond?: Beyond; valueFrom?: number; valueUntil?: number; revision?: number } = {},
): string {
  const { from, until } = presentWindow(filter);
  const members = { from, until, cell: filter.cell, runs: filter.runs, ...more };
  const [model, characteristic] = [filter.model, filter.code].map(encodeURIComponent);
  return `/v1/models/${model}/characteristics/${characteristic}/readings?${queryOf(members)}`;
}

/** Where all figures of a characteristic are. */
export function capabilityLink(filter: SeriesFilter, subgroup: number | null): string {
  const { from, until } = presentWindow(filter);
  const { model, code: characteristic, cell, runs } = filter;
  return `/v1/capability?${queryOf({ model, characteristic, from, until, cell, runs, subgroup })}`;
}

/** Members as a query, without those that say nothing. */
function queryOf(members: Record<string, string | number | null | undefined>): URLSearchParams {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(members)) {
    if (value !== null && value !== undefined) query.set(name, String(value));
  }
  return query;
}

export const windowShape = z
  .strictObject({
    from: timeOf.nullable().meta({ description: 'Included; null where the window is open.' }),
    until: timeOf.nullable().meta({ description: 'Excluded; null where the window is open.' }),
  })
  .meta({ id: 'RunWindow', description: 'By the ends of the runs.' });

export const readingsLinkShape = z
  .string()
  .meta({ description: 'Address of the readings behind the figure, each with run and motor.' });

/** Why figures are null, in words. */
export const reasonShape = z
  .string()
  .nullable()
  .meta({ description: 'Why figures beside it are null; null where none is.' });

export const figureShape = z.number().nullable();

export const characteristicHead = z
  .strictObject({
    code: z.string(),
    name: z.string(),
    kind: z.enum(['measured', 'derived']),
    unit: z.string().meta({ description: 'UCUM code; of every value and limit here.' }),
    decimals: z.int().meta({ description: 'For showing only.' }),
    specification: z.int().meta({ description: 'The newest approved one that has it.' }),
    revision: z.int().meta({ description: 'Its revision, from which all limits here come.' }),
  })
  .meta({ id: 'CharacteristicHead' });

export const readingLine = z
  .strictObject({
    run: z.int(),
    motor: z.string(),
    cell: z.string(),
    endedAt: timeOf,
    attempt: z.int().nullable(),
    revision: z.int().meta({ description: 'Of the specification that judged the run.' }),
    value: z.number(),
    unit: z.string(),
    withinSpecification: z
      .boolean()
      .meta({ description: 'By the specification limits of the newest revision.' }),
    withinAcceptance: z
      .boolean()
      .meta({ description: 'By the acceptance limits of the newest revision.' }),
  })
  .meta({ id: 'CharacteristicReading' });
export const readingPage = page(readingLine);
