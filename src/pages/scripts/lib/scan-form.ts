import { keepFocus } from './focus.js';
import { byId } from './page.js';
import { takeControlCharacters } from './scanner.js';

/**
 * Takes what a scanner types into a form of `scanForm` (src/pages/parts-scan.ts), one scan
 * after the other: the field is empty again at once, and has the focus.
 * @returns a function that puts the focus into the field
 */
export function takesScans(id: string, take: (text: string) => Promise<void>): () => void {
  const field = byId<HTMLInputElement>(id);
  const back = keepFocus(field);
  let before: Promise<void> = Promise.resolve();
  takeControlCharacters(field);
  byId<HTMLFormElement>(`${id}-form`).addEventListener('submit', (event) => {
    event.preventDefault();
    const text = field.value.trim();
    field.value = '';
    back();
    if (text === '') return;
    before = before.catch(() => undefined).then(() => take(text));
  });
  return back;
}
