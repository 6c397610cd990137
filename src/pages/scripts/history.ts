import { followAsOf } from './history/as-of.js';
import { readyToContain } from './history/contain.js';
import { drawPopulations } from './history/populations.js';
import { keepFocus } from './lib/focus.js';
import { byId } from './lib/page.js';
import { openForPrint } from './lib/print.js';
import { takeControlCharacters } from './lib/scanner.js';

const search = document.getElementById('serial') as HTMLInputElement | null;
if (search) {
  takeControlCharacters(search);
  keepFocus(search);
  // What was not found stands there to be read; the next scan takes its place.
  search.select();
}
if (document.getElementById('record')) {
  followAsOf(drawPopulations);
  drawPopulations();
  openForPrint('#record details:not(.chart details, #contain)');
}
if (document.getElementById('contain-form')) readyToContain(byId('contain-form'));
