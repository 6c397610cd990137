import { formatIn } from '../../format.js';
import { wordsOf } from '../../words/words.js';

const root = document.documentElement;

/** The words and formats of the page that this script runs in. */
export const words = wordsOf(root.lang);
export const format = formatIn(words, root.dataset.timeZone ?? 'UTC');

/** The plain data that the page carries for its script (`data` of its view). */
export function pageData<T>(): T {
  return JSON.parse(byId('page-data').textContent ?? 'null') as T;
}

/** The element that the page's markup has under an id. @throws Error when it has none */
export function byId<E extends HTMLElement = HTMLElement>(id: string): E {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found as E;
}
