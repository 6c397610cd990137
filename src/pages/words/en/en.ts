import { catalogue } from './catalogue.js';
import { common } from './common.js';
import { history } from './history.js';
import { live } from './live.js';
import { quality } from './quality.js';
import { reading } from './reading.js';
import { repairBench } from './repair-bench.js';
import { setStation } from './set-station.js';
import { testCell } from './test-cell.js';

/** Every word that a person reads on the pages, in English: a file for each screen. */
export const en = {
  language: 'en',
  ...common,
  setStation,
  testCell,
  repairBench,
  reading,
  history,
  quality,
  live,
  catalogue,
};
