import { z } from 'zod';
import { code, day, idText, page, pageQuery, reason, stationName, timeOf } from '../http/shapes.js';
import {
  nelsonRules,
  type RunRule,
  runRules,
  westernElectricRules,
} from '../statistics/run-rules.js';
import { iso, isoOrNull } from '../time.js';
import { BASELINE_POINTS_MIN, type ChartOptions } from './baseline-rules.js';
import type { BaselineRow, ChartRow, SignalRow } from './records.js';
import { chartKinds, figures, type Point, type Yardstick } from './rules.js';

/** Days that a baseline spans at most, and values that it takes. */
export const BASELINE_DAYS_LIMIT = 366;
export const BASELINE_VALUES_LIMIT = 10_000;
const DAY_MS = 24 * 60 * 60 * 1000;

export const chartParams = z.strictObject({ chart: idText });
export const signalParams = z.strictObject({ signal: idText });

const baselineDraft = z
  .strictObject({
    fromDay: day.optional(),
    untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
    last: z
      .int()
      .min(BASELINE_POINTS_MIN)
      .max(BASELINE_VALUES_LIMIT)
      .optional()
      .meta({
        description: `Instead of days: the last so many values, on p and u charts days with runs, of the last ${BASELINE_DAYS_LIMIT} days.`,
      }),
  })
  .refine(
    ({ fromDay, untilDay, last }) =>
      last === undefined
        ? fromDay !== undefined && untilDay !== undefined
        : fromDay === undefined && untilDay === undefined,
    'takes either fromDay with untilDay, or last',
  )
  .refine(({ fromDay = '', untilDay = '' }) => fromDay <= untilDay, 'must not end before it begins')
  .refine(
    ({ fromDay, untilDay }) => daysBetween(fromDay, untilDay) < BASELINE_DAYS_LIMIT,
    `must not span more than ${BASELINE_DAYS_LIMIT} days`,
  )
  .meta({
    id: 'ChartBaselineDraft',
    description: `Which runs set the limits: a period, or the last values. At least ${BASELINE_POINTS_MIN} points; 20 and more make better limits.`,
  });

function daysBetween(fromDay: string | undefined, untilDay: string | undefined): number {
  if (fromDay === undefined || untilDay === undefined) return 0;
  return (Date.parse(untilDay) - Date.parse(fromDay)) / DAY_MS;
}

const runRule = z.enum(runRules);
const rules = z
  .union([
    z.enum(['western-electric', 'nelson']),
    z
      .array(runRule)
      .min(1)
      .refine((all) => new Set(all).size === all.length, 'must not name a rule twice'),
  ])
  .optional()
  .meta({
    description:
      'What to look for: a published set by its name, or single rules. `beyond-three-sigma` alone unless said. They judge the value, mean, share or rate; a moving range, range or standard deviation is judged by its limits alone.',
  });

const terms = {
  model: code,
  cell: stationName.optional().meta({ description: 'Runs of this cell alone.' }),
  runs: z.enum(['first', 'all']).meta({
    description: '`first`: each motor’s first completed run alone; `all`: repeated runs too.',
  }),
  baseline: baselineDraft,
};
const characteristic = code.meta({
  description: 'A measured or derived characteristic of the model’s specifications.',
});
const subgroupSize = z
  .int()
  .min(2)
  .max(25)
  .meta({ description: 'Consecutive runs that make one subgroup.' });

