import { tellDone } from '../lib/form.js';
import { byId, words } from '../lib/page.js';
import { effectiveFrom, filled } from './fields.js';
import { readPrompts } from './read-prompts.js';
import { sendsDraft } from './send.js';

const own = words.catalogue;

/** Makes the form grow, shrink and reorder, and send the draft as it stands. */
export function readySpecification(form: HTMLFormElement): void {
  const prompts = byId('prompts');
  numberPrompts(prompts);
  byId('add-prompt').addEventListener('click', () => {
    focusIn(append(prompts, 'new-prompt'));
    numberPrompts(prompts);
  });
  prompts.addEventListener('click', (event) => {
    const pressed = (event.target as HTMLElement).closest<HTMLButtonElement>('[data-act]');
    if (pressed) act(pressed, prompts);
  });
  prompts.addEventListener('input', (event) => {
    const part = (event.target as HTMLElement).closest<HTMLElement>('.characteristic');
    if (part) nameCharacteristic(part);
  });
  sendsDraft<{ id: number }>(form, () => ({
    address: form.dataset.address ?? '',
    version: form.dataset.version,
    body: () => bodyOf(form, prompts),
    done: ({ id }) => location.assign(`/catalogue/specifications/${id}`),
  }));
}

function bodyOf(form: HTMLFormElement, prompts: HTMLElement): object {
  const fields = new FormData(form);
  return {
    model: form.dataset.model,
    note: filled(fields.get('note')) ?? '',
    effectiveFrom: effectiveFrom(fields),
    prompts: readPrompts(prompts),
  };
}

/** Adds a fresh copy of a template at the end of a place. */
function append(place: Element, template: string): HTMLElement {
  const copy = byId<HTMLTemplateElement>(template).content.firstElementChild?.cloneNode(true);
  const made = copy as HTMLElement;
  place.append(made);
  return made;
}

function act(pressed: HTMLButtonElement, prompts: HTMLElement): void {
  const part = pressed.closest<HTMLElement>('.characteristic, .prompt');
  if (!part) return;
  if (pressed.dataset.act === 'add') add(part);
  else if (pressed.dataset.act === 'remove') remove(part);
  else move(part, pressed);
  numberPrompts(prompts);
}

function add(prompt: HTMLElement): void {
  const place = prompt.querySelector('.characteristics');
  if (!place) return;
  const made = append(place, 'new-characteristic');
  made.setAttribute('open', '');
  made.querySelector<HTMLElement>('[data-member="code"]')?.focus();
}

/** The focus goes to what stands next, or it would be lost with what is gone. */
function remove(part: HTMLElement): void {
  const title = part.querySelector('summary, legend')?.textContent ?? '';
  const next = part.nextElementSibling ?? part.previousElementSibling;
  const up = part.parentElement?.closest<HTMLElement>('.prompt');
  part.remove();
  if (next) focusIn(next as HTMLElement);
  else if (up) up.querySelector<HTMLElement>('[data-act="add"]')?.focus();
  else byId('add-prompt').focus();
  tellDone(own.form.removed(title));
}

function move(part: HTMLElement, pressed: HTMLButtonElement): void {
  const before = part.previousElementSibling;
  const after = part.nextElementSibling;
  if (pressed.dataset.act === 'up') before?.before(part);
  else after?.after(part);
  pressed.focus();
}

function focusIn(part: HTMLElement): void {
  part.querySelector<HTMLElement>('summary, textarea, input')?.focus();
}

function numberPrompts(prompts: HTMLElement): void {
  for (const [i, legend] of [...prompts.querySelectorAll('legend')].entries()) {
    legend.textContent = own.promptPlace(i + 1);
  }
}

/** A characteristic bears its code and name, and shows the fields of its kind. */
function nameCharacteristic(part: HTMLElement): void {
  const textOf = (member: string) =>
    part.querySelector<HTMLInputElement>(`[data-member="${member}"]`)?.value ?? '';
  part.dataset.kind = textOf('kind');
  const named = [textOf('code'), textOf('name')].filter((one) => one !== '').join(': ');
  const summary = part.querySelector('summary');
  if (summary) summary.textContent = named === '' ? own.form.newCharacteristic : named;
}
