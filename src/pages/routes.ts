import { configuration, configurationDraft } from './catalogue/configuration.js';
import { model } from './catalogue/model.js';
import { catalogue } from './catalogue/page.js';
import { specification } from './catalogue/specification.js';
import { specificationDraft } from './catalogue/specification-draft.js';
import { history } from './history/page.js';
import { readings } from './history/readings.js';
import { live } from './live/page.js';
import { quality } from './quality/page.js';
import { repairBench } from './repair-bench/page.js';
import { repairPage } from './repair-bench/repair.js';
import type { Screen } from './screen.js';
import { setStation } from './set-station/page.js';
import { testCell } from './test-cell/page.js';

/** Every screen, in the order of the navigation. */
export const screens: readonly Screen[] = [
  setStation,
  testCell,
  repairBench,
  repairPage,
  history,
  readings,
  ...quality,
  ...live,
  catalogue,
  model,
  configuration,
  configurationDraft,
  specification,
  specificationDraft,
];