export const chartDraft = z
  .discriminatedUnion('kind', [
    z.strictObject({
      kind: z.literal('individuals').meta({ description: 'Single values and moving range.' }),
      ...terms,
      characteristic,
      rules,
    }),
    z.strictObject({
      kind: z.literal('xbar-r').meta({ description: 'Means and ranges of subgroups.' }),
      ...terms,
      characteristic,
      subgroupSize,
      rules,
    }),
    z.strictObject({
      kind: z.literal('xbar-s').meta({ description: 'Means and standard deviations.' }),
      ...terms,
      characteristic,
      subgroupSize,
      rules,
    }),
    z.strictObject({
      kind: z.literal('p').meta({ description: 'Share of runs that failed, by plant day.' }),
      ...terms,
      rules,
    }),
    z.strictObject({
      kind: z.literal('u').meta({
        description: 'Characteristics a run that did not conform, by plant day.',
      }),
      ...terms,
      rules,
    }),
    z.strictObject({
      kind: z.literal('ewma').meta({ description: 'Exponentially weighted moving average.' }),
      ...terms,
      characteristic,
      weight: z
        .number()
        .gt(0)
        .max(1)
        .optional()
        .meta({ description: 'λ, the weight of the newest value; 0.2 unless said.' }),
      width: z.number().gt(0).max(100).optional().meta({
        description: 'L: the limits, in standard deviations of the average; 3 unless said.',
      }),
      variance: z.enum(['exact', 'asymptotic']).optional().meta({
        description:
          'Limits by each point’s own variance, which grows over the first points, or by the asymptotic one throughout; exact unless said.',
      }),
    }),
    z.strictObject({
      kind: z.literal('cusum').meta({ description: 'Tabular cumulative sums, both sides.' }),
      ...terms,
      characteristic,
      target: z.number().min(-1e15).max(1e15).optional().meta({
        description: 'In the characteristic’s unit; the mean of the baseline unless said.',
      }),
      allowance: z.number().min(0).max(100).optional().meta({
        description: 'k, in sigmas: so much off the target is let pass; 0.5 unless said.',
      }),
      decisionInterval: z
        .number()
        .gt(0)
        .max(1000)
        .optional()
        .meta({ description: 'h, in sigmas: a sum beyond it signals; 5 unless said.' }),
    }),
  ])
  .meta({ id: 'ChartDraft' });
export type ChartDraft = z.output<typeof chartDraft>;

export const baselineReplacement = z
  .strictObject({ baseline: baselineDraft, reason })
  .meta({ id: 'ChartBaselineReplacement' });
export const retirementDraft = z.strictObject({ reason }).meta({ id: 'ChartRetirement' });
export const acknowledgementDraft = z
  .strictObject({
    reason: reason.meta({ description: 'What was found and done, in words; it stands for good.' }),
    withEarlier: z.boolean().optional().meta({
      description:
        'Acknowledges the chart’s open signals before this one too: a lasting shift signals at every point.',
    }),
  })
  .meta({ id: 'SignalAcknowledgement' });

const number = z.number().nullable();
const centreAndLimits = {
  centre: number,
  lower: number.meta({ description: 'Lower control limit.' }),
  upper: number.meta({ description: 'Upper control limit.' }),
  spreadCentre: number,
  spreadLower: number,
  spreadUpper: number,
};

const baselineShape = z
  .strictObject({
    number: z.int(),
    inForce: z.boolean(),
    frozenAt: timeOf,
    frozenBy: z.string(),
    reason: z.string().nullable().meta({ description: 'Why it replaced the one before.' }),
    fromDay: day.nullable(),
    untilDay: day.nullable(),
    last: z.int().nullable(),
    runs: z.int().meta({ description: 'Runs that it was computed from.' }),
    points: z.int().meta({ description: 'Points that these made.' }),
    firstRun: z.int(),
    lastRun: z.int(),
    from: timeOf.meta({ description: 'When the first of these runs ended.' }),
    until: timeOf.meta({ description: 'When the last of them ended.' }),
    signalling: z.int().meta({
      description:
        'Of its own points, those that meet a rule of the chart: where there are any, find their cause before you trust the limits.',
    }),
    sigma: number.meta({
      description: 'Of a single value; null on p and u charts, where it follows from the size.',
    }),
    ...centreAndLimits,
    allowance: number.meta({ description: 'CUSUM: k in the unit.' }),
    decisionInterval: number.meta({ description: 'CUSUM: h in the unit.' }),
  })
  .meta({ id: 'ChartBaseline' });

