import type { z } from 'zod';
import { decodeCursor, pageById } from '../http/cursor.js';
import { command, question, type Route, table } from '../http/route.js';
import { PAGE_DEFAULT } from '../http/shapes.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { dayEnd, dayStart } from '../time.js';
import {
  acknowledgeSignal,
  baselineAsked,
  existingChart,
  openChart,
  replaceBaseline,
  replacementAsked,
  retireChart,
} from './actions.js';
import type { BaselineFound } from './baseline-questions.js';
import type { PointsAsked, PointsFound } from './questions.js';
import type { ChartRow } from './records.js';
import {
  acknowledgementAnswer,
  acknowledgementDraft,
  baselineReplacement,
  chartDetail,
  chartDraft,
  chartPage,
  chartParams,
  chartQuery,
  chartShape,
  chartSignalQuery,
  pointPage,
  pointQuery,
  pointShape,
  presentChart,
  presentChartDetail,
  presentSignal,
  retirementDraft,
  signalPage,
  signalParams,
  signalQuery,
  signalShape,
} from './schema.js';

const tag = 'Control charts';

const detailOf = (plant: Plant, row: ChartRow) =>
  presentChartDetail(row, plant.charts.baselines(row.id));

export const chartRoutes: readonly Route[] = [
  command({
    path: '/v1/charts',
    tag,
    summary: 'Open a control chart and freeze its baseline',
    description:
      'Every run completed from then on is judged by the frozen baseline as its completion is recorded, one after the other in that order. No later run changes the baseline.',
    roles: ['quality'],
    body: chartDraft,
    answer: chartDetail,
    problems: [
      'model-unknown',
      'characteristic-unknown',
      'baseline-not-possible',
      'question-too-long',
    ],
    prepare: ({ body }, asking) =>
      asking
        .inWorker<BaselineFound>('chart-baseline', baselineAsked(body, asking))
        .catch(refusalOf),
    act: (context, { body, prepared }) => {
      const row = openChart(context, body, prepared as BaselineFound | Problem);
      return { body: detailOf(context.plant, row), location: `/v1/charts/${row.id}` };
    },
  }),
  table({
    path: '/v1/charts',
    tag,
    summary: 'Control charts with their open signals',
    query: chartQuery,
    item: chartShape,
    answer: chartPage,
    ask: (plant, { query }) => {
      const filter = {
        model: query.model ?? null,
        cell: query.cell ?? null,
        retired: query.state === undefined ? null : Number(query.state === 'retired'),
      };
      return pageById(
        query,
        (after, limit) => plant.charts.list(filter, after, limit),
        presentChart,
      );
    },
  }),
  question({
    path: '/v1/charts/{chart}',
    tag,
    summary: 'One chart: its definition, where it stands, and every baseline that it had',
    params: chartParams,
    answer: chartDetail,
    problems: ['chart-unknown'],
    ask: (plant, { params }) => detailOf(plant, existingChart(plant, params.chart)),
  }),
  command({
    path: '/v1/charts/{chart}/baseline',
    tag,
    summary: 'Freeze another baseline, with the reason; the earlier ones are kept',
    description:
      'The chart starts anew: points are counted from 1, sums and averages from nothing. So it also restarts a CUSUM whose cause was found. What waited for its subgroup or day to be whole is not judged.',
    roles: ['quality'],
    status: 200,
    params: chartParams,
    body: baselineReplacement,
    answer: chartDetail,
    problems: [
      'chart-unknown',
      'chart-retired',
      'characteristic-unknown',
      'baseline-not-possible',
      'question-too-long',
    ],
    prepare: async ({ params, body }, asking, plant) => {
      try {
        const asked = replacementAsked(plant, params.chart, body, asking);
        return await asking.inWorker<BaselineFound>('chart-baseline', asked);
      } catch (error) {
        return refusalOf(error);
      }
    },
    act: (context, { params, body, prepared }) => {
      const row = replaceBaseline(context, params.chart, body, prepared as BaselineFound | Problem);
      return { body: detailOf(context.plant, row) };
    },
  }),
  command({
    path: '/v1/charts/{chart}/retirement',
    tag,
    summary: 'Retire a chart: nothing more is judged by it',
    roles: ['quality'],
    status: 200,
    params: chartParams,
    body: retirementDraft,
    answer: chartDetail,
    problems: ['chart-unknown', 'chart-retired'],
    act: (context, { params, body }) => ({
      body: detailOf(context.plant, retireChart(context, params.chart, body.reason)),
    }),
  }),
  table({
    path: '/v1/charts/{chart}/points',
    tag,
    summary: 'The points of a chart with limits, signals and runs',
    description:
      'Judged again from the runs that the chart took, in the order in which their completions were recorded. On p and u charts the runs of a plant day make one point, judged when the first run of a later day completes; a run of an earlier day that is recorded late counts to the day that is open then.',
    params: chartParams,
    query: pointQuery,
    item: pointShape,
    answer: pointPage,
    problems: ['chart-unknown', 'baseline-unknown', 'question-too-long'],
    ask: async (_plant, { params, query }, { inWorker, settings }) => {
      const { timeZone } = settings;
      const [after] = query.after ? decodeCursor(query.after, ['number']) : [0];
      const asked: PointsAsked = {
        chart: params.chart,
        baseline: query.baseline ?? null,
        fromMs: query.fromDay ? dayStart(query.fromDay, timeZone) : 0,
        untilMs: query.untilDay ? dayEnd(query.untilDay, timeZone) : Number.MAX_SAFE_INTEGER,
        fromPoint: query.fromPoint ?? 1,
        untilPoint: query.untilPoint ?? Number.MAX_SAFE_INTEGER,
        last: query.last ?? null,
        after: Number(after),
        limit: query.limit ?? PAGE_DEFAULT,
      };
      const { items, more } = await inWorker<PointsFound>('chart-points', asked);
      const end = items.at(-1);
      return { items, last: more && end ? [end.number] : null };
    },
  }),
  table({
    path: '/v1/charts/{chart}/signals',
    tag,
    summary: 'The signals of a chart',
    params: chartParams,
    query: chartSignalQuery,
    item: signalShape,
    answer: signalPage,
    problems: ['chart-unknown'],
    ask: (plant, { params, query }) => {
      existingChart(plant, params.chart);
      return signalsOf(plant, query, { chart: params.chart });
    },
  }),
  table({
    path: '/v1/signals',
    tag,
    summary: 'Signals of all charts, filtered',
    query: signalQuery,
    item: signalShape,
    answer: signalPage,
    ask: (plant, { query }) => signalsOf(plant, query, query),
  }),
  command({
    path: '/v1/signals/{signal}/acknowledgement',
    tag,
    summary: 'Acknowledge a signal, with what was found and done',
    roles: ['quality'],
    status: 200,
    params: signalParams,
    body: acknowledgementDraft,
    answer: acknowledgementAnswer,
    problems: ['signal-unknown', 'signal-acknowledged'],
    act: (context, { params, body }) => ({
      body: { acknowledged: acknowledgeSignal(context, params.signal, body) },
    }),
  }),
];

/** A refusal, to be answered by the action, so that it is kept for a repeated request. */
function refusalOf(error: unknown): Problem {
  if (error instanceof Problem) return error;
  throw error;
}

function signalsOf(
  plant: Plant,
  query: z.output<typeof chartSignalQuery>,
  of: { chart?: number; model?: string | undefined; cell?: string | undefined },
) {
  const filter = {
    chart: of.chart ?? null,
    model: of.model ?? null,
    cell: of.cell ?? null,
    acknowledged: query.state === undefined ? null : Number(query.state === 'acknowledged'),
  };
  return pageById(
    query,
    (after, limit) => plant.charts.signals(filter, after, limit),
    presentSignal,
  );
}
