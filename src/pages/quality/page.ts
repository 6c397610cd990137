import { z } from 'zod';
import { code, idText } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { Problem } from '../../problems.js';
import { type Screen, screen, type View, type Viewing } from '../screen.js';
import { behindView, runsView } from './behind.js';
import { capabilityView } from './capability.js';
import { cellsView } from './cells.js';
import { chartView } from './chart.js';
import { chartsView } from './charts.js';
import { paretoView } from './pareto.js';
import { type QualityQuery, qualityQuery } from './query.js';
import { reworkView } from './rework.js';
import { trialView } from './trial.js';
import { yieldView } from './yield.js';

type ShowView = (plant: Plant, query: QualityQuery, viewing: Viewing) => View;

const pages: Readonly<Record<string, ShowView>> = {
  pareto: paretoView,
  rework: reworkView,
  cells: cellsView,
  capability: capabilityView,
  charts: chartsView,
  trial: trialView,
  behind: behindView,
  runs: runsView,
};

const shared = { name: 'quality', roles: 'any', startFor: [] } as const;

/** Quality's numbers: first-pass yield at `/quality`, and the pages below it. */
export const quality: readonly Screen[] = [
  screen({
    ...shared,
    path: '/quality',
    startFor: ['quality'],
    query: qualityQuery,
    show: (plant, { query }, viewing) => yieldView(plant, query, viewing),
  }),
  screen({
    ...shared,
    path: '/quality/{page}',
    params: z.strictObject({ page: code }),
    query: qualityQuery,
    show: (plant, { params, query }, viewing) => {
      const show = Object.hasOwn(pages, params.page) ? pages[params.page] : undefined;
      if (!show) throw new Problem('route-unknown', viewing.words.quality.noPage);
      return show(plant, query, viewing);
    },
  }),
  screen({
    ...shared,
    path: '/quality/charts/{chart}',
    params: z.strictObject({ chart: idText }),
    query: z.strictObject({ baseline: idText.optional(), last: idText.optional() }),
    show: (plant, { params, query }, viewing) => chartView(plant, params.chart, query, viewing),
  }),
];
