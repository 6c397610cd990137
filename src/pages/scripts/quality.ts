import { pageData } from './lib/page.js';
import { actOnChart, openCharts } from './quality/acting.js';
import { showBehind } from './quality/behind.js';
import { showCapability } from './quality/capability.js';
import { showCells } from './quality/cells.js';
import { showControlChart } from './quality/control-chart.js';
import { showOverview } from './quality/overview.js';
import { type Asked, fill, type Show } from './quality/panel.js';
import { showPareto } from './quality/pareto.js';
import {
  showCures,
  showLoops,
  showNoFault,
  showRefails,
  showTimes,
  showWaitingAges,
} from './quality/rework.js';
import { showTrial } from './quality/trial.js';
import {
  showRefusedSets,
  showWay,
  showYieldOverTime,
  showYieldSideBySide,
} from './quality/yield.js';

/** How each answer is shown, by the name that the page gives its question. */
const shows: Readonly<Record<string, Show>> = {
  'yield-over-time': showYieldOverTime,
  'yield-side-by-side': showYieldSideBySide,
  way: showWay,
  'refused-sets': showRefusedSets,
  pareto: showPareto,
  loops: showLoops,
  'waiting-ages': showWaitingAges,
  times: showTimes,
  cures: showCures,
  refails: showRefails,
  'no-fault': showNoFault,
  'capability-overview': showOverview,
  capability: showCapability,
  cells: showCells,
  'control-chart': showControlChart,
  trial: showTrial,
  behind: showBehind,
};

interface Data {
  asked: Asked[];
  chart?: number;
}

if (document.getElementById('page-data')) {
  const { asked, chart } = pageData<Data>();
  for (const one of asked) {
    const show = shows[one.show];
    if (show) void fill(one, show);
  }
  if (chart !== undefined) actOnChart(chart);
  openCharts();
}