const chartFields = {
  id: z.int(),
  model: z.string(),
  kind: z.enum(chartKinds),
  characteristic: z.string().nullable(),
  unit: z.string().nullable().meta({ description: 'UCUM code; null on p and u charts.' }),
  cell: z.string().nullable(),
  runs: z.enum(['first', 'all']),
  baseline: z.int().meta({ description: 'The baseline in force.' }),
  frozenAt: timeOf.meta({ description: 'Since when it is in force.' }),
  points: z.int().meta({ description: 'Points judged by it.' }),
  openSignals: z.int().meta({ description: 'Signals that nobody has acknowledged.' }),
  openedAt: timeOf,
  openedBy: z.string(),
  retiredAt: timeOf.nullable(),
  retiredBy: z.string().nullable(),
  retireReason: z.string().nullable(),
};
export const chartShape = z.strictObject(chartFields).meta({ id: 'Chart' });
export const chartPage = page(chartShape);

export const chartDetail = z
  .strictObject({
    ...chartFields,
    subgroupSize: z.int().nullable(),
    rules: z.array(runRule).meta({ description: 'Empty on EWMA and CUSUM charts.' }),
    weight: number.meta({ description: 'EWMA: λ.' }),
    width: number.meta({ description: 'EWMA: L, in standard deviations of the average.' }),
    variance: z.enum(['exact', 'asymptotic']).nullable(),
    target: number.meta({ description: 'CUSUM: null for the mean of the baseline.' }),
    allowance: number.meta({ description: 'CUSUM: k, in sigmas.' }),
    decisionInterval: number.meta({ description: 'CUSUM: h, in sigmas.' }),
    runsTaken: z.int().meta({ description: 'Runs taken since the baseline was frozen.' }),
    runsWaiting: z.int().meta({
      description: 'Of these, runs of the subgroup or day that is not whole yet.',
    }),
    openDay: day.nullable().meta({
      description: 'The day that is being counted: judged when a run of a later day completes.',
    }),
    baselines: z.array(baselineShape).meta({ description: 'All that it had, oldest first.' }),
    link: z.string().meta({ description: 'Its points.' }),
  })
  .meta({ id: 'ChartDetail' });

export const chartQuery = z.strictObject({
  ...pageQuery,
  model: code.optional(),
  cell: code.optional().meta({ description: 'Charts of this cell alone.' }),
  state: z.enum(['active', 'retired']).optional(),
});

const signalRule = z
  .enum([...runRules, 'beyond-limits', 'beyond-decision-interval'])
  .meta({ description: 'Which rule was met.' });
const direction = z.enum(['above', 'below', 'rising', 'falling']).nullable().meta({
  description: 'Where the pattern lies or leads; null where it has no side.',
});
const figure = z.enum(figures).meta({ description: 'Which plotted figure met it.' });
const patternRuns = z.array(z.int()).meta({
  description:
    'The runs of the points that make the pattern, the newest last; on p and u charts each day’s last run; on a CUSUM the run since which the sum is above 0, and the newest.',
});

export const signalShape = z
  .strictObject({
    id: z.int(),
    chart: z.int(),
    model: z.string(),
    kind: z.enum(chartKinds),
    characteristic: z.string().nullable(),
    cell: z.string().meta({ description: 'The cell of the point’s last run.' }),
    baseline: z.int(),
    point: z.int().meta({ description: 'Counted from 1 since the baseline was frozen.' }),
    at: timeOf.meta({
      description: 'When the point’s last run ended, on p and u charts the latest.',
    }),
    run: z.int().meta({ description: 'The point’s last run.' }),
    figure,
    rule: signalRule,
    direction,
    value: z.number().meta({ description: 'The figure at the point.' }),
    runs: patternRuns,
    link: z.string().meta({ description: 'The point with all its runs.' }),
    acknowledgedAt: timeOf.nullable(),
    acknowledgedBy: z.string().nullable(),
    reason: z.string().nullable(),
  })
  .meta({ id: 'ChartSignal' });
export const signalPage = page(signalShape);

export const acknowledgementAnswer = z
  .strictObject({ acknowledged: z.array(z.int()).meta({ description: 'Ids of the signals.' }) })
  .meta({ id: 'AcknowledgedSignals' });

