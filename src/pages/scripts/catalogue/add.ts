import { tellDone } from '../lib/form.js';
import { words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { attributesOf, filled, numberOf } from './fields.js';
import { sendsDraft } from './send.js';

const own = words.catalogue;

/** Makes a form add a model or a part revision; the tables then show it. */
export function readyToAdd(form: HTMLFormElement): void {
  const text = (name: string) => filled(new FormData(form).get(name));
  const attributes = () => attributesOf(text('attributes'));
  if (form.id === 'model-form') {
    sendsDraft<{ code: string }>(form, () => ({
      address: '/v1/models',
      body: () => ({
        code: text('code'),
        name: text('name'),
        ratedPowerKw: numberOf(text('ratedPowerKw')),
        attributes: attributes(),
      }),
      done: ({ code }) => added(form, own.modelAdded(code)),
    }));
    return;
  }
  sendsDraft<{ number: string; revision: string }>(form, () => ({
    address: '/v1/parts',
    body: () => ({
      number: text('number'),
      revision: text('revision'),
      name: text('name'),
      tracking: text('tracking'),
      class: text('class'),
      gtin: text('gtin'),
      attributes: attributes(),
    }),
    done: ({ number, revision }) => added(form, own.partAdded(number, revision)),
  }));
}

async function added(form: HTMLFormElement, sentence: string): Promise<void> {
  form.reset();
  tellDone(sentence);
  await refresh(['models-table', 'parts-table']);
}
