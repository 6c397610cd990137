import { common } from './common.js';
import { setStation } from './set-station.js';

/** Every word that a person reads on the pages, in English: a file for each screen. */
export const en = { language: 'en', ...common, setStation };