const signalState = z.enum(['open', 'acknowledged']).optional();
export const chartSignalQuery = z.strictObject({ ...pageQuery, state: signalState });
export const signalQuery = z.strictObject({
  ...pageQuery,
  state: signalState,
  model: code.optional(),
  cell: code.optional().meta({ description: 'Signals whose point’s last run was in this cell.' }),
});

export const pointShape = z
  .strictObject({
    number: z.int().meta({ description: 'Counted from 1 since the baseline was frozen.' }),
    at: timeOf.meta({ description: 'When its last run ended, on p and u charts the latest.' }),
    day: day.nullable().meta({ description: 'On p and u charts.' }),
    size: z.int().meta({ description: 'How many runs it stands for.' }),
    value: z.number().meta({
      description:
        'The value, the subgroup’s mean, the share of failed runs (p), or failed characteristics a run (u). A value beyond a billion sigmas stands as that.',
    }),
    centre: z.number(),
    lower: number.meta({
      description: 'Lower control limit at this point, on an EWMA chart of the average.',
    }),
    upper: number.meta({ description: 'Upper control limit likewise; null on a CUSUM.' }),
    spread: number.meta({ description: 'Moving range, range or standard deviation.' }),
    spreadCentre: number,
    spreadLower: number,
    spreadUpper: number,
    average: number.meta({ description: 'EWMA: the average.' }),
    highSum: number.meta({ description: 'CUSUM: the sum of what lies above the target.' }),
    lowSum: number,
    decisionInterval: number.meta({ description: 'CUSUM: the limit of both sums.' }),
    signals: z.array(
      z.strictObject({
        figure,
        rule: signalRule,
        direction,
        value: z.number(),
        runs: patternRuns,
      }),
    ),
    runs: z.array(z.int()).meta({ description: 'Every run that it stands for.' }),
  })
  .meta({ id: 'ChartPoint' });
export const pointPage = page(pointShape);

const wholeNumber = (max: number) =>
  z
    .string()
    .regex(/^\d{1,9}$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.int().min(1).max(max));
export const pointQuery = z.strictObject({
  ...pageQuery,
  baseline: idText
    .optional()
    .meta({ description: 'Points judged by this baseline; by the one in force unless said.' }),
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
  fromPoint: idText.optional(),
  untilPoint: idText.optional().meta({ description: 'The last point, counted too.' }),
  last: wholeNumber(1_000_000)
    .optional()
    .meta({ description: 'Of the points asked for, only the last so many.' }),
});

/** The published set that a name stands for, or the single rules that were named. */
export function rulesOf(asked: z.output<typeof rules>): readonly RunRule[] {
  if (asked === 'western-electric') return westernElectricRules;
  if (asked === 'nelson') return nelsonRules;
  return asked ?? ['beyond-three-sigma'];
}

export function presentChart(row: ChartRow): z.input<typeof chartShape> {
  return {
    id: row.id,
    model: row.model,
    kind: row.kind,
    characteristic: row.characteristic,
    unit: row.unit,
    cell: row.cell,
    runs: row.runs,
    baseline: row.baseline,
    frozenAt: iso(row.frozenAtMs),
    points: row.state.points,
    openSignals: row.openSignals,
    openedAt: iso(row.openedAtMs),
    openedBy: row.openedBy,
    retiredAt: isoOrNull(row.retiredAtMs),
    retiredBy: row.retiredBy,
    retireReason: row.retireReason,
  };
}

export function presentChartDetail(
  row: ChartRow,
  baselines: readonly BaselineRow[],
): z.input<typeof chartDetail> {
  const { open } = row.state;
  return {
    ...presentChart(row),
    ...presentOptions(row.options),
    runsTaken: row.taken,
    runsWaiting: waitingIn(open),
    openDay: open && 'day' in open ? open.day : null,
    baselines: baselines.map((one) => presentBaseline(one, one.number === row.baseline)),
    link: `/v1/charts/${row.id}/points`,
  };
}

function waitingIn(open: ChartRow['state']['open']): number {
  if (!open) return 0;
  return 'day' in open ? open.size : open.runs.length;
}

