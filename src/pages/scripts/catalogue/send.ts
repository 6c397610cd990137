import { clearAnswer, tellProblem, tellUnanswered } from '../lib/answer.js';
import { command, type ProblemDocument } from '../lib/api.js';
import { element } from '../lib/dom.js';
import { words } from '../lib/page.js';

interface Sending<T> {
  address: string;
  /** The version of the draft that is edited; where given, the draft is put in its place. */
  version?: string | undefined;
  body: () => unknown;
  done: (body: T) => void | Promise<void>;
}

/** Sends a form as a command; what the service finds at fault stands at the fields it is about. */
export function sendsDraft<T>(form: HTMLFormElement, sending: () => Sending<T>): void {
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    if (form.getAttribute('aria-busy') === 'true') return;
    form.setAttribute('aria-busy', 'true');
    const { address, version, body, done } = sending();
    clearFaults(form);
    clearAnswer();
    const answer = version
      ? await command<T>(address, body(), 'PUT', { 'If-Match': `"v${version}"` })
      : await command<T>(address, body());
    form.setAttribute('aria-busy', 'false');
    if (answer.kind === 'refused') await showRefusal(form, answer.problem);
    else if (answer.kind === 'unanswered') tellUnanswered(answer, [words.network.sendAgain]);
    else await done(answer.body);
  });
}

async function showRefusal(form: HTMLFormElement, problem: ProblemDocument): Promise<void> {
  const { marked, elsewhere } = markFaults(form, problem);
  const [first] = marked;
  const more = marked.length > 0 ? [words.catalogue.form.faults(marked.length)] : [];
  // What stands at its field need not be said a second time, by its pointer.
  await tellProblem({ ...problem, errors: elsewhere }, more);
  if (!first) return;
  first.closest('details')?.setAttribute('open', '');
  first.focus();
}

type Field = HTMLElement;

type Faults = NonNullable<ProblemDocument['errors']>;

/**
 * Says each fault at the field that it is about.
 * @returns these fields in their order, and the faults that are about none
 */
function markFaults(
  form: HTMLFormElement,
  { errors = [] }: ProblemDocument,
): { marked: Field[]; elsewhere: Faults } {
  const fields = [...form.querySelectorAll<Field>('[data-pointer]')];
  const marked = new Set<Field>();
  const elsewhere: Faults = [];
  for (const fault of errors) {
    const field = fault.pointer === undefined ? undefined : fieldFor(fields, fault.pointer);
    if (field) {
      marked.add(field);
      say(field, fault.detail);
    } else elsewhere.push(fault);
  }
  return { marked: fields.filter((field) => marked.has(field)), elsewhere };
}

/** The field that a pointer (RFC 6901) is about: the nearest one above it, where it has none. */
function fieldFor(fields: readonly Field[], pointer: string): Field | undefined {
  const above = fields.filter((field) => {
    const own = field.dataset.pointer ?? '';
    return pointer === own || pointer.startsWith(`${own}/`);
  });
  return above.sort((a, b) => lengthOf(b) - lengthOf(a))[0];
}

function lengthOf(field: Field): number {
  return field.dataset.pointer?.length ?? 0;
}

let said = 0;

function say(field: Field, detail: string): void {
  said += 1;
  const id = `fault-${said}`;
  const described = field.getAttribute('aria-describedby');
  if (field.dataset.described === undefined) field.dataset.described = described ?? '';
  field.setAttribute('aria-invalid', 'true');
  field.setAttribute('aria-describedby', described ? `${described} ${id}` : id);
  field.after(element('span', { class: 'fault', id }, detail));
  field.closest('details')?.setAttribute('open', '');
}

function clearFaults(form: HTMLFormElement): void {
  for (const one of form.querySelectorAll('.fault')) one.remove();
  for (const field of form.querySelectorAll<Field>('[aria-invalid]')) {
    field.removeAttribute('aria-invalid');
    const described = field.dataset.described ?? '';
    if (described === '') field.removeAttribute('aria-describedby');
    else field.setAttribute('aria-describedby', described);
    delete field.dataset.described;
  }
}
