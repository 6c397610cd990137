import { tell, tellProblem, tellUnanswered } from './answer.js';
import { command } from './api.js';
import { words } from './page.js';

interface Sending<T> {
  /** The address of the interface; asked for at every send. */
  address: string | (() => string);
  method?: 'POST' | 'PUT';
  /** What the form's fields mean; they are sent as text, empty ones left out, where not given. */
  body?: (fields: FormData) => unknown;
  headers?: () => Record<string, string>;
  /** What follows when it was carried out: tell, clear, refresh. */
  done: (body: T) => void | Promise<void>;
}

/** Sends a form as a command of the interface, and shows what came of it. */
export function sendsCommand<T>(form: HTMLFormElement, sending: Sending<T>): void {
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const { address, method, body = filledFields, headers, done } = sending;
    const where = typeof address === 'string' ? address : address();
    const wasFree = setBusy(form, true);
    if (!wasFree) return;
    const answer = await command<T>(where, body(new FormData(form)), method, headers?.());
    setBusy(form, false);
    if (answer.kind === 'refused') await tellProblem(answer.problem);
    else if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
    else await done(answer.body);
  });
}

/** Marks a form as being sent; false where it was being sent already. */
function setBusy(form: HTMLFormElement, busy: boolean): boolean {
  if (busy && form.getAttribute('aria-busy') === 'true') return false;
  form.setAttribute('aria-busy', String(busy));
  return true;
}

/** Text fields as a body: a name that ends in `[]` makes a list, an empty field is left out. */
export function filledFields(fields: FormData): Record<string, string | string[]> {
  const body: Record<string, string | string[]> = {};
  for (const name of new Set(fields.keys())) {
    const values = fields.getAll(name).filter((one): one is string => typeof one === 'string');
    const filled = values.map((one) => one.trim()).filter((one) => one !== '');
    if (name.endsWith('[]')) body[name.slice(0, -2)] = filled;
    else if (filled[0] !== undefined) body[name] = filled[0];
  }
  return body;
}

/** Says that something was done, for screens that have no more to say. */
export function tellDone(sentence: string): void {
  tell({ kind: 'accepted', heading: sentence, sound: 'accepted' });
}
