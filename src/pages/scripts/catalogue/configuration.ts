import { tell } from '../lib/answer.js';
import { words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { attributesOf, effectiveFrom, filled } from './fields.js';
import { sendsDraft } from './send.js';

const own = words.catalogue;

interface Configuration {
  id: number;
  version: number;
}

/** Makes the form draft a configuration, or edit the draft that the page shows. */
export function readyConfiguration(form: HTMLFormElement): void {
  sendsDraft<Configuration>(form, () => ({
    address: form.dataset.address ?? '',
    version: form.dataset.version,
    body: () => bodyOf(form),
    done: async ({ id, version }) => {
      if (!form.dataset.version) {
        location.assign(`/catalogue/configurations/${id}`);
        return;
      }
      form.dataset.version = String(version);
      tell({
        kind: 'accepted',
        heading: own.saved(version),
        body: [own.savedWhy],
        sound: 'accepted',
      });
      await refresh(['of-configuration']);
    },
  }));
}

function bodyOf(form: HTMLFormElement): object {
  const fields = new FormData(form);
  const text = (name: string) => filled(fields.get(name));
  return {
    code: text('code'),
    model: form.dataset.model,
    powerheadNumber: text('powerheadNumber'),
    powerheadRevision: text('powerheadRevision') ?? null,
    lowerUnitNumber: text('lowerUnitNumber'),
    lowerUnitRevision: text('lowerUnitRevision') ?? null,
    attributes: attributesOf(text('attributes')) ?? {},
    discontinued: fields.has('discontinued'),
    effectiveFrom: effectiveFrom(fields),
  };
}