function presentOptions(options: ChartOptions) {
  return {
    subgroupSize: 'subgroupSize' in options ? options.subgroupSize : null,
    rules: 'rules' in options ? [...options.rules] : [],
    weight: options.kind === 'ewma' ? options.weight : null,
    width: options.kind === 'ewma' ? options.width : null,
    variance: options.kind === 'ewma' ? options.variance : null,
    target: options.kind === 'cusum' ? options.target : null,
    allowance: options.kind === 'cusum' ? options.allowance : null,
    decisionInterval: options.kind === 'cusum' ? options.decisionInterval : null,
  };
}

function presentBaseline(row: BaselineRow, inForce: boolean): z.input<typeof baselineShape> {
  const { baseline } = row.yardstick;
  const limits = 'limits' in baseline ? baseline.limits : null;
  return {
    number: row.number,
    inForce,
    frozenAt: iso(row.frozenAtMs),
    frozenBy: row.frozenBy,
    reason: row.reason,
    fromDay: row.chosen.fromDay,
    untilDay: row.chosen.untilDay,
    last: row.chosen.last,
    runs: row.runs,
    points: row.points,
    firstRun: row.firstRun,
    lastRun: row.lastRun,
    from: iso(row.fromMs),
    until: iso(row.untilMs),
    signalling: row.signalling,
    sigma: 'sigma' in baseline ? baseline.sigma : null,
    centre: baseline.centre,
    lower: limits?.lower ?? null,
    upper: limits?.upper ?? null,
    ...presentSpread(row.yardstick),
    allowance: row.yardstick.kind === 'cusum' ? row.yardstick.baseline.allowance : null,
    decisionInterval: decisionIntervalOf(row.yardstick),
  };
}

function presentSpread(yardstick: Yardstick) {
  const spread = spreadOf(yardstick);
  return {
    spreadCentre: spread?.centre ?? null,
    spreadLower: spread?.limits.lower ?? null,
    spreadUpper: spread?.limits.upper ?? null,
  };
}

function spreadOf(yardstick: Yardstick) {
  if (yardstick.kind === 'individuals') return yardstick.baseline.movingRange;
  return 'spreadChart' in yardstick.baseline ? yardstick.baseline.spreadChart : null;
}

function decisionIntervalOf(yardstick: Yardstick): number | null {
  return yardstick.kind === 'cusum' ? yardstick.baseline.decisionInterval : null;
}

export function presentSignal(row: SignalRow): z.input<typeof signalShape> {
  return {
    id: row.id,
    chart: row.chart,
    model: row.model,
    kind: row.kind,
    characteristic: row.characteristic,
    cell: row.cell,
    baseline: row.baseline,
    point: row.point,
    at: iso(row.atMs),
    run: row.runId,
    figure: row.figure,
    rule: row.rule,
    direction: row.direction,
    value: row.value,
    runs: row.runs,
    link: `/v1/charts/${row.chart}/points?baseline=${row.baseline}&fromPoint=${row.point}&untilPoint=${row.point}`,
    acknowledgedAt: isoOrNull(row.acknowledgedAtMs),
    acknowledgedBy: row.acknowledgedBy,
    reason: row.reason,
  };
}

/** A point with every run that it stands for. */
export interface PlottedPoint extends Point {
  runs: readonly number[];
}

export function presentPoint(
  { yardstick }: BaselineRow,
  point: PlottedPoint,
): z.input<typeof pointShape> {
  return {
    number: point.number,
    at: iso(point.sample.atMs),
    day: point.sample.day,
    size: point.sample.size,
    value: point.value,
    centre: point.centre,
    lower: point.limits?.lower ?? null,
    upper: point.limits?.upper ?? null,
    spread: point.spread,
    ...presentSpread(yardstick),
    average: point.average,
    highSum: point.highSum,
    lowSum: point.lowSum,
    decisionInterval: decisionIntervalOf(yardstick),
    signals: point.signals.map((signal) => ({ ...signal, runs: [...signal.runs] })),
    runs: [...point.runs],
  };
}
